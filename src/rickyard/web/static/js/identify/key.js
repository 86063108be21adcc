// @ts-check
/**
 * The twin of rickyard.identify on the phone: the same tables, the same method, the same answers without signal.
 * Where and why are written there; sums run in the same order, and ties are told in whole grains (`grains`).
 */

/** @typedef {{character: string, states: string[], doubt?: number}} Answer */
/** @typedef {{region?: string | null, counts?: Record<string, number>, street?: boolean}} Prior */
/** @typedef {{id: string, situations: string, block: string, error: number, effort: number, states: string[], at: number, start: number}} Character */
/** @typedef {{keyId: string, id: string, group: string, genus: string, regions: string, planted: number}} Species */
/** @typedef {{character: string, gainBits: number, score: number, settles: boolean}} Look */
/** @typedef {{answers: Answer[], asked: Set<string>, species: number[], notListed: number, rows: number[], q: number[][], ranking: number[]}} Posterior */
/** @typedef {{level: "species" | "group" | "undecided", name: string, probability: number, species: string[], elsewhere: string | null, stop: boolean}} Verdict */
/** @typedef {[number, ...number[]] | 0} Cell */
/**
 * @typedef {{constants: any, situations: Record<string, string>, regions: string[], cells: Cell[][], columns: number[][],
 *   characters: [string, string, string, number, number, string[]][], variants: [string, number, number][],
 *   species: [string, string, string, string, string, number][], pairs: [number, number, number[]][]}} Packed
 */

const SHOWN = 5;

/** @param {number} value */
const logged = (value) => (value > 0 ? value * Math.log(value) : 0);

/** @param {Cell} cell @param {number} width @param {number} notApplicable */
function chances(cell, width, notApplicable) {
  if (cell === 0) return Array(width).fill(notApplicable);
  const [eps, ...weights] = cell;
  let total = 0;
  for (const weight of weights) total += weight;
  const bare = weights.filter((weight) => !weight).length;
  if (!bare) return weights.map((weight) => weight / total);
  return weights.map((weight) => (weight ? ((1 - eps) * weight) / total : eps / bare));
}

export class Key {
  /** @param {Packed} packed */
  constructor(packed) {
    this.set = packed.constants;
    this.situations = packed.situations;
    this.regions = packed.regions;
    this.variants = packed.variants;
    this.pairs = packed.pairs;
    let start = 0;
    /** @type {Character[]} */
    this.characters = packed.characters.map(([id, situations, block, error, effort, states], at) => {
      const made = { id, situations, block, error, effort, states, at, start };
      start += states.length;
      return made;
    });
    this.width = start;
    /** @type {Map<string, Character>} */
    this.at = new Map(this.characters.map((character) => [character.id, character]));
    /** @type {Species[]} */
    this.species = packed.species.map(([keyId, id, group, genus, regions, planted]) => ({ keyId, id, group, genus, regions, planted }));
    const rows = this.species.length + this.variants.length;
    /** Of which species a row is. */
    this.owner = [...this.species.keys(), ...this.variants.map(([, owner]) => owner)];
    /** @type {number[][]} */
    this.p = Array.from({ length: rows }, () => []);
    /** @type {boolean[][]} */
    this.applicable = Array.from({ length: rows }, () => []);
    this.characters.forEach(({ states }, at) => {
      const made = packed.cells[at].map((cell) => chances(cell, states.length, this.set.notApplicable));
      const unknown = states.map(() => 1 / states.length);
      for (let row = 0; row < rows; row++) {
        const cell = packed.columns[at][row];
        this.p[row].push(...(cell < 0 ? unknown : made[cell]));
        this.applicable[row].push(cell < 0 || packed.cells[at][cell] !== 0);
      }
    });
    this.usual = this.#expected(this.p.slice(0, this.species.length));
    /** Gains are asked for twice a query. @type {WeakMap<Posterior, number[]>} */
    this.gained = new WeakMap();
  }

  /** @param {number} value */
  grains(value) {
    return Math.floor(value / this.set.grain + 0.5);
  }

  /** @param {Answer} answer */
  #character(answer) {
    const found = this.at.get(answer.character);
    if (!found || answer.states.some((state) => !found.states.includes(state))) throw new RangeError(JSON.stringify(answer));
    return found;
  }

  /** @param {Prior} prior */
  #prior({ region = null, counts = {}, street = false }) {
    const place = region === null ? -1 : this.regions.indexOf(region);
    const weights = this.species.map((species) => {
      let weight = place < 0 ? 1 : (this.set.region[species.regions[place]] ?? this.set.region[""]);
      if (street) weight = species.planted ? this.set.planted : weight ** this.set.streetPower;
      return weight * (1 + (counts[species.keyId] ?? 0));
    });
    const whole = weights.reduce((sum, weight) => sum + weight, 0);
    const rows = [...weights.map((weight) => weight / whole), ...this.variants.map(() => 0)];
    if (street) {
      this.variants.forEach(([, owner, share], place) => {
        const part = (weights[owner] / whole) * share;
        rows[weights.length + place] = part;
        rows[owner] -= part;
      });
    }
    return rows;
  }

  /**
   * How probable each tree is.
   * @param {Answer[]} answers @param {Prior} [prior] @param {number} [exponent] @returns {Posterior}
   */
  posterior(answers, prior = {}, exponent = 1) {
    const every = answers
      .map((answer) => ({ ...answer, at: this.#character(answer).at }))
      .sort((a, b) => a.at - b.at);
    const telling = every.filter(({ at, states }) => new Set(states).size < this.characters[at].states.length);
    const inBlock = this.#inBlock(telling);
    const logs = this.#prior(prior).map((share) => Math.log(share) + Math.log(1 - this.set.notListed));
    let other = Math.log(this.set.notListed);
    const q = telling.map(({ at, states, doubt = 0 }) => {
      const character = this.characters[at];
      const width = character.states.length;
      const columns = character.states.flatMap((state, place) => (states.includes(state) ? [character.start + place] : []));
      const wrong = Math.min(character.error + (1 - character.error) * doubt, this.set.mostError);
      const weight = exponent / Math.sqrt(/** @type {number} */ (inBlock.get(character.block)));
      other += weight * Math.log(columns.length / width);
      return this.p.map((p, row) => {
        let named = 0;
        for (const column of columns) named += p[column];
        const likely = (1 - wrong) * named + (wrong * columns.length) / width;
        logs[row] += weight * Math.log(likely);
        return likely;
      });
    });
    const top = Math.max(other, ...logs);
    const rows = logs.map((log) => Math.exp(log - top));
    const rest = Math.exp(other - top);
    const whole = rows.reduce((sum, share) => sum + share, 0) + rest;
    const species = this.species.map(() => 0);
    rows.forEach((share, row) => {
      rows[row] = share / whole;
      species[this.owner[row]] += rows[row];
    });
    const grains = species.map((share) => this.grains(share));
    const ranking = [...species.keys()].sort((a, b) => grains[b] - grains[a] || a - b);
    return { answers: telling, asked: new Set(every.map((one) => one.character)), species, notListed: rest / whole, rows, q, ranking };
  }

  /** @param {Answer[]} answers */
  #inBlock(answers) {
    /** @type {Map<string, number>} */
    const count = new Map();
    for (const answer of answers) {
      const { block } = this.#character(answer);
      count.set(block, (count.get(block) ?? 0) + 1);
    }
    return count;
  }

  /** Chance of each answer that names one state by species and by "not in this list", and q log q. @param {number[][]} table */
  #expected(table) {
    const wild = this.characters.flatMap(({ states }) => states.map(() => 1 / states.length));
    const errors = this.characters.flatMap(({ states, error }) => states.map(() => error));
    const q = [...table, wild].map((p) => p.map((share, column) => (1 - errors[column]) * share + errors[column] * wild[column]));
    return { q, logs: q.map((row) => row.map(logged)) };
  }

  /** @param {Posterior} post */
  #table(post) {
    const count = this.species.length;
    if (!post.rows.slice(count).some((share) => share > 0)) return this.usual;
    const table = this.p.slice(0, count);
    for (const owner of new Set(this.variants.map(([, of]) => of))) {
      if (!(post.species[owner] > 0)) continue;
      const mine = [...this.owner.keys()].filter((row) => this.owner[row] === owner);
      table[owner] = table[owner].map((_, column) => mine.reduce((sum, row) => sum + (post.rows[row] / post.species[owner]) * this.p[row][column], 0));
    }
    return this.#expected(table);
  }

  /** Gain in bits of every character. @param {Posterior} post */
  #gains(post) {
    const shares = [...post.species, post.notListed];
    const { q, logs } = this.#table(post);
    const seen = Array(this.width).fill(0);
    const told = Array(this.width).fill(0);
    let entropy = 0;
    shares.forEach((share, row) => {
      const own = logged(share);
      entropy -= own;
      for (let column = 0; column < this.width; column++) {
        seen[column] += share * q[row][column];
        told[column] += own * q[row][column] + share * logs[row][column];
      }
    });
    const least = this.grains(Math.min(this.set.inPlay, 0.5 * Math.max(...post.species)));
    const inPlay = [...post.species.keys()].filter((row) => this.grains(post.species[row]) > least);
    return this.characters.map(({ at, start, states }) => {
      if (!inPlay.some((row) => this.applicable[row][at])) return 0;
      let gain = 0;
      for (let column = start; column < start + states.length; column++) {
        gain += entropy * seen[column] + told[column] - logged(seen[column]);
      }
      return gain / Math.LN2;
    });
  }

  /** The place in `pairs` of the two leading species, if they are look-alikes that hold enough; else -1. @param {Posterior} post */
  leadingPair(post) {
    const [first, second] = post.ranking;
    if (this.grains(post.species[first] + post.species[second]) <= this.grains(this.set.pairLeads)) return -1;
    return this.pairs.findIndex(([a, b]) => (a === first && b === second) || (a === second && b === first));
  }

  /**
   * The looks that tell most, the best first.
   * @param {Posterior} post @param {string[]} [situations] @param {{notSeen?: string[], limit?: number}} [options]
   * @returns {Look[]}
   */
  nextLooks(post, situations = [], { notSeen = [], limit = 3 } = {}) {
    const letters = situations.map((name) => this.situations[name]);
    const settling = this.pairs[this.leadingPair(post)]?.[2] ?? [];
    const bare = letters.length > 0 && letters.every((letter) => "de".includes(letter));
    const inBlock = this.#inBlock(post.answers);
    const gains = this.gained.get(post) ?? this.#gains(post);
    this.gained.set(post, gains);
    const found = this.characters
      .filter(
        ({ id, at, situations: where }) =>
          !post.asked.has(id) &&
          !notSeen.includes(id) &&
          (!letters.length || letters.some((letter) => where.includes(letter))) &&
          this.grains(gains[at]) >= this.grains(this.set.leastGain),
      )
      .map(({ id, at, block, effort }) => {
        const score = gains[at] / Math.sqrt((inBlock.get(block) ?? 0) + 1) / effort;
        const turn = bare ? this.set.lensFirst.indexOf(id) : -1;
        return { at, turn: turn < 0 ? this.set.lensFirst.length : turn, look: { character: id, gainBits: gains[at], score, settles: settling.includes(at) } };
      });
    found.sort(
      (a, b) =>
        Number(b.look.settles) - Number(a.look.settles) ||
        a.turn - b.turn ||
        this.grains(b.look.score) - this.grains(a.look.score) ||
        a.at - b.at,
    );
    return found.slice(0, limit).map(({ look }) => look);
  }

  /** Probability by trade group or genus, the likeliest first. @param {Posterior} post @param {"group" | "genus"} by */
  summed(post, by) {
    /** @type {Map<string, number>} */
    const sums = new Map();
    this.species.forEach((species, place) => sums.set(species[by], (sums.get(species[by]) ?? 0) + post.species[place]));
    return [...sums]
      .map(([name, probability], place) => ({ name, probability, place }))
      .sort((a, b) => this.grains(b.probability) - this.grains(a.probability) || a.place - b.place);
  }

  /** Whether each answer fits each species badly. @param {Posterior} post */
  bad(post) {
    return post.answers.map(({ states, character }, answer) => {
      const { length } = /** @type {Character} */ (this.at.get(character)).states;
      const least = (this.set.surprise * new Set(states).size) / length;
      const rows = post.q[answer].map((q) => q < least);
      const found = rows.slice(0, this.species.length);
      rows.slice(found.length).forEach((isBad, place) => {
        if (post.rows[found.length + place] > 0 && !isBad) found[this.owner[found.length + place]] = false;
      });
      return found;
    });
  }

  /** Characters whose answer fits the leading species badly. @param {Posterior} post */
  surprises(post) {
    return this.bad(post).flatMap((bad, answer) => (bad[post.ranking[0]] ? [post.answers[answer].character] : []));
  }

  /** Pairs of answers that fit no tree together, though each fits some. @param {Posterior} post */
  contradictions(post) {
    const bad = this.bad(post);
    const fits = bad.map((row) => row.some((isBad) => !isBad));
    return post.answers.flatMap(({ character }, a) =>
      post.answers.flatMap((other, b) =>
        b > a && fits[a] && fits[b] && bad[a].every((isBad, row) => isBad || bad[b][row]) ? [[character, other.character]] : [],
      ),
    );
  }

  /**
   * What may be said.
   * @param {Posterior} post @param {string[]} [situations] @param {string[]} [notSeen] @returns {Verdict}
   */
  verdict(post, situations = [], notSeen = []) {
    const [first] = post.ranking;
    const named = this.grains(this.set.named);
    const top = post.species[first];
    const id = (/** @type {number} */ row) => this.species[row].id;
    if (this.grains(top) >= named && !this.surprises(post).length) {
      return { level: "species", name: id(first), probability: top, species: [id(first)], elsewhere: null, stop: false };
    }
    const stop = post.asked.size >= this.set.most;
    const elsewhere = this.#elsewhere(post, situations, notSeen);
    for (const by of /** @type {const} */ (["group", "genus"])) {
      const [{ name, probability }] = this.summed(post, by);
      if (this.grains(probability) < named) continue;
      const members = post.ranking.filter((row) => this.species[row][by] === name && post.species[row] >= this.set.inPlay);
      return { level: "group", name, probability, species: members.slice(0, SHOWN).map(id), elsewhere, stop };
    }
    return { level: "undecided", name: "", probability: top, species: post.ranking.slice(0, SHOWN).map(id), elsewhere, stop };
  }

  /** The best look that the present situations do not offer. @param {Posterior} post @param {string[]} situations @param {string[]} notSeen */
  #elsewhere(post, situations, notSeen) {
    if (!situations.length) return null;
    const others = Object.keys(this.situations).filter((name) => !situations.includes(name));
    const here = situations.map((name) => this.situations[name]);
    if (!others.length) return null;
    const looks = this.nextLooks(post, others, { notSeen, limit: this.characters.length });
    const found = looks.find(({ character }) => !here.some((letter) => this.at.get(character)?.situations.includes(letter)));
    return found?.character ?? null;
  }
}
