"""What a stack's forecast depends on: plain values, by whose fingerprint a kept forecast is known to be of today."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

from sqlalchemy import Select
from sqlalchemy.orm import object_session, selectinload

from rickyard import season, weather
from rickyard.book.models import Stack, Yard
from rickyard.desk.learning import Teaching, worded
from rickyard.desk.sky_rows import sky_of, sky_print
from rickyard.desk.stacks import StackCard
from rickyard.errors import InputError
from rickyard.wood import db_from_wet

MEMBERS = 64
# Air gets into a heap or a bin about as badly as into a stack so many rows deep; assumed.
HEAP_ROWS = 3
# Long enough for oak that misses its first autumn, counted from today as well as from stacking.
HORIZON_DAYS = 540
AHEAD_DAYS = 400
# A species below this share of a stack is not run by itself; it counts with the rest.
LEAST_SHARE = 0.03


@dataclass(frozen=True)
class ForecastInputs:
    """All that a forecast depends on; plain values, so that another process can make it."""

    stack_id: int
    place: str
    seed: int
    members: int
    until: date
    pieces: dict[str, Any]
    shares: tuple[tuple[str, float], ...]
    #: The wood that was read (None: nobody in particular, in a mixed stack) and the reading.
    readings: tuple[tuple[str | None, season.Reading], ...]
    target_mc_wet: float
    model: str = season.MODEL_VERSION
    row: str = ""
    #: What other stacks' readings taught of this one's wood and row: the version of the yard's knowledge.
    lessons: tuple[season.Lesson, ...] = ()
    #: Whether what this stack's own readings teach must be reckoned; no part of the fingerprint.
    teach: bool = True
    #: What is known of the weather, and its fingerprint for these days and for those until the last reading;
    #: "" where only the place is known.
    sky: weather.Sky | None = field(default=None, repr=False, compare=False)
    sky_print: str = ""
    sky_print_read: str = ""

    @property
    def fingerprint(self) -> str:
        return self._hashed_without("teach", "sky", "sky_print_read")

    @property
    def lesson_fingerprint(self) -> str:
        """Of all that the stack's own lesson is made from: neither the horizon nor what others taught."""
        return self._hashed_without("teach", "sky", "sky_print", "lessons", "until", "target_mc_wet")

    def _hashed_without(self, *apart: str) -> str:
        return _hashed({name: value for name, value in self.__dict__.items() if name not in apart})


def inputs_of(
    yard: Yard, stack: Stack, card: StackCard, day: date, taught: Teaching | None = None
) -> ForecastInputs:
    """What the stack's forecast depends on, as of a day (which only moves the horizon, by whole months).

    `taught`: the lessons of all the yard's stacks.
    """
    taught = Teaching(()) if taught is None else taught
    ahead = day + timedelta(days=AHEAD_DAYS)
    until = max(stack.stacked_on + timedelta(days=HORIZON_DAYS), date(ahead.year, ahead.month, 1))
    shares = _main_shares(card)
    readings = _usable(stack, card)
    sky = _sky(stack, yard)

    def printed(last: date) -> str:
        return "" if sky is None else sky_print(sky, stack.stacked_on, (last - stack.stacked_on).days + 1)

    inputs = ForecastInputs(
        stack_id=stack.id,
        place=yard.climate_place,
        seed=yard.seed,
        members=MEMBERS,
        until=until,
        pieces={
            "form": "split" if stack.form == "kindling" else stack.form,
            "length_m": stack.piece_length_m,
            "thickness_m": stack.thickness_m,
            "bark": stack.bark,
            "cover": stack.cover,
            "exposure": stack.exposure,
            "ground": stack.ground,
            "rows": min(card.rows, season.ROWS[1]) if card.piled == "ranked" else HEAP_ROWS,
            "stacked_on": stack.stacked_on,
            "start_mc_db": None if stack.start_mc_wet is None else db_from_wet(stack.start_mc_wet),
        },
        shares=shares,
        readings=readings,
        target_mc_wet=stack.target_mc_wet,
        row=stack.row_label,
        lessons=taught.of(stack, [species_id for species_id, _ in shares]),
        sky=sky,
        sky_print=printed(until),
        sky_print_read=printed(max(reading.on for _, reading in readings)) if readings else "",
    )
    own = taught.fingerprints_of(stack.id) if inputs.readings else ()
    known = bool(own) and all(fingerprint == inputs.lesson_fingerprint for fingerprint in own)
    return replace(inputs, teach=bool(inputs.readings) and not known)


def _sky(stack: Stack, yard: Yard) -> weather.Sky | None:
    """The yard's sky, looked up once for all stacks of a session; None where only the place is known."""
    session = object_session(stack)
    if session is None:
        return None
    if "sky" not in session.info:
        try:
            known = sky_of(session, yard)
        except InputError:
            # The place no longer resolves: the forecast says so, and the pages stand.
            known = None
        session.info["sky"] = None if known is None or known.plain else known
    sky: weather.Sky | None = session.info["sky"]
    return sky


def with_all_it_hangs_on(query: Select[Stack]) -> Select[Stack]:
    """Measures and readings of all stacks at once, not stack by stack."""
    return query.options(selectinload(Stack.measures), selectinload(Stack.readings))


def readings_for(inputs: ForecastInputs, species_id: str) -> tuple[season.Reading, ...]:
    """Readings that say something of this species: of it, or (in a mixed stack) of nobody in particular."""
    return tuple(reading for read_species, reading in inputs.readings if read_species in (None, species_id))


def _main_shares(card: StackCard) -> tuple[tuple[str, float], ...]:
    main = [(species.id, share) for species, share in card.shares if share >= LEAST_SHARE]
    total = sum(share for _, share in main)
    return tuple((species_id, round(share / total, 2)) for species_id, share in main)


def _usable(stack: Stack, card: StackCard) -> tuple[tuple[str | None, season.Reading], ...]:
    """The readings that can say something of the stack.

    One from before the stacking cannot, nor one that somebody set aside, nor a weighing of which no piece counts.
    One of a wood that the book does not know in it is of nobody in particular.
    """
    held = {species.id for species, _ in card.shares}
    return tuple(
        (
            reading.species_id if reading.species_id in held else None,
            season.Reading(
                kind=reading.kind,
                on=reading.happened_on,
                value=reading.value,
                temp_c=reading.temp_c,
                face=reading.face,
                pieces=reading.pieces,
                scatter=reading.scatter,
                since=reading.since,
                step=reading.step_share,
                own=reading.own and reading.since is not None,
                wet=reading.wet,
                trust=reading.trust,
                ref=str(reading.id),
            ),
        )
        for reading in stack.readings
        if reading.trust != "aside"
        and reading.pieces != 0
        and stack.stacked_on <= (reading.since or reading.happened_on)
        # Earlier versions took an oven sample that had lost nothing.
        and (reading.kind != "oven" or 0.0 < reading.value < 0.75)
    )


def _hashed(figures: dict[str, Any]) -> str:
    plain = json.dumps(figures, sort_keys=True, default=_said)
    return hashlib.sha256(plain.encode()).hexdigest()


def _said(value: object) -> str:
    return worded(value) if isinstance(value, season.Lesson) else str(value)
