"""How the tree key does on books it was not made from, on its own sources' keys, by review, and by simulation."""

from __future__ import annotations

import csv
from collections import Counter
from math import sqrt
from pathlib import Path

from rickyard.identify import Answer, Prior, posterior, the_key
from rickyard.identify.tables import read_tables

DATA = Path(__file__).resolve().parents[2] / "tests" / "identify" / "data"

Table = dict[str, object]


Z = 1.959964


def wilson(found: int, of: int) -> str:
    """A share with Wilson's interval of 95 %."""
    share = found / of
    middle, half = share + Z * Z / (2 * of), Z * sqrt(share * (1 - share) / of + Z * Z / (4 * of * of))
    low, high = ((middle + side * half) / (1 + Z * Z / of) for side in (-1, 1))
    return f"{share:.3f} ({low:.3f} to {high:.3f})"


def read(name: str) -> list[dict[str, str]]:
    """Rows of a table in tests/identify/data."""
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def tables() -> list[Table]:
    """The tables of this package for docs/accuracy.md."""
    return [
        _walked(), _walked_before(), _books_apart(), _cells(), _reviewed(), _simulated(), _curve(), _why(),
        _drawings(), _trade_facts(), _speed(),
    ]  # fmt: skip


BOOKS = {
    "outside_west_virginia": ("outside", "Brooks, West Virginia Trees, 1920", "NE"),
    "outside_huntington": ("outside", "Huntington, Studies of Trees in Winter, 1901", "NE"),
    "outside_levison": ("outside", "Levison, Studies of Trees, 1914, key to woods", None),
    "keys_illinois": ("own source", "Fuller and others, Forest Trees of Illinois, 1955", "LS"),
    "keys_deam": ("own source", "Deam, Trees of Indiana, 1921", "LS"),
    "keys_dame_brooks": ("own source", "Dame and Brooks, Handbook of the Trees of New England, 1901", "NE"),
    "keys_snow": ("own source", "Snow, The Principal Species of Wood, 1903", None),
    "keys_otis": ("own source", "Otis, Michigan Trees, 1915, keys in summer and winter", "LS"),
    "keys_fernow_roth": ("own source", "Fernow and Roth, 1895, hand-lens key in Noyes 1912", None),
}
"""Tables of answers by book: whether any cell was taken from it, and the region that its trees grow in."""

OUTSIDE = tuple(name for name, (kind, _, _) in BOOKS.items() if kind == "outside")


TOGETHER = "together"
"""All that a book says of a standing tree, of which it says something in two situations or more."""


def _paths(name: str) -> dict[tuple[str, str, str], tuple[set[str], list[Answer]]]:
    """The queries of a table of answers: which trees are right, and the answers."""
    found: dict[tuple[str, str, str], tuple[set[str], list[Answer]]] = {}
    for row in read(f"{name}.csv"):
        right = set(row.get("accepted", row["key_id"]).split("|"))
        place = (row["situation"], row["key_id"], row["page"] if "accepted" in row else "")
        answer = Answer(row["character"], tuple(row["states"].split("|")), float(row["doubt"]))
        found.setdefault(place, (right, []))[1].append(answer)
    return found


def _together(
    of: dict[tuple[str, str, str], tuple[set[str], list[Answer]]],
) -> dict[tuple[str, str, str], tuple[set[str], list[Answer]]]:
    """By tree all that is said of it standing, each character once; its wood is not seen."""
    said: dict[str, dict[str, Answer]] = {}
    seen: dict[str, set[str]] = {}
    for (situation, key_id, _), (_, answers) in of.items():
        if situation != "wood":
            seen.setdefault(key_id, set()).add(situation)
            for answer in answers:
                said.setdefault(key_id, {}).setdefault(answer.character, answer)
    return {
        (TOGETHER, key_id, ""): ({key_id}, list(answers.values()))
        for key_id, answers in said.items()
        if len(seen[key_id]) > 1
    }


def _tally(name: str, region: str | None, among: bool) -> dict[str, tuple[int, int, int]]:
    """By situation: queries, right first, right among three; `among` the trees that the book treats, or of all."""
    key, paths = the_key(), _paths(name)
    paths |= _together(paths)
    treated: dict[str, set[str]] = {}
    for (situation, _, _), (right, _) in paths.items():
        treated.setdefault(situation, set()).update(right)
    found: dict[str, tuple[int, int, int]] = {}
    for (situation, _, _), (right, answers) in paths.items():
        ranking = [key.species[at].key_id for at in posterior(key, answers, Prior(region=region)).ranking]
        three = [one for one in ranking if not among or one in treated[situation]][:3]
        asked, first, hit = found.get(situation, (0, 0, 0))
        found[situation] = (asked + 1, first + (three[0] in right), hit + bool(right & set(three)))
    return found


def _walked() -> Table:
    rows = []
    for name, (kind, book, region) in BOOKS.items():
        ways: list[tuple[str, str | None, bool]] = [("flat", None, False), ("its own trees", None, True)]
        if region:
            ways.insert(1, (region, region, False))
        rows += [
            [book, kind, situation, what, str(asked), wilson(first, asked), wilson(three, asked)]
            for what, prior, among in ways
            for situation, (asked, first, three) in _tally(name, prior, among).items()
        ]
    return {
        "title": "Tree key: books walked through it",
        "source": "tests/identify/data/SOURCES.md says how the answers were made",
        "note": "All answers that a book gives for a tree, at once; shares with 95 % intervals (Wilson). "
        "“Outside”: no cell was taken from it. “Together”: all that a book says of leaf, twig, fruit and bark, "
        "as before a standing tree. Prior: flat over all species, of the region where the book's trees grow (what "
        "a user there gives with --region), or “its own trees”: flat over the trees that the book treats, which is "
        "what its own reader chooses among. Wanted of an outside book by situation: first in 0.85, among three in "
        "0.97; of the own sources among three in 0.97. What counts is the flat prior, situation by situation: it "
        "is the hardest, since trees from the other end of the country compete, and no choice was made in it. "
        "Counted so both are reached in leaf: West Virginia Trees, 76 species, walked before any cell was changed for "
        "it, and still after another book was mined. Huntington's winter twigs miss first by four trees and among "
        "three by one. What West Virginia Trees says in winter is fruit, bark and outline: it describes no twigs. "
        "Wood (Levison) misses by some, and bark alone or colour and heft of wood alone by far, since two or three "
        "answers do not part 156 trees. The prior of a region lowers some shares, because it thinks rare trees rare "
        "and a book asks each tree once. Of the own sources the hand-lens key misses 0.97 by one wood (green ash "
        "after rock elm and other ashes, sweet gum after the cherries and plums). Deam and Illinois in winter are what "
        "summer manuals say of twig, bud, fruit and bark; Snow, Illinois and West Virginia in wood give colour, heft "
        "and little else.",
        "columns": ["book", "kind", "situation", "prior", "asked", "first", "among three"],
        "rows": rows,
    }


def _walked_before() -> Table:
    rows = []
    for asked_in, file, names in (
        ("third", "walked_before.csv", ("outside_deam",)),
        ("fourth", "walked_again.csv", ("outside_illinois", *OUTSIDE)),
    ):
        for row in read(file):
            name = row["table"]
            if name in names:
                asked, first, three = (int(row[what]) for what in ("asked", "first", "among_three"))
                book = BOOKS[name if name in BOOKS else name.replace("outside", "keys")][1]
                shares = [wilson(first, asked), wilson(three, asked)]
                rows.append([book, asked_in, row["situation"], row["prior"], str(asked), *shares])
    return {
        "title": "Tree key: outside books before they were mined",
        "source": "tests/identify/data/walked_before.csv and walked_again.csv; tests/identify/data/SOURCES.md has "
        "the earlier rounds",
        "note": "The walks as they came out on 2026-11-26 before the third and the fourth round of changes, when none "
        "of these books had given a cell: this is what the key did on books it had not seen. Deam's was mined after "
        "Forest Trees of Illinois had been walked, and that one after West Virginia Trees. Huntington and Levison "
        "were not mined, because no other book on winter twigs and no other key to woods was at hand to take their "
        "place.",
        "columns": ["book", "before round", "situation", "prior", "asked", "first", "among three"],
        "rows": rows,
    }


def _books_apart() -> Table:
    """How often one book's sure word is none of the states that another one's sourced cell lists."""
    key, rows = the_key(), []
    listed: dict[tuple[str, str], set[str]] = {}
    for row in read_tables()["species_characters"]:
        if row["basis"] == "source":
            listed.setdefault((row["species_id"], row["character_id"]), set()).add(row["state_id"])
    for name in OUTSIDE:
        counts: Counter[str] = Counter()
        apart: Counter[str] = Counter()
        seen = set()
        for (_, species, entry), (right, answers) in _paths(name).items():
            for answer in answers:
                states = set().union(*(listed.get((one, answer.character), set()) for one in right))
                place = (species, entry, answer.character)
                if answer.doubt or place in seen or not states:
                    continue
                seen.add(place)
                counts[answer.character] += 1
                apart[answer.character] += not states & set(answer.states)
        rows += [
            [BOOKS[name][1], character, str(count), str(apart[character]), f"{apart[character] / count:.2f}",
             f"{key.characters[key.at[character]].error:.2f}"]
            for character, count in counts.most_common() if count >= 15
        ]  # fmt: skip
    return {
        "title": "Tree key: where an outside book and a sourced cell speak against one another",
        "source": "as above; answers given without doubt, characters with 15 or more",
        "note": "Apart: none of the states answered stands in the cell, not even as rare. Books stay apart less "
        "often than the error says an observer does, and whoever wrote the answers knew which tree it was and "
        "took a doubtful word for either state, so this is no measure of observers; the error stays judgement "
        "until the yard has records. It says that what an outside book misses, it misses because its words "
        "fit several trees, seldom because a cell speaks against them.",
        "columns": ["book", "character", "answers", "apart", "share", "observer error"],
        "rows": rows,
    }


def _reviewed() -> Table:
    rows = []
    for name, what in (("review", "first draw, before mending"), ("review_second", "fresh draw, after")):
        tally = Counter(row["verdict"] for row in read(f"{name}.csv"))
        whole = sum(tally.values()) - tally["unread"]
        rows += [
            [what, verdict, str(tally[verdict]), wilson(tally[verdict], whole)]
            for verdict in ("right", "wrong", "not found")
        ]
        either = tally["wrong"] + tally["not found"]
        rows.append([what, "wrong or not found", str(either), wilson(either, whole)])
        rows.append([what, "unread", str(tally["unread"]), ""])
    return {
        "title": "Tree key: cells drawn by a seed and read again in their sources",
        "source": "tests/identify/data/review.csv and review_second.csv: page, claim in our words, verdict",
        "note": "Share of those whose source was read. What was found wrong is mended since. The fresh draw leaves "
        "out the cells of the first; another reader read it in the Michigan manual, its keys to genera, the "
        "hand-lens key and Sargent. Noyes, Apgar and what stands in slides and leaflets were not opened for it "
        "and count as unread, so its rate does not speak for their cells.",
        "columns": ["draw", "verdict", "cells", "share"],
        "rows": rows,
    }


def _cells() -> Table:
    rows = read_tables()["species_characters"]
    bases = {
        "source": "a named text states it",
        "genus": "a text states it for the genus or group",
        "memory": "from memory, nothing read",
        "assumed": "the ordinary state, because the texts read mention no other",
        "logic": "the part does not exist",
    }
    cells: dict[str, set[tuple[str, str]]] = {basis: set() for basis in bases}
    for row in rows:
        cells[row["basis"]].add((row["species_id"], row["character_id"]))
    whole = sum(len(found) for found in cells.values())
    return {
        "title": "Tree key: what its cells rest on",
        "source": "src/rickyard/identify/data; a cell is one character of one species",
        "note": "",
        "columns": ["basis", "meaning", "cells", "share"],
        "rows": [
            [basis, bases[basis], str(len(found)), f"{100 * len(found) / whole:.0f} %"]
            for basis, found in cells.items()
        ],
    }


def _simulated() -> Table:
    rows = read("simulation.csv")
    return {
        "title": "Tree key: simulated users",
        "source": "scripts/simulate_identify.py, users who answer by the table itself, errors included; "
        f"seed {rows[0]['seed']}, {rows[0]['species']} species",
        "note": "This checks the machinery; it is no evidence that the table is right. A tree is named at 0.8 or"
        " more without a surprising answer. “Said” counts names and groups. One wrong of six: six looks "
        "answered truly but for one that no text read allows; how often the tree is among the first "
        "three. Wanted: right when named 0.95 or more, calibration error 0.05 or less over all "
        "situations, one wrong of six 0.90 or more in leaf and in winter; what misses stands here too. "
        "The second exponent is what a yard would fit from 450 confirmed records of simulated users; the "
        "key's own is 1. In single situations a share of few named trees is little known (splits name one in "
        "thirteen), and splits and cut ends alone stay the most cautious.",
        "columns": [
            "situation", "exponent", "runs", "questions", "right", "in first three", "group right", "named",
            "right when named", "said", "right when said", "calibration error", "one wrong of six",
        ],
        "rows": [
            [
                row["situations"], row["exponent"], row["runs"], row["questions"], row["right"], row["top_three"],
                row["group_right"], row["named"], row["right_when_named"], row["group_or_named"],
                row["right_when_said"], row["ece"],
                "" if row["one_wrong_top_three"] == "nan" else row["one_wrong_top_three"],
            ]
            for row in rows
        ],
    }  # fmt: skip


def _curve() -> Table:
    return {
        "title": "Tree key: stated and true, simulated users",
        "source": "as above, all situations together",
        "note": "Probability stated for the leading species when the user stops, and how often it is right.",
        "columns": ["exponent", "stated from", "to", "runs", "mean stated", "right"],
        "rows": [
            [row["exponent"], f"{float(row['low']):.1f}", f"{float(row['high']):.1f}", row["count"],
             row["stated"], row["right"]]
            for row in read("simulation_reliability.csv")
        ],
    }  # fmt: skip


def _why() -> Table:
    return {
        "title": "Tree key: where stated and true part, simulated users",
        "source": "python scripts/simulate_identify.py --why, as above, a third of the runs, all situations",
        "note": "The key's cautions are taken away one after another. Users draw every character by itself, so the "
        "last line is the world that plain Bayes presumes, and there the error is what chance leaves: the "
        "machinery is right. Answers of one block count for less because they repeat the same evidence; the "
        "users' do not, so that the key is more cautious with them than it need be. It was far too cautious while "
        "rays and resin canals stood in one block with pores, inner bark with outer, sapwood with colour, though "
        "they are different tissues: these stand apart now (docs/architecture.md). A second look at an answer "
        "that surprises works the other way, since answers that suit the leader are not looked at again.",
        "columns": ["the key", "runs", "mean stated", "right", "calibration error", "right when named"],
        "rows": [
            [row["way"], row["runs"], row["stated"], row["right"], row["ece"], row["right_when_named"]]
            for row in read("simulation_why.csv")
        ],
    }


def _drawings() -> Table:
    rows = read("drawings_matched.csv")
    right = [
        row
        for row in rows
        if (row["named_character"], row["named_state"]) == (row["character"], row["state"])
    ]
    redrawn = sum(row["after"] == "redrawn" for row in rows)
    return {
        "title": "Tree key: drawings matched without captions",
        "source": "tests/identify/data/drawings_matched.csv says how",
        "note": "A reader who had not drawn them named each of the shuffled drawings: character and state. "
        "Wanted: 0.90.",
        "columns": ["drawings", "named rightly", "share", "redrawn since"],
        "rows": [[str(len(rows)), str(len(right)), wilson(len(right), len(rows)), str(redrawn)]],
    }


def _trade_facts() -> Table:
    """Black locust and honey-locust by bark alone and by wood alone, as woodcutters tell them apart."""
    asked = {
        "bark: a mesh of crossing, thick ribs": (
            "rops", (("bark_tex", "diamond|deep_furrows"), ("bark_thick", "thick"))),
        "bark: nearly flat, separate plates, thin": (
            "gltr", (("bark_tex", "flat_ridges|thick_plates"), ("bark_thick", "thin|medium"))),
        "wood: mustard yellow, distinct rings, splits easily": (
            "rops", (("heart_col", "bright_yellow|greenish"), ("porosity", "ring"), ("split_way", "clean"))),
        "wood: reddish under pale sapwood": ("gltr", (("heart_col", "reddish"), ("contrast", "strong"))),
    }  # fmt: skip
    names = {"rops": "black locust", "gltr": "honey-locust"}
    rows = []
    for what, (right, answers) in asked.items():
        post = posterior(the_key(), [Answer(name, tuple(states.split("|"))) for name, states in answers])
        share = {one: float(post.species[the_key().species_at[one]]) for one in names}
        odds = share[right] / share["gltr" if right == "rops" else "rops"]
        rows.append([what, names[right], f"{odds:.1f}"])
    return {
        "title": "Tree key: black locust and honey-locust",
        "source": "common practice, no source; tests/identify/test_trade_facts.py asks them in more ways",
        "note": "How much likelier the right one of the two is. Wanted: above 1, by bark alone and by wood "
        "alone.",
        "columns": ["what the user says", "right", "odds against the other"],
        "rows": rows,
    }


def _speed() -> Table:
    rows = read("speed.csv")
    return {
        "title": "Tree key: time of an answer's update",
        "source": "python -m benchmarks.identify --keep, two cores shared with other work",
        "note": f"{rows[0]['species']} species (the packaged ones and copies), {rows[0]['answers']} answers; of "
        f"{rows[0]['queries']} random queries. Wanted: the posterior in well under 5 ms.",
        "columns": ["part", "median, ms", "95 in 100 under, ms"],
        "rows": [[row["part"], row["median_ms"], row["p95_ms"]] for row in rows],
    }
