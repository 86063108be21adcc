"""Dates and clocks in weather files: which order the date is in, whose clock it is, and our own clock from it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rickyard.text import T_, Text
from rickyard.weather.air import FIRST_YEAR, LAST_YEAR
from rickyard.weather.record import Note, said_lines

Minutes = npt.NDArray[np.int64]

EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - counted on the station's own clock
CLOCKS = ("local", "standard", "utc")
HOUR_MIN = 60

_TIME = re.compile(
    r"^\s*(\d{1,4})[-/. ](\d{1,2})[-/. ](\d{1,4})"
    r"(?:[\sT,]+(\d{1,2})(?:\s*[:h]\s*(\d{2}))?(?::(\d{2})(?:[.,]\d+)?)?\s*([ap])?\.?m?\.?)?"
    r"\s*(z|utc|gmt|(?:utc|gmt)?[-+]\d{2}:?\d{2})?\s*$",
    re.IGNORECASE,
)
_COMPACT = re.compile(
    r"^\s*(\d{4})(\d{2})(\d{2})[\sT]*(\d{2}):?(\d{2})(?::?\d{2})?\s*(z)?\s*$", re.IGNORECASE
)
_OFFSET = re.compile(r"(?:gmt|utc)\s*([-+])\s*(\d{1,2})(?::?(\d{2}))?", re.IGNORECASE)
ORDERS = ("ymd", "dmy", "mdy")


@dataclass(frozen=True)
class _Parts:
    a: int
    b: int
    c: int
    minute: int
    offset_min: int | None


@dataclass(frozen=True)
class Times:
    """Moments of a file's lines on our clock [min since 1970], which lines could not be read, and what was noted."""

    minutes: Minutes
    bad: tuple[int, ...]
    faults: tuple[Note, ...]
    notes: tuple[Note, ...]


def standard_offset_min(zone: str, lon: float | None) -> int:
    """Minutes of local standard time from UTC: by the time zone if known, else by the sun's, to whole hours."""
    if zone:
        here = ZoneInfo(zone)
        moment = datetime(2026, 1, 15, tzinfo=UTC).astimezone(here)
        ahead, summer = moment.utcoffset(), moment.dst()
        return int(((ahead or timedelta(0)) - (summer or timedelta(0))).total_seconds() // 60)
    return 0 if lon is None else HOUR_MIN * round(lon / 15.0)


def header_clock(head: str) -> tuple[str, int | None]:
    """What a header says of its clock: (`utc`, offset in minutes), (`standard`, None) or ("", None)."""
    found = _OFFSET.search(head)
    if found:
        sign = -1 if found.group(1) == "-" else 1
        return "utc", sign * (HOUR_MIN * int(found.group(2)) + int(found.group(3) or 0))
    words = set(re.split(r"[^a-z]+", head.casefold()))
    if words & {"utc", "gmt", "tuc", "zulu"}:
        return "utc", 0
    return ("standard", None) if words & {"lst", "hnl", "standard"} else ("", None)


def read_times(
    texts: list[str], lines: list[int], *, head: str, clock: str, zone: str, lon: float | None
) -> Times:
    """Moments of all lines.

    Parameters
    ----------
    texts, lines
        What stands in the time columns, and the line numbers.
    head
        The header of those columns.
    clock
        `local` (with summer time), `standard`, `utc`, or "" to find out.
    zone
        Name of the yard's time zone, or "".
    lon
        Degrees east, for standard time where no zone is known.
    """
    parts = [_parts(text) for text in texts]
    bad = tuple(line for line, part in zip(lines, parts, strict=True) if part is None)
    nothing = np.zeros(0, dtype=np.int64)
    if bad or not parts:
        return Times(nothing, bad, (), ())
    good = [part for part in parts if part is not None]
    order, fault = _order(good, head)
    if fault is not None:
        return Times(nothing, (), (fault,), ())
    walls: list[int] = []
    wrong: list[int] = []
    for part, line in zip(good, lines, strict=True):
        day = _day(part, order)
        if day is None or part.minute > 24 * HOUR_MIN:
            wrong.append(line)
        else:
            walls.append((day - EPOCH.date()).days * 24 * HOUR_MIN + part.minute)
    if wrong:
        return Times(nothing, tuple(wrong), (), ())
    wall = np.array(walls, dtype=np.int64)
    ours = standard_offset_min(zone, lon)
    offsets = [part.offset_min for part in good]
    if all(offset is not None for offset in offsets):
        return Times(wall - np.array(offsets, dtype=np.int64) + ours, (), (), ())
    said, ahead = header_clock(head)
    if clock in ("", "utc") and said == "utc":
        return Times(wall - (ahead or 0) + ours, (), (), ())
    if clock == "utc":
        return Times(wall + ours, (), (), ())
    if clock == "standard" or (not clock and said == "standard") or not zone:
        notes = (
            ()
            if clock or said
            else (_note("clock_taken", T_("No time zone is said: taken as standard time.")),)
        )
        return Times(wall, (), _set_back(wall, lines), notes)
    return _local(wall, lines, zone, sure=clock == "local")


def _local(wall: Minutes, lines: list[int], zone: str, *, sure: bool) -> Times:
    """Standard time from a clock that may follow summer time; what the file itself shows decides."""
    here = ZoneInfo(zone)
    changes = _changes(
        here, EPOCH + timedelta(minutes=int(wall.min())), EPOCH + timedelta(minutes=int(wall.max()))
    )
    ours = standard_offset_min(zone, None)
    inside: list[tuple[int, int]] = []
    for begin, by in changes:
        near = wall[(wall > begin - 6 * HOUR_MIN) & (wall < begin + 6 * HOUR_MIN)]
        if len(near) > 3:
            inside.append((begin, by))
    followed = [_followed(wall, begin, by) for begin, by in inside]
    notes: tuple[Note, ...] = ()
    if inside and not any(followed) and not sure:
        day = (EPOCH + timedelta(minutes=inside[0][0])).date().isoformat()
        text = T_("The clock did not change on {day}: taken as standard time all year.", day=day)
        return Times(wall, (), (), (_note("clock_standard", text),))
    if not inside and changes == [] and not sure:
        notes = (_note("clock_local", T_("Taken as the clock of {zone}, with its summer time.", zone=zone)),)
    elif inside:
        notes = (_note("summer_time", T_("The clock follows summer time; put to standard time.")),)
    minutes = np.empty_like(wall)
    missing: list[int] = []
    seen_back = 0
    before = -(2**62)
    for i, value in enumerate(wall.tolist()):
        moment = EPOCH + timedelta(minutes=value)
        if value <= before:
            seen_back = value
        before = value
        fold = 1 if seen_back and value - seen_back < 2 * HOUR_MIN else 0
        there = moment.replace(tzinfo=here, fold=fold)
        utc = there.astimezone(UTC)
        if utc.astimezone(here).replace(tzinfo=None) != moment:
            missing.append(lines[i])
        minutes[i] = int((utc.replace(tzinfo=None) - EPOCH).total_seconds() // 60) + ours
    faults: tuple[Note, ...] = ()
    if missing:
        faults = (
            Note(
                "no_such_hour",
                T_(
                    "Lines {lines}: this hour does not exist in {zone}, where the clock goes forward. "
                    "Say that the logger keeps standard time, or UTC.",
                    lines=said_lines(missing),
                    zone=zone,
                ),
                tuple(missing),
            ),
        )
    return Times(minutes, (), faults, notes)


def _changes(here: ZoneInfo, first: datetime, last: datetime) -> list[tuple[int, int]]:
    """Changes of the clock between two wall times: (wall minute before which it changes, minutes it moves by)."""
    found: list[tuple[int, int]] = []
    day = datetime(first.year, first.month, first.day, tzinfo=UTC) - timedelta(days=1)
    end = last.replace(tzinfo=UTC) + timedelta(days=1)
    while day < end:
        one, two = day.astimezone(here).utcoffset(), (day + timedelta(days=1)).astimezone(here).utcoffset()
        if one is not None and two is not None and one != two:
            hours = (day + timedelta(hours=h) for h in range(25))
            moment = next(m for m in hours if m.astimezone(here).utcoffset() == two)
            wall = int((moment.replace(tzinfo=None) + one - EPOCH).total_seconds() // 60)
            found.append((wall, int((two - one).total_seconds() // 60)))
        day += timedelta(days=1)
    return found


def _followed(wall: Minutes, begin: int, by: int) -> bool:
    """Whether the lines show the change of the clock: an hour left out, or one that comes twice."""
    steps = np.diff(wall)
    usual = int(np.median(steps[steps > 0])) if (steps > 0).any() else HOUR_MIN
    if by > 0:
        return not bool(((wall >= begin) & (wall < begin + by)).any()) and usual <= by
    # With a line an hour the same time stands twice; with more the time runs back.
    back = np.flatnonzero(steps <= 0)
    return any(begin + by <= wall[i + 1] <= begin and wall[i] <= begin + HOUR_MIN for i in back)


def _set_back(wall: Minutes, lines: list[int]) -> tuple[Note, ...]:
    """A single step back of about an hour: the end of summer time, on a clock that was said to have none."""
    steps = np.diff(wall)
    back = np.flatnonzero((steps < 0) & (steps >= -HOUR_MIN))
    months = [(EPOCH + timedelta(minutes=int(wall[i + 1]))).month for i in back]
    if (
        len(back)
        and len(back) <= 1 + len(wall) // 5000
        and all(month in (3, 4, 9, 10, 11) for month in months)
    ):
        found = tuple(lines[i + 1] for i in back)
        text = T_(
            "Line {lines}: the clock goes back by an hour, as at the end of summer time. "
            "Say the time zone, and that the logger keeps local time.",
            lines=said_lines(found),
        )
        return (Note("summer_time_unsaid", text, found),)
    return ()


def _parts(text: str) -> _Parts | None:
    compact = _COMPACT.match(text)
    if compact:
        year, month, day, hour, minute, zulu = compact.groups()
        return _Parts(
            int(year), int(month), int(day), HOUR_MIN * int(hour) + int(minute), 0 if zulu else None
        )
    found = _TIME.match(text)
    if not found:
        return None
    a, b, c, hour, minute, _second, half, offset = found.groups()
    hours = int(hour or 0)
    if half:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + (12 if half.casefold() == "p" else 0)
    if int(minute or 0) > 59:
        return None
    return _Parts(int(a), int(b), int(c), HOUR_MIN * hours + int(minute or 0), _offset(offset))


def _offset(text: str | None) -> int | None:
    if not text:
        return None
    digits = re.sub(r"[^-+\d]", "", text)
    if not digits:
        return 0
    sign = -1 if digits[0] == "-" else 1
    return sign * (HOUR_MIN * int(digits[1:3]) + int(digits[3:5] or 0))


def _day(part: _Parts, order: str) -> date | None:
    numbers = dict(zip(order, (part.a, part.b, part.c), strict=True))
    year = numbers["y"]
    if year < 100:
        year += 2000
    if not FIRST_YEAR <= year < LAST_YEAR:
        return None
    try:
        return date(year, numbers["m"], numbers["d"])
    except ValueError:
        return None


def _order(parts: list[_Parts], head: str) -> tuple[str, Note | None]:
    """The order of year, month and day that all lines can have; the one in which time runs on if several can."""
    if all(part.a > 31 for part in parts):
        return "ymd", None
    fit: dict[str, tuple[bool, int]] = {}
    for order in ("dmy", "mdy"):
        days = [_day(part, order) for part in parts]
        known = [day for day in days if day is not None]
        if len(known) == len(days):
            steps = [(b - a).days for a, b in pairwise(known)]
            fit[order] = (all(step >= 0 for step in steps), max([abs(step) for step in steps], default=0))
    if not fit:
        # The line that no order fits is found when the days are made.
        return "dmy", None
    if len(fit) == 1 or len({*fit.values()}) == 2:
        return min(fit, key=lambda order: (not fit[order][0], fit[order][1])), None
    if any(word in head.casefold() for word in ("heure", "horodat")):
        return "dmy", None
    text = T_(
        "The dates can be read as day/month or as month/day. Write them as 2026-05-04, or add a day after the 12th."
    )
    return "", _note("ambiguous_dates", text)


def _note(code: str, text: Text) -> Note:
    return Note(code, text)
