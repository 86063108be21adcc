"""How well the check of wording agrees with texts a reader has judged."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import NamedTuple

from rickyard.rules import WordingProblem, check_wording

CASES = Path(__file__).resolve().parents[2] / "tests" / "rules" / "data" / "wording_cases.csv"

Table = dict[str, object]


class Judged(NamedTuple):
    """A case, what was found in it, and whether that agrees."""

    case: dict[str, str]
    problems: list[WordingProblem]

    @property
    def right(self) -> bool:
        """Whether yes or no is right."""
        return (not self.problems) == (self.case["lawful"] == "yes")

    @property
    def named(self) -> bool:
        """Whether a reported word overlaps what the reader found offending."""
        wanted = [_words(part) for part in self.case["offending"].split(";")]
        return any(_words(problem.word) & words for problem in self.problems for words in wanted)


def judged() -> list[Judged]:
    """Every case with what the check finds in it."""
    with CASES.open(encoding="utf-8", newline="") as file:
        cases = list(csv.DictReader(file))
    return [Judged(case, check_wording(case["place"], case["text"], case["language"])) for case in cases]


def tables() -> list[Table]:
    """The tables of this package for docs/accuracy.md."""
    every = judged()
    scored = [item for item in every if item.case["scored"] == "yes"]
    return [
        {
            "title": "Lawful wording: judged texts",
            "source": "30 invented texts for 13 places, judged under the same rules; those the sources do not settle "
            "are left out",
            "note": "The texts were seen while the check was written, so this is no independent test. "
            "“Named” counts, among texts that are not lawful, those where a reported word overlaps the reader's. "
            "No text of the kind numbers is among them.",
            "columns": ["check", "support", "texts", "yes or no right", "not lawful", "named"],
            "rows": [_row(scored, check, support) for check, support in _kinds(scored)],
        },
        {
            "title": "Lawful wording: texts where check and reader differ",
            "source": "as above",
            "note": "Empty if they agree on every scored text.",
            "columns": ["id", "place", "reader", "reported"],
            "rows": [
                [
                    item.case["id"],
                    item.case["place"],
                    item.case["lawful"],
                    "; ".join(problem.word for problem in item.problems) or "nothing",
                ]
                for item in scored
                if not item.right
            ],
        },
        {
            "title": "Lawful wording: texts the sources do not settle",
            "source": "as above",
            "note": "Not scored. The check reports no problem; the word is given as a caution.",
            "columns": ["id", "place", "reported"],
            "rows": [
                [
                    item.case["id"],
                    item.case["place"],
                    "; ".join(problem.word for problem in item.problems) or "nothing",
                ]
                for item in every
                if item.case["scored"] == "no"
            ],
        },
    ]


def _kinds(scored: list[Judged]) -> list[tuple[str, str]]:
    return sorted({(item.case["check"], item.case["support"]) for item in scored}, reverse=True)


def _row(scored: list[Judged], check: str, support: str) -> list[str]:
    some = [item for item in scored if (item.case["check"], item.case["support"]) == (check, support)]
    unlawful = [item for item in some if item.case["lawful"] == "no"]
    return [
        check,
        support,
        str(len(some)),
        str(sum(item.right for item in some)),
        str(len(unlawful)),
        str(sum(item.named for item in unlawful)),
    ]


def _words(text: str) -> set[str]:
    small = {"missing", "of", "and", "or", "a", "the", "de"}
    return {word for word in re.findall(r"[^\W\d_]+", text.lower()) if word not in small}
