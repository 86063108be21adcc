"""How the tree key does on books it was not made from, on its own sources' keys, by review, and by simulation."""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

from rickyard.identify import Answer, Prior, posterior, the_key
from rickyard.identify.tables import read_tables

DATA = Path(__file__).resolve().parents[2] / "tests" / "identify" / "data"

Table = dict[str, object]


def read(name: str) -> list[dict[str, str]]:
    """Rows of a table in tests/identify/data."""
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def tables() -> list[Table]:
    """The tables of this package for docs/accuracy.md."""
    return [_walked(), _cells(), _reviewed(), _simulated(), _curve()]


BOOKS = {
    "outside_dame_brooks": ("outside", "Dame and Brooks, Handbook of the Trees of New England, 1901", "NE"),
    "outside_levison": ("outside", "Levison, Studies of Trees, 1914, key to woods", None),
    "keys_otis": ("own source", "Otis, Michigan Trees, 1915, keys in summer and winter", "LS"),
    "keys_fernow_roth": ("own source", "Fernow and Roth, 1895, hand-lens key in Noyes 1912", None),
}
"""Tables of answers by book: whether any cell was taken from it, and the region that its trees grow in."""


def _walked() -> Table:
    rows = []
    for name, (kind, book, region) in BOOKS.items():
        paths: dict[tuple[str, str, str], tuple[set[str], list[Answer]]] = {}
        for row in read(f"{name}.csv"):
            right = set(row.get("accepted", row["key_id"]).split("|"))
            place = (row["situation"], row["key_id"], row["page"] if "accepted" in row else "")
            answer = Answer(row["character"], tuple(row["states"].split("|")), float(row["doubt"]))
            paths.setdefault(place, (right, []))[1].append(answer)
        for prior in dict.fromkeys((None, region)):
            tally: dict[str, list[tuple[bool, bool]]] = {}
            for (situation, _, _), (right, answers) in paths.items():
                post = posterior(the_key(), answers, Prior(region=prior))
                three = [the_key().species[at].key_id for at in post.ranking[:3]]
                tally.setdefault(situation, []).append((three[0] in right, bool(right & set(three))))
            rows += [
                [book, kind, situation, prior or "flat", str(len(found)),
                 f"{sum(first for first, _ in found) / len(found):.3f}",
                 f"{sum(three for _, three in found) / len(found):.3f}"]
                for situation, found in tally.items()
            ]  # fmt: skip
    return {
        "title": "Tree key: books walked through it",
        "source": "tests/identify/data/SOURCES.md says how the answers were made",
        "note": "All answers that a book gives for a tree, at once. “Outside”: no cell was taken from it. "
        "Wanted of an outside book: first in 0.85, among three in 0.97; of the own sources among three in 0.97. "
        "Bark rests on two or three answers a species.",
        "columns": ["book", "kind", "situation", "prior", "asked", "first", "among three"],
        "rows": rows,
    }


def _reviewed() -> Table:
    tally = Counter(row["verdict"] for row in read("review.csv"))
    whole = sum(tally.values()) - tally["unread"]
    return {
        "title": "Tree key: cells drawn by a seed and read again in their sources",
        "source": "tests/identify/data/review.csv: page, claim in our words, verdict",
        "note": "Share of those whose source could be read. What was found wrong is mended since.",
        "columns": ["verdict", "cells", "share"],
        "rows": [
            [verdict, str(count), "" if verdict == "unread" else f"{100 * count / whole:.1f} %"]
            for verdict, count in tally.most_common()
        ],
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
        "note": "This checks the machinery; it is no evidence that the table is right. "
        "A tree is named at 0.8 or more without a surprising answer. “Said” counts names and groups. "
        "One wrong of six: six looks answered truly but for one that no text read allows; how often the tree is among "
        "the first three. Wanted: right when named 0.95 or more, calibration error 0.05 or less over all situations, "
        "one wrong of six 0.90 or more in leaf and in winter; what misses stands here too. "
        "The second exponent is what a yard would fit from 450 confirmed records of simulated users.",
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
