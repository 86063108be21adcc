// @ts-check
/**
 * Draws the moisture fan of a stack with uPlot in place of the drawing that the server made.
 * The figures and all words come from the element's `data-fan` address; a tap or the arrow keys read a day off.
 * If anything is missing the server's drawing stays.
 */

/**
 * @typedef {{day: string, mc_wet: number, low: number, high: number, kind: string}} Reading
 * @typedef {{known: boolean, dates: string[], p10: number[], p50: number[], p90: number[], target_mc_wet: number,
 *   ready_first: string | null, ready_last: string | null, today: string, readings: Reading[], words: Record<string, string>}} Fan
 */

const INK = "#1b1a16";
const SPRUCE = "#17402f";
const EMBER = "#86240c";

/** @param {string} day */
const seconds = (day) => Date.parse(`${day}T00:00:00Z`) / 1000;

/** Water over total mass to water over dry mass. @param {number} wet */
const toDry = (wet) => wet / (1 - wet);

/**
 * @param {HTMLElement} place
 * @param {Fan} fan
 */
function draw(place, fan) {
  // @ts-ignore uPlot is a plain script that sets a global.
  const Plot = window.uPlot;
  let dry = false;
  /** @type {any} */
  let plot = null;
  const words = fan.words;
  const days = fan.dates.map(seconds);
  const dayWords = new Intl.DateTimeFormat(words.locale, { dateStyle: "medium", timeZone: "UTC" });
  const monthWords = new Intl.DateTimeFormat(words.locale, { month: "short", timeZone: "UTC" });
  const figures = new Intl.NumberFormat(words.locale, { style: "percent", maximumFractionDigits: 0 });

  const readout = document.createElement("p");
  readout.className = "readout";
  const button = document.createElement("button");
  button.type = "button";
  const chart = document.createElement("div");
  chart.className = "chart chart-live";
  chart.tabIndex = 0;
  chart.setAttribute("role", "img");
  chart.setAttribute("aria-label", place.querySelector("svg")?.getAttribute("aria-label") ?? "");

  /** @param {number} wet */
  const shown = (wet) => (dry ? toDry(wet) : wet);
  const columns = () => {
    const readingAt = new Map(fan.readings.map((reading) => [reading.day, shown(reading.mc_wet)]));
    return [
      days,
      fan.p90.map(shown),
      fan.p10.map(shown),
      fan.p50.map(shown),
      fan.dates.map((day) => readingAt.get(day) ?? null),
    ];
  };

  /** When it becomes dry enough, below everything else. @param {any} u */
  const ground = (u) => {
    if (fan.ready_first === null) return;
    const { left, top, width, height } = u.bbox;
    const from = u.valToPos(seconds(fan.ready_first), "x", true);
    const to = fan.ready_last === null ? left + width : u.valToPos(seconds(fan.ready_last), "x", true);
    const start = Math.min(Math.max(from, left), left + width);
    u.ctx.save();
    u.ctx.fillStyle = "rgba(242, 193, 78, .55)";
    u.ctx.fillRect(start, top, Math.max(2, Math.min(to, left + width) - start), height);
    u.ctx.restore();
  };

  /** Target, today and the spread of readings, over the finished plot. @param {any} u */
  const overlay = (u) => {
    const pen = u.ctx;
    const px = devicePixelRatio;
    const { left, top, width, height } = u.bbox;
    pen.save();
    pen.textAlign = "left";
    pen.font = `600 ${13 * px}px "Atkinson Next", sans-serif`;
    const y = u.valToPos(shown(fan.target_mc_wet), "y", true);
    pen.strokeStyle = EMBER;
    pen.fillStyle = EMBER;
    pen.lineWidth = 2 * px;
    pen.setLineDash([7 * px, 4 * px]);
    pen.beginPath();
    pen.moveTo(left, y);
    pen.lineTo(left + width, y);
    pen.stroke();
    pen.fillText(`${words.target}: ${figures.format(shown(fan.target_mc_wet))}`, left + 6 * px, y + 17 * px);
    pen.setLineDash([]);
    const now = u.valToPos(seconds(fan.today), "x", true);
    if (now >= left && now <= left + width) {
      pen.strokeStyle = INK;
      pen.fillStyle = INK;
      pen.lineWidth = 1.6 * px;
      pen.beginPath();
      pen.moveTo(now, top);
      pen.lineTo(now, top + height);
      pen.stroke();
      const late = now > left + width * 0.8;
      pen.textAlign = late ? "right" : "left";
      pen.fillText(words.today, now + (late ? -6 : 6) * px, top + 14 * px);
    }
    pen.strokeStyle = INK;
    pen.lineWidth = 1.8 * px;
    for (const reading of fan.readings) {
      const x = u.valToPos(seconds(reading.day), "x", true);
      pen.beginPath();
      pen.moveTo(x, u.valToPos(shown(reading.low), "y", true));
      pen.lineTo(x, u.valToPos(shown(reading.high), "y", true));
      pen.stroke();
    }
    pen.restore();
  };

  const todayAt = Math.min(days.length - 1, Math.max(0, fan.dates.indexOf(fan.today)));
  /** Says the day under the finger; today's while there is none. @param {number | null} [at] */
  const tell = (at) => {
    const row = at ?? todayAt;
    /** @type {Record<string, string>} */
    const filled = {
      day: dayWords.format(new Date(days[row] * 1000)),
      mid: figures.format(shown(fan.p50[row])),
      low: figures.format(shown(fan.p10[row])),
      high: figures.format(shown(fan.p90[row])),
      basis: dry ? words.dry : words.wet,
    };
    readout.textContent = words.readout.replace(/\{(\w+)\}/g, (_, name) => filled[name] ?? "");
  };
  const make = () => {
    plot?.destroy();
    const width = chart.clientWidth || place.clientWidth;
    plot = new Plot(
      {
        width,
        height: Math.round(Math.min(420, Math.max(250, width * 0.62))),
        legend: { show: false },
        cursor: { drag: { x: false, y: false }, points: { size: 9 } },
        scales: { x: { time: true }, y: { range: (/** @type {any} */ _u, /** @type {number} */ _low, /** @type {number} */ high) => [0, Math.ceil(high * 10 + 0.2) / 10] } },
        tzDate: (/** @type {number} */ ts) => Plot.tzDate(new Date(ts * 1e3), "UTC"),
        bands: [{ series: [1, 2], fill: "rgba(120, 170, 140, .5)" }],
        axes: [
          {
            stroke: INK,
            font: '600 13px "Atkinson Next", sans-serif',
            grid: { stroke: "#e2dccd", width: 1 },
            space: 54,
            values: (/** @type {any} */ _u, /** @type {number[]} */ splits) =>
              splits.map((split) => {
                const day = new Date(split * 1000);
                return day.getUTCMonth() === 0 ? `${monthWords.format(day)} ${day.getUTCFullYear()}` : monthWords.format(day);
              }),
            splits: () => monthStarts(days[0], days[days.length - 1], width),
          },
          {
            stroke: INK,
            font: '600 13px "Atkinson Next", sans-serif',
            size: 46,
            grid: { stroke: "#e2dccd", width: 1 },
            values: (/** @type {any} */ _u, /** @type {number[]} */ splits) => splits.map((split) => figures.format(split)),
          },
        ],
        series: [
          {},
          { stroke: "#6f9c80", width: 1, points: { show: false } },
          { stroke: "#6f9c80", width: 1, points: { show: false } },
          { stroke: SPRUCE, width: 2.6, points: { show: false } },
          { stroke: INK, paths: () => null, points: { show: true, size: 10, width: 2.2, fill: "#fff", stroke: INK } },
        ],
        hooks: { drawClear: [ground], draw: [overlay], setCursor: [(/** @type {any} */ u) => tell(u.cursor.idx)] },
      },
      columns(),
      chart,
    );
    tell();
    button.textContent = dry ? words.show_wet : words.show_dry;
  };

  // The server's drawing stays for print.
  const drawn = place.querySelector("svg");
  drawn?.classList.add("print-only");
  drawn?.setAttribute("aria-hidden", "true");
  place.append(readout, chart, button);
  button.addEventListener("click", () => {
    dry = !dry;
    make();
  });
  chart.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -7, ArrowRight: 7, Home: -9999, End: 9999 }[event.key];
    if (step === undefined || !plot) return;
    event.preventDefault();
    const at = Math.min(days.length - 1, Math.max(0, (plot.cursor.idx ?? todayAt) + step));
    plot.setCursor({ left: plot.valToPos(days[at], "x"), top: plot.valToPos(shown(fan.p50[at]), "y") });
    tell(at);
  });
  let width = 0;
  new ResizeObserver(() => {
    if (Math.abs(chart.clientWidth - width) > 4) {
      width = chart.clientWidth;
      make();
    }
  }).observe(chart);
  make();
  width = chart.clientWidth;
}

/**
 * First days of months between two moments [s], thinned so that their words do not touch.
 * @param {number} first @param {number} last @param {number} width
 */
function monthStarts(first, last, width) {
  const starts = [];
  const day = new Date(first * 1000);
  day.setUTCDate(1);
  for (;;) {
    day.setUTCMonth(day.getUTCMonth() + 1);
    if (day.getTime() / 1000 > last) break;
    starts.push(day.getTime() / 1000);
  }
  const most = Math.max(2, Math.floor(width / 64));
  const step = Math.ceil(starts.length / most);
  return starts.filter((_, index) => index % step === 0);
}

for (const place of document.querySelectorAll("[data-fan]")) {
  const answer = await fetch(place.getAttribute("data-fan") ?? "", { headers: { Accept: "application/json" } });
  if (!answer.ok) continue;
  /** @type {Fan} */
  const fan = await answer.json();
  if (fan.known && fan.dates.length > 1) draw(/** @type {HTMLElement} */ (place), fan);
}
export {};
