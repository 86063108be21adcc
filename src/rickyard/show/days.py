"""Reads days as people write them."""

from __future__ import annotations

import re
from datetime import date, timedelta
from functools import lru_cache

from babel import Locale
from babel.dates import get_month_names

from rickyard.errors import InputError
from rickyard.show.symbols import fold
from rickyard.text import T_

# Words for days near today; folded.
_NEAR = {
    "today": 0,
    "aujourd'hui": 0,
    "tomorrow": 1,
    "demain": 1,
    "yesterday": -1,
    "hier": -1,
}
_DAY_FIRST = ("fr_FR", "en_GB")
_MONTH_FIRST = ("en_US",)


@lru_cache(maxsize=2)
def _months() -> dict[str, int]:
    """Names of months, English and French, whole and short, folded and without points."""
    found: dict[str, int] = {}
    for language in ("en", "en_CA", "en_GB", "fr", "fr_CA"):
        for width in ("wide", "abbreviated"):
            names = get_month_names(width, locale=Locale.parse(language))
            found |= {fold(name).rstrip("."): number for number, name in names.items()}
    return found | {"sept": 9}


def parse_date(
    text: str,
    field: str = "date",
    *,
    locale: str = "en_CA",
    today: date | None = None,
    low: date | None = None,
    high: date | None = None,
) -> date:
    """A day: `2026-04-01`, `1 April 2026`, `Apr 1, 2026`, `1er avril 2026`, `01/04/2026` where it is clear.

    With slashes the order is the locale's own (day first in France and Britain, month first in the United
    States). Canada writes both, so there a date that could be read two ways is refused.
    `today`, `tomorrow`, `yesterday` (French too) are understood when `today` is given.
    `low` and `high` are the first and last day allowed. Raises InputError.
    """
    folded = fold(text)
    if today is not None and folded in _NEAR:
        found: date | None = today + timedelta(days=_NEAR[folded])
    else:
        parts = _parts(folded, locale)
        if parts is None:
            raise InputError(
                field,
                wanted=T_("a date"),
                got=text.strip() or T_("nothing"),
                next_move=T_("Type it as year-month-day, for example 2026-04-01."),
            )
        found = _day(*parts)
    if found is None:
        raise InputError(
            field,
            wanted=T_("a day of the calendar"),
            got=text.strip(),
            next_move=T_("Type it as year-month-day, for example 2026-04-01."),
        )
    if (low is not None and found < low) or (high is not None and found > high):
        if low is None:
            wanted = T_("a day up to {last}", last=_iso(high))
        elif high is None:
            wanted = T_("a day from {first} on", first=_iso(low))
        else:
            wanted = T_("a day from {first} to {last}", first=_iso(low), last=_iso(high))
        raise InputError(
            field, wanted=wanted, got=text.strip(), next_move=T_("Check the date."), code="out_of_range"
        )
    return found


def _iso(day: date | None) -> str:
    return day.isoformat() if day else ""


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _parts(text: str, locale: str) -> tuple[int, int, int] | None:
    """(year, month, day) as written, whether or not there is such a day."""
    iso = re.fullmatch(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})", text)
    if iso:
        return int(iso[1]), int(iso[3]), int(iso[4])
    tidy = re.sub(r"[.,]", " ", text)
    tidy = re.sub(r"^(?:le|on|the) ", "", " ".join(tidy.split()))
    named = re.fullmatch(r"(\d{1,2})(?:er|st|nd|rd|th)? (?:of )?([a-z]+) (\d{4})", tidy)
    if named and named[2] in _months():
        return int(named[3]), _months()[named[2]], int(named[1])
    named = re.fullmatch(r"([a-z]+) (\d{1,2})(?:st|nd|rd|th)? (\d{4})", tidy)
    if named and named[1] in _months():
        return int(named[3]), _months()[named[1]], int(named[2])
    slashes = re.fullmatch(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4}|\d{2})", text)
    if slashes is None:
        return None
    first, second = int(slashes[1]), int(slashes[3])
    year = int(slashes[4]) + (2000 if len(slashes[4]) == 2 else 0)
    if locale in _MONTH_FIRST:
        return year, first, second
    if locale in _DAY_FIRST:
        return year, second, first
    if len(slashes[4]) == 2 or (first <= 12 and second <= 12 and first != second):
        return None
    return (year, second, first) if first > 12 else (year, first, second)
