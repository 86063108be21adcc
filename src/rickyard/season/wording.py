"""The words for what a change is and what it brings, for screens, papers and the command line alike."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from rickyard.season.backwards import StartLimit, ThicknessLimit
from rickyard.season.pieces import Pieces
from rickyard.season.what_if import Outcome
from rickyard.text import T_, Text

Say = Callable[[float], str]


def change_words(id_: str, pieces: Pieces, *, thickness: Say, length: Say) -> Text:
    """What is done otherwise; `thickness` and `length` say lengths in the reader's unit."""
    thick, long = thickness(pieces.thickness_m), length(pieces.length_m)
    said: dict[str, Text] = {
        "as_it_is": T_("As it is"),
        "as_planned": T_("As planned"),
        "finer": T_("Split finer, {thickness} thick", thickness=thick),
        "halved": T_("Split in half again, {thickness} thick", thickness=thick),
        "coarser": T_("Split coarser, {thickness} thick", thickness=thick),
        "split": T_("Split the rounds, {thickness} thick", thickness=thick),
        "shorter": T_("Saw shorter, {length} long", length=long),
        "cover_none": T_("Leave it without cover"),
        "cover_top": T_("Cover the top"),
        "cover_shed": T_("Put it in a shed"),
        "windier": T_("Stack it where the wind comes through"),
        "stiller": T_("Stack it in the lee"),
        "earlier": T_("Stack it a month earlier, on {day}", day=pieces.stacked_on),
        "later": T_("Stack it a month later, on {day}", day=pieces.stacked_on),
    }
    return said[id_]


def sooner_words(outcome: Outcome) -> Text:
    """How much sooner or later it is dry, with its spread."""
    low, mid, high = outcome.sooner_days
    if (low, mid, high) == (0, 0, 0):
        return T_("no difference")
    if mid == 1:
        words = T_("1 day sooner ({low} to {high})", low=low, high=high)
    elif mid == -1:
        words = T_("1 day later ({low} to {high})", low=-high, high=-low)
    elif mid > 0:
        words = T_("{mid} days sooner ({low} to {high})", mid=mid, low=low, high=high)
    elif mid < 0:
        words = T_("{mid} days later ({low} to {high})", mid=-mid, low=-high, high=-low)
    else:
        words = T_("about the same ({low} days later to {high} sooner)", low=max(0, -low), high=max(0, high))
    return T_("{words}, at least", words=words) if outcome.open_ended else words


def labour_words(outcome: Outcome, *, number: Say) -> Text:
    """Hours of work a cord, or that they are not known."""
    labour = outcome.labour
    if labour is None:
        return T_("not known")
    return T_(
        "{mid} h a cord ({low} to {high})",
        mid=number(labour.mid_h),
        low=number(labour.low_h),
        high=number(labour.high_h),
    )


def thickness_words(limit: ThicknessLimit, *, thickness: Say, odds: Say) -> Text:
    """How thick at most."""
    if limit.state == "never":
        return T_(
            "Not even {thickness} thick: the odds would be {odds}.",
            thickness=thickness(limit.thickness_m),
            odds=odds(limit.odds),
        )
    if limit.state == "always":
        return T_(
            "Any thickness up to {thickness}, as far as was looked: {odds}.",
            thickness=thickness(limit.thickness_m),
            odds=odds(limit.odds),
        )
    return T_(
        "Split no thicker than {thickness} (to within {tolerance}): {odds}.",
        thickness=thickness(limit.thickness_m),
        tolerance=thickness(limit.tolerance_m),
        odds=odds(limit.odds),
    )


def start_words(limit: StartLimit, *, day: Callable[[date], str], odds: Say) -> Text:
    """How late at most."""
    if limit.state == "never":
        return T_(
            "Not even when stacked on {day}, the earliest looked at: the odds would be {odds}.",
            day=day(limit.start),
            odds=odds(limit.odds),
        )
    if limit.state == "always":
        return T_("Any day up to {day}: {odds}.", day=day(limit.start), odds=odds(limit.odds))
    return T_(
        "Stack it no later than {day} (to within {days} days): {odds}.",
        day=day(limit.start),
        days=limit.tolerance_days,
        odds=odds(limit.odds),
    )
