"""The drying calendar of a place: one page to hang up, from the month of stacking to the month it is dry."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from rickyard.paper.typeset import frame, typeset
from rickyard.show.voice import Voice
from rickyard.text import T_, Text

CALENDAR_PAGES_MM = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}
"""Paper sizes, lying: width and height [mm]."""

MonthOf = tuple[int, int]
"""A month (1 to 12) and how many years after that of stacking it lies."""


@dataclass(frozen=True, kw_only=True)
class CalendarEntry:
    """Months by which a tenth, half and nine tenths of the cases are dry; None: later than was looked at.

    `parted` if it is one season or another with little between.
    """

    p10: MonthOf | None
    p50: MonthOf | None
    p90: MonthOf | None
    parted: bool = False


@dataclass(frozen=True, kw_only=True)
class CalendarBlock:
    """One species: a row of twelve entries (stacked in January first) for each thickness [m]."""

    species: str
    rows: tuple[tuple[float, tuple[CalendarEntry, ...]], ...]


@dataclass(frozen=True, kw_only=True)
class CalendarData:
    """All that the calendar says. `made_at` is UTC-aware and the only time in the file."""

    place: str
    blocks: tuple[CalendarBlock, ...]
    piece_length_m: float
    cover: str | Text
    target_mc_wet: float
    model: str
    members: int
    made_at: datetime
    locale: str = "en_CA"
    units: str = "imperial"
    page: Literal["a4", "letter"] = "letter"

    @property
    def voice(self) -> Voice:
        return Voice(self.locale, self.units)


def month_words(voice: Voice, month: MonthOf | None) -> str:
    """Sep, or May +1 for the year after; a dash for later than was looked at."""
    if month is None:
        return voice.text(T_("later"))
    short = voice.short_month(date(2001, month[0], 1))
    return short if month[1] == 0 else voice.text(T_("{month} +{years}", month=short, years=month[1]))


def entry_words(voice: Voice, entry: CalendarEntry) -> tuple[str, str]:
    """The middle month, and the range from the 10th to the 90th percentile."""
    low, high = month_words(voice, entry.p10), month_words(voice, entry.p90)
    span = low if low == high else voice.text(T_("{low} to {high}", low=low, high=high))
    return month_words(voice, entry.p50), span


def entry_kind(entry: CalendarEntry) -> str:
    """`same` if dry within the year of stacking nine times in ten, `next` if likely only later, else `doubt`."""
    if entry.p90 is not None and entry.p90[1] == 0:
        return "same"
    return "next" if entry.p50 is None or entry.p50[1] > 0 else "doubt"


def explained(voice: Voice) -> list[str]:
    """How the table is read."""
    said = (
        T_(
            "Large: the month in which it is as likely dry as not. Small: one chance in ten before, one in ten after."
        ),
        T_("+1 is the year after stacking, +2 the one after that; stacked on the first of the month."),
        T_("An asterisk: it is ready in one season or not before the next, with little between."),
    )
    return [voice.text(text) for text in said]


def render_calendar(data: CalendarData) -> bytes:
    """The calendar as a tagged PDF; the same data give the same bytes."""
    return typeset("calendar", _words(data), made_at=data.made_at)[0]


def picture_calendar(data: CalendarData, ppi: float = 110.0) -> list[bytes]:
    """Its pages as PNG."""
    return typeset("calendar", _words(data), made_at=data.made_at, output="png", ppi=ppi)


def _words(data: CalendarData) -> dict[str, Any]:
    if not data.blocks:
        raise ValueError("a calendar without wood")
    voice = data.voice
    return frame(voice, CALENDAR_PAGES_MM[data.page]) | {
        "title": voice.text(T_("Drying calendar, {place}", place=data.place)),
        "lead": voice.text(
            T_(
                "Split wood {length} long, {cover}, dry at {moisture}.",
                length=voice.length(data.piece_length_m),
                cover=data.cover,
                moisture=voice.moisture(data.target_mc_wet),
            )
        ),
        "stacked": voice.text(T_("Stacked in")),
        "thick": voice.text(T_("Thickness")),
        "months": [voice.short_month(date(2001, month, 1)) for month in range(1, 13)],
        "blocks": [
            {
                "name": block.species,
                "rows": [
                    {"thickness": voice.thickness(thickness_m), "cells": [_cell(voice, e) for e in entries]}
                    for thickness_m, entries in block.rows
                ],
            }
            for block in data.blocks
        ],
        "keys": [
            {"kind": "same", "words": voice.text(T_("dry in the year of stacking, 9 in 10"))},
            {"kind": "doubt", "words": voice.text(T_("in doubt"))},
            {"kind": "next", "words": voice.text(T_("likely only the year after"))},
        ],
        "notes": [
            *explained(voice),
            voice.text(
                T_(
                    "An estimate from usual weather and its spread, by model {model} with {members} members. "
                    "Measure the wood before you promise it.",
                    model=data.model,
                    members=data.members,
                )
            ),
        ],
    }


def _cell(voice: Voice, entry: CalendarEntry) -> dict[str, str]:
    main, span = entry_words(voice, entry)
    return {"main": main + ("*" if entry.parted else ""), "span": span, "kind": entry_kind(entry)}
