"""Moisture readings of a stack: pin meter, oven sample, weighed pieces."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import select

from rickyard import season
from rickyard.book import stock
from rickyard.book.models import READING_FACES, READING_KINDS, READING_TRUSTS, Reading, Stack
from rickyard.desk.checks import EARLIEST, day_between, one_of, some_text, within
from rickyard.desk.clashes import raise_clash
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.stacks import find_stack, unknown_stack
from rickyard.desk.weights import reckon
from rickyard.errors import InputError
from rickyard.season import MeterReading, cautions, mean_shown, meter_mc
from rickyard.text import T_, Text
from rickyard.wood import Species, find_species, get_species

MOST_SHOWN = 30
# Any wood holds some water, and none three quarters of its mass.
OVEN_MC_WET = (0.001, 0.749)


@dataclass(frozen=True, kw_only=True)
class AddReading(Command):
    """A reading of a stack.

    `value` by kind: `meter`, the percent shown (dry basis, as meters show it); `oven`, the moisture of the
    sample as a fraction of its total mass; `weighed`, the mass now over the mass when stacked.
    `shown`: what a meter showed on several pieces; `value` is then reckoned from them, whatever is sent.
    `face`: where its pins went. `own`: the oven sample was cut from the marked pieces. `masses`: the sample wet and
    dry; `value` is then reckoned from them, and they are kept beside it.
    """

    stack_id: int
    kind: str
    value: float
    happened_on: date
    species: str = ""
    temp_c: float | None = None
    note: str = ""
    face: str = "split"
    shown: tuple[float, ...] = ()
    own: bool = False
    masses: tuple[float, ...] = ()


@dataclass(frozen=True, kw_only=True)
class JudgeReading(Command):
    """Somebody looked again: the reading is `right`, or is set `aside`; empty: the forecast judges it as any other."""

    reading_id: int
    trust: str


@dataclass(frozen=True, kw_only=True)
class OvenMasses:
    """What an oven sample is weighed at, in one unit: wet, and dry (until it loses no more)."""

    wet: float
    dry: float

    def mc_wet(self) -> float:
        """Moisture as a fraction of total mass; InputError if the masses make no sense."""
        within("wet_mass", self.wet, (0.001, 1e6), "")
        if not 0 < self.dry <= self.wet:
            raise InputError(
                "dry_mass",
                wanted=T_("a mass above zero and not above the wet mass {wet:g}", wet=self.wet),
                got=f"{self.dry:g}",
                next_move=T_("Weigh the dry sample again, on the same scale."),
            )
        return (self.wet - self.dry) / self.wet


@dataclass(frozen=True)
class ReadingLine:
    id: int
    happened_on: date
    kind: str
    value: float
    temp_c: float | None
    species: Species | None
    note: str
    corrected: MeterReading | None
    face: str = "split"
    pieces: int | None = None
    scatter: float | None = None
    since: date | None = None
    own: bool = False
    wet: bool = False
    trust: str = ""
    typed: Mapping[str, Any] = field(default_factory=dict)
    weights: tuple[tuple[str, float | None], ...] = ()


def add_reading(desk: Desk, command: AddReading) -> Answer:
    """Records a reading; the stack's forecast becomes stale. Answer: reading_id, stack_id, clashes (ids).

    A reading that does not fit the book (closed stack, day before the stacking, wood that is not in it) is taken
    with a clash.
    """
    one_of("kind", command.kind, READING_KINDS)
    one_of("face", command.face, READING_FACES)
    value, scatter = command.value, None
    if command.kind == "meter":
        if len(command.shown) > MOST_SHOWN:
            within("pieces", len(command.shown), (1, MOST_SHOWN), "pieces")
        for shown in command.shown or (command.value,):
            within("reading", shown, (3.0, 100.0), "%")
        if command.shown:
            value, scatter = mean_shown(command.shown)
    elif command.kind == "oven":
        if command.masses:
            within("masses", len(command.masses), (2, 2), "masses")
            value = OvenMasses(wet=command.masses[0], dry=command.masses[1]).mc_wet()
        within("oven", value, OVEN_MC_WET, "of total mass")
    else:
        within("weighed", command.value, (0.3, 1.3), "of the mass when stacked")
    if command.temp_c is not None:
        within("temperature", command.temp_c, (-40.0, 60.0), "°C")

    def run(stage: Stage) -> Answer:
        stack = find_stack(stage, command.stack_id)
        read_on = stage.day_said(command.happened_on)
        day_between("happened_on", read_on, EARLIEST, stage.last_day)
        held = _held(stage, stack)
        species = find_species(command.species, field="species") if command.species else None
        reading = Reading(
            yard_id=stage.yard.id,
            stack_id=stack.id,
            deed_id=stage.deed.id,
            happened_on=read_on,
            kind=command.kind,
            species_id=species.id if species else held.pop() if len(held) == 1 else None,
            value=value,
            temp_c=command.temp_c,
            typed={
                "value": command.value,
                "species": command.species,
                **({"shown": list(command.shown)} if command.shown else {}),
                **({"masses": list(command.masses)} if command.masses and command.kind == "oven" else {}),
            },
            note=some_text("note", command.note, 300, needed=False),
            face=command.face if command.kind == "meter" else "split",
            pieces=len(command.shown) or None,
            scatter=scatter,
            own=command.own and command.kind == "oven",
        )
        stage.session.add(reading)
        stage.session.flush()
        if reading.own:
            reckon(stage.session, stack.id)
        stranger = species if species and species.id not in held else None
        clashes = [
            raise_clash(stage, "reading", reading.id, code, text)
            for code, text in reading_clashes(stack, reading, stranger)
        ]
        return {"reading_id": reading.id, "stack_id": stack.id, "clashes": clashes}

    return do(desk, "add_reading", command, run)


def judge_reading(desk: Desk, command: JudgeReading) -> Answer:
    """Confirms a reading, sets it aside, or takes either back; it stays as it is. Answer: reading_id, stack_id."""
    one_of("trust", command.trust, READING_TRUSTS)

    def run(stage: Stage) -> Answer:
        row = stage.session.get(Reading, command.reading_id)
        if row is None or row.yard_id != stage.yard.id:
            raise unknown_reading(command.reading_id)
        row.trust, row.judged_deed_id = command.trust, stage.deed.id
        return {"reading_id": row.id, "stack_id": row.stack_id}

    return do(desk, "judge_reading", command, run)


def unknown_reading(reading_id: int) -> InputError:
    return InputError(
        "reading",
        wanted=T_("a reading of this yard"),
        got=reading_id,
        next_move=T_("Choose it on the page of its stack."),
        code="unknown_reading",
    )


def cautions_of(command: AddReading) -> tuple[Text, ...]:
    """What is to be said of a reading as it is taken: past the meter's range, frozen, on the outside."""
    if command.kind != "meter":
        return ()
    value = mean_shown(command.shown)[0] if command.shown else command.value
    return cautions(
        season.Reading("meter", command.happened_on, value, temp_c=command.temp_c, face=command.face)
    )


def readings(desk: Desk, stack_id: int) -> list[ReadingLine]:
    """The readings of a stack, newest first, meter readings with what they mean in this wood."""
    with desk.book.read() as session:
        stack = session.get(Stack, stack_id)
        if stack is None or stack.yard_id != desk.yard_id:
            raise unknown_stack(stack_id)
        query = (
            select(Reading)
            .where(Reading.stack_id == stack_id)
            .order_by(Reading.happened_on.desc(), Reading.id.desc())
        )
        return [_line(reading) for reading in session.scalars(query)]


def _held(stage: Stage, stack: Stack) -> set[str]:
    """The kinds of wood in a stack by the book."""
    return {key.species_id for key, grams in stock(stage.session, stack.spot_id).items() if grams > 0}


def say_if_closed(stack: Stack, day: date) -> Text | None:
    """What is to be said of a report of a stack that is closed by now."""
    if stack.emptied_on is None:
        return None
    if day <= stack.emptied_on:
        return T_(
            "Stack {name} was read on {day}. The reading came only after the stack was closed on {closed}. "
            "It is kept; no forecast hangs on it any more.",
            name=stack.name,
            day=day,
            closed=stack.emptied_on,
        )
    return T_(
        "Stack {name} was closed on {closed}, but was read on {day}. Look whether wood still stands there "
        "or whether another stack was read.",
        name=stack.name,
        day=day,
        closed=stack.emptied_on,
    )


def reading_clashes(stack: Stack, reading: Reading, stranger: Species | None) -> list[tuple[str, Text]]:
    """What of a reading does not fit the book. `stranger`: a wood that the stack does not hold."""
    day = reading.happened_on
    found: list[tuple[str, Text]] = []
    closed = say_if_closed(stack, day)
    if closed is not None:
        found.append(("stack_closed", closed))
    if day < stack.stacked_on:
        found.append(
            (
                "before_stacking",
                T_(
                    "Stack {name} was read on {day}, before it was stacked on {stacked}. The reading is kept and "
                    "the forecast leaves it out. Look at both dates.",
                    name=stack.name,
                    day=day,
                    stacked=stack.stacked_on,
                ),
            )
        )
    if stranger is not None and stack.emptied_on is None:
        found.append(
            (
                "species_not_held",
                T_(
                    "{species} was read in stack {name} on {day}, but by the book none of it stands there. The "
                    "reading is kept as it was said and counts for the whole stack. Look at what stands there.",
                    species=stranger.names,
                    name=stack.name,
                    day=day,
                ),
            )
        )
    return found


def _line(reading: Reading) -> ReadingLine:
    species = get_species(reading.species_id) if reading.species_id else None
    corrected = None
    if reading.kind == "meter" and species is not None:
        corrected = meter_mc(species, reading.value, 20.0 if reading.temp_c is None else reading.temp_c)
    return ReadingLine(
        reading.id,
        reading.happened_on,
        reading.kind,
        reading.value,
        reading.temp_c,
        species,
        reading.note,
        corrected,
        face=reading.face,
        pieces=reading.pieces,
        scatter=reading.scatter,
        since=reading.since,
        own=reading.own,
        wet=reading.wet,
        trust=reading.trust,
        typed=reading.typed,
        weights=tuple((item.label, item.mass_kg) for item in reading.weights),
    )
