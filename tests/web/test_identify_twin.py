"""The script that names trees on the phone agrees with the package: shared random queries, both ways of reckoning."""

from __future__ import annotations

import random
from typing import Any

from playwright.sync_api import Page

from rickyard.identify import (
    REGIONS,
    SITUATIONS,
    Answer,
    Key,
    Prior,
    by_group,
    contradictions,
    leading_pair,
    next_looks,
    posterior,
    surprises,
    the_key,
    verdict,
)
from rickyard.web.assets import Assets

QUERIES = 2_000
WITHIN = 1e-9

RUN = """async ([script, table, queries]) => {
  const { Key } = await import(script);
  const key = new Key(await (await fetch(table)).json());
  return queries.map(({ answers, prior, exponent, situations, notSeen }) => {
    const post = key.posterior(answers, prior, exponent);
    return {
      species: [...post.species], notListed: post.notListed, ranking: post.ranking.slice(0, 5),
      looks: key.nextLooks(post, situations, { notSeen }),
      pair: key.leadingPair(post), surprises: key.surprises(post), contradictions: key.contradictions(post),
      verdict: key.verdict(post, situations, notSeen), group: key.summed(post, "group")[0],
    };
  });
}"""


def random_query(key: Key, dice: random.Random) -> dict[str, Any]:
    """Answers of a user who looks at one tree (mostly), errs, doubts, says either/or; or who answers at random."""
    tree = dice.choice(range(len(key.p))) if dice.random() < 0.8 else None
    names = dice.sample(sorted(key.at), dice.choice([0, 1, 2, 3, 4, 5, 6, 8, 12, 20]))
    answers = []
    for name in names:
        states = key.characters[key.at[name]].states
        count = dice.choice([1, 1, 1, 2, len(states)]) if dice.random() < 0.5 else 1
        picked = set(dice.sample(states, min(count, len(states))))
        if tree is not None and dice.random() < 0.9:
            picked.add(states[int(key.p[tree, key.span[name]].argmax())])
            picked = picked if count > 1 else {states[int(key.p[tree, key.span[name]].argmax())]}
        doubt = dice.choice([0.0, 0.0, 0.3, 0.6, dice.random()])
        # States in any order: what comes of it must not depend on it.
        answers.append(
            {"character": name, "states": dice.sample(sorted(picked), len(picked)), "doubt": doubt}
        )
    counts = {s.key_id: dice.randint(0, 40) for s in dice.sample(key.species, dice.choice([0, 0, 3]))}
    return {
        "answers": answers,
        "prior": {
            "region": dice.choice([None, *REGIONS]),
            "counts": counts,
            "street": dice.random() < 0.2,
        },
        "exponent": dice.choice([1.0, 1.0, 0.7, 1.3]),
        "situations": dice.sample(list(SITUATIONS), dice.choice([0, 1, 1, 1, 2, 3])),
        "notSeen": dice.sample(sorted(key.at), dice.choice([0, 0, 4])),
    }


def reckoned(key: Key, query: dict[str, Any]) -> dict[str, Any]:
    """What the package says to a query."""
    answers = [Answer(one["character"], tuple(one["states"]), one["doubt"]) for one in query["answers"]]
    post = posterior(key, answers, Prior(**query["prior"]), exponent=query["exponent"])
    said = verdict(post, query["situations"], not_seen=query["notSeen"])
    pair = leading_pair(post)
    group = by_group(post)[0]
    return {
        "species": post.species.tolist(),
        "notListed": post.not_listed,
        "ranking": post.ranking[:5],
        "looks": [
            (look.character.id, look.gain_bits, look.score, look.settles)
            for look in next_looks(post, query["situations"], not_seen=query["notSeen"])
        ],
        "pair": key.look_alikes.index(pair) if pair else -1,
        "surprises": [post.answers[place].character for place in surprises(post)],
        "contradictions": [list(item.characters) for item in contradictions(post)],
        "verdict": (
            said.level,
            [species.id for species in said.species],
            said.elsewhere.character.id if said.elsewhere else None,
            said.stop,
        ),
        "group": (group.name, group.probability),
    }


def test_the_phone_says_the_same(page: Page) -> None:
    """2,000 random queries: posteriors to 1e-9; next looks, pairs, surprises, contradictions, verdicts the same."""
    key = the_key()
    dice = random.Random(20_261)
    queries = [random_query(key, dice) for _ in range(QUERIES)]
    wanted = [reckoned(key, query) for query in queries]
    assets = Assets()

    page.goto("/offline", timeout=30_000)
    found = page.evaluate(
        RUN, [assets.url("js/identify/key.js"), assets.url("tables/identify.json"), queries]
    )

    for query, ours, theirs in zip(queries, wanted, found, strict=True):
        gaps = [abs(a - b) for a, b in zip(ours["species"], theirs["species"], strict=True)]
        assert max(gaps) < WITHIN, query
        assert abs(ours["notListed"] - theirs["notListed"]) < WITHIN, query
        assert [look[0] for look in ours["looks"]] == [look["character"] for look in theirs["looks"]], query
        for look, other in zip(ours["looks"], theirs["looks"], strict=True):
            assert abs(look[1] - other["gainBits"]) < WITHIN, query
            assert abs(look[2] - other["score"]) < WITHIN, query
            assert look[3] == other["settles"], query
        for same in ("ranking", "pair", "surprises", "contradictions"):
            assert ours[same] == theirs[same], (same, query)
        said = theirs["verdict"]
        assert ours["verdict"] == (said["level"], said["species"], said["elsewhere"], said["stop"]), query
        assert ours["group"][0] == theirs["group"]["name"], query
        assert abs(ours["group"][1] - theirs["group"]["probability"]) < WITHIN, query
    # The draw has met what it is about, so that none of it is compared with nothing.
    assert {ours["verdict"][0] for ours in wanted} == {"species", "group", "undecided"}
    assert sum(bool(ours["surprises"]) for ours in wanted) > 50
    assert sum(bool(ours["contradictions"]) for ours in wanted) > 50
    assert sum(ours["pair"] >= 0 for ours in wanted) > 20
    assert sum(ours["verdict"][3] for ours in wanted) > 20


def test_an_unknown_state_is_refused_on_the_phone_too(page: Page) -> None:
    assets = Assets()
    page.goto("/offline", timeout=30_000)

    said = page.evaluate(
        """async ([script, table]) => {
          const { Key } = await import(script);
          const key = new Key(await (await fetch(table)).json());
          try { key.posterior([{ character: "arr", states: ["sideways"] }]); } catch (error) { return error.name; }
        }""",
        [assets.url("js/identify/key.js"), assets.url("tables/identify.json")],
    )

    assert said == "RangeError"
