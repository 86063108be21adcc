"""Moisture readings of a stack: pin meter, oven sample, weighed pieces."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select

from rickyard.book import stock
from rickyard.book.models import READING_KINDS, Reading, Stack
from rickyard.desk.checks import EARLIEST, day_between, one_of, some_text, within
from rickyard.desk.clashes import raise_clash
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.stacks import find_stack, unknown_stack
from rickyard.errors import InputError
from rickyard.season import MeterReading, meter_mc
from rickyard.text import T_, Text
from rickyard.wood import Species, find_species, get_species


@dataclass(frozen=True, kw_only=True)
class AddReading(Command):
    """A reading of a stack.

    `value` by kind: `meter`, the percent shown (dry basis, as meters show it); `oven`, the moisture of the
    sample as a fraction of its total mass; `weighed`, the mass now over the mass when stacked.
    """

    stack_id: int
    kind: str
    value: float
    happened_on: date
    species: str = ""
    temp_c: float | None = None
    note: str = ""


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


def add_reading(desk: Desk, command: AddReading) -> Answer:
    """Records a reading; the stack's forecast becomes stale. Answer: reading_id, stack_id, clashes (ids).

    A reading that does not fit the book (closed stack, day before the stacking, wood that is not in it) is taken
    with a clash.
    """
    one_of("kind", command.kind, READING_KINDS)
    if command.kind == "meter":
        within("reading", command.value, (3.0, 100.0), "%")
    elif command.kind == "oven":
        within("oven", command.value, (0.0, 0.75), "of total mass")
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
            value=command.value,
            temp_c=command.temp_c,
            typed={"value": command.value, "species": command.species},
            note=some_text("note", command.note, 300, needed=False),
        )
        stage.session.add(reading)
        stage.session.flush()
        clashes = _clashes(stage, stack, reading, species if species and species.id not in held else None)
        return {"reading_id": reading.id, "stack_id": stack.id, "clashes": clashes}

    return do(desk, "add_reading", command, run)


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


def _clashes(stage: Stage, stack: Stack, reading: Reading, stranger: Species | None) -> list[int]:
    """What of a reading does not fit the book, kept beside it. `stranger`: a wood that the stack does not hold."""
    day = reading.happened_on
    found: list[tuple[str, Text]] = []
    if stack.emptied_on is not None:
        closed = stack.emptied_on
        if day <= closed:
            text = T_(
                "Stack {name} was read on {day}. The reading came only after the stack was closed on {closed}. "
                "It is kept; no forecast hangs on it any more.",
                name=stack.name,
                day=day,
                closed=closed,
            )
        else:
            text = T_(
                "Stack {name} was closed on {closed}, but was read on {day}. Look whether wood still stands there "
                "or whether another stack was read.",
                name=stack.name,
                day=day,
                closed=closed,
            )
        found.append(("stack_closed", text))
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
                    species=stranger.common_en or stranger.scientific,
                    name=stack.name,
                    day=day,
                ),
            )
        )
    return [raise_clash(stage, "reading", reading.id, code, text) for code, text in found]


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
    )
