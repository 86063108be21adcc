"""The judged texts of wording_cases.csv, scored as its notes say.

They were seen while the check was written: this guards against loss, it measures nothing new.
"""

from __future__ import annotations

import pytest


@pytest.mark.parametrize("check", ["words", "fields"])
def test_yes_or_no_is_right_on_every_scored_text(published, check):
    scored = [one for one in published.judged() if one.case["scored"] == "yes" and one.case["check"] == check]

    assert len(scored) == {"words": 23, "fields": 4}[check]
    assert [one.case["id"] for one in scored if not one.right] == []


def test_a_reported_word_is_the_offending_one(published):
    unlawful = [
        one for one in published.judged() if one.case["scored"] == "yes" and one.case["lawful"] == "no"
    ]

    assert len(unlawful) == 14
    assert [one.case["id"] for one in unlawful if not one.named] == []


def test_what_the_sources_do_not_settle_is_no_problem(published):
    unclear = [one for one in published.judged() if one.case["scored"] == "no"]

    assert len(unclear) == 3
    assert all(not one.problems for one in unclear)
