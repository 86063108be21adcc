"""Moisture readings of a stack: pin meter, oven sample, weighed pieces."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select

from rickyard.book import stock
from rickyard.book.models import READING_KINDS, Reading, Stack
from rickyard.desk.checks import day_between, one_of, some_text, within
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.stacks import find_stack, unknown_stack
from rickyard.errors import InputError
from rickyard.season import MeterReading, meter_mc
from rickyard.text import T_
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
    """Records a reading; the stack's forecast becomes stale. Answer: reading_id, stack_id."""
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
        day_between("happened_on", command.happened_on, stack.stacked_on, stage.happened_on)
        species_id = _species_of(stage, stack, command.species)
        reading = Reading(
            yard_id=stage.yard.id,
            stack_id=stack.id,
            deed_id=stage.deed.id,
            happened_on=command.happened_on,
            kind=command.kind,
            species_id=species_id,
            value=command.value,
            temp_c=command.temp_c,
            typed={"value": command.value, "species": command.species},
            note=some_text("note", command.note, 300, needed=False),
        )
        stage.session.add(reading)
        stage.session.flush()
        return {"reading_id": reading.id, "stack_id": stack.id}

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


def _species_of(stage: Stage, stack: Stack, name: str) -> str | None:
    """The species that was read: as said, if the stack holds it; else the only one in the stack; else unknown."""
    held = {key.species_id for key, grams in stock(stage.session, stack.spot_id).items() if grams > 0}
    if name:
        species = find_species(name, field="species")
        if species.id not in held:
            raise InputError(
                "species",
                wanted=T_("a kind of wood that stands in this stack"),
                got=species.common_en,
                next_move=T_("Choose one of its kinds, or leave this open."),
            )
        return species.id
    return held.pop() if len(held) == 1 else None


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
