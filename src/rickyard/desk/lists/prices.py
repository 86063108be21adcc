"""A price list: wares are known by their name."""

from __future__ import annotations

import re
from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book.models import Ware, Yard
from rickyard.desk.checks import PIECE_LENGTH_M
from rickyard.desk.lists.columns import column
from rickyard.desk.lists.lines import GREEN, Line, Reader
from rickyard.desk.lists.planned import Fact, How, PlannedLine
from rickyard.desk.wares import SetWare, WareFacts, setting_ware
from rickyard.errors import InputError
from rickyard.measure.listing import TextRow
from rickyard.show.symbols import fold
from rickyard.text import T_
from rickyard.wood import find_species

# What the deed's fields are called in our columns.
_NAMES = {"piece_length": "length", "length_tolerance": "tolerance", "species": "wood", "price_unit": "unit"}
_HOW: tuple[tuple[str, str, How, str], ...] = (
    ("wood", "species", "species", ""),
    ("form", "form", "word", "form"),
    ("length", "piece_length_m", "length", ""),
    ("tolerance", "length_tolerance_m", "length", ""),
    ("moisture", "max_mc_wet", "moisture", ""),
    ("price", "price_minor", "money", ""),
    ("unit", "price_unit", "word", "price_unit"),
    ("active", "active", "yes", ""),
)
_ANY_WOOD = ("any", "any wood", "all", "tout", "tout bois", "tous", "n'importe", "mixed", "melange")


def plan(reader: Reader, rows: Sequence[TextRow], session: Session, yard: Yard) -> list[PlannedLine]:
    """What each line becomes. Of a ware that the book has, what a line leaves open stays as it is."""
    wares = {fold(ware.name): ware for ware in session.scalars(select(Ware).where(Ware.yard_id == yard.id))}
    seen: dict[str, int] = {}
    planned: list[PlannedLine] = []
    for row in rows:
        line = Line(reader, row)
        name = line.needed("name", T_("the name of what is sold"), T_("Name it, or take the line out."))
        line.once(name, seen, lambda first: T_("Line {line} has it too; take one of them out.", line=first))
        facts = _facts(line, name, wares.get(fold(name)))
        found = (
            _planned(line, facts, wares.get(fold(name)), yard.currency)
            if facts is not None and line.sound
            else None
        )
        if found is not None:
            planned.append(found)
    return planned


def _facts(line: Line, name: str, known: Ware | None) -> WareFacts | None:
    length = line.length("length", *PIECE_LENGTH_M)
    tolerance = line.length("tolerance", 0.0, 0.5)
    species = _species(line)
    form = line.choice("form")
    green = fold(line.said("moisture")) in GREEN
    moisture = None if green else line.moisture("moisture", 0.05, 0.60)
    price = line.money("price")
    unit = line.price_unit("unit", "price")
    active = line.yes("active")
    if known is not None:
        return WareFacts(
            name=known.name,
            species=tuple(known.species_ids) if species is None else species,
            form=form or known.form,
            piece_length_m=known.piece_length_m if length is None else length,
            length_tolerance_m=known.length_tolerance_m if tolerance is None else tolerance,
            max_mc_wet=None if green else known.max_mc_wet if moisture is None else moisture,
            price_minor=known.price_minor if price is None else price,
            price_unit=unit or known.price_unit,
            active=known.active if active is None else active,
        )
    if not line.sound:
        return None
    line.needed("length", T_("a length such as 16 in or 40 cm"), T_("Say how long the pieces are."))
    line.needed("price", T_("a price"), T_("Say what it costs."))
    line.needed(
        "moisture",
        T_("how dry it is sold, with the basis (20 % wet), or the word green"),
        T_("A new ware needs it: the list promises nothing that it does not say."),
    )
    if unit is None:
        line.complain(
            "unit",
            T_("one of cord, stacked m³, loose m³"),
            T_("nothing"),
            T_("Say for which of them the price is, in a column of its own or behind the price."),
        )
    if length is None or price is None or unit is None or not line.sound:
        return None
    return WareFacts(
        name=name,
        species=species or (),
        form=form or "split",
        piece_length_m=length,
        length_tolerance_m=0.05 if tolerance is None else tolerance,
        max_mc_wet=moisture,
        price_minor=price,
        price_unit=unit,
        active=active is not False,
    )


def _species(line: Line) -> tuple[str, ...] | None:
    said = line.said("wood")
    if not said:
        return None
    if fold(said) in _ANY_WOOD:
        return ()
    found: list[str] = []
    for name in filter(None, (part.strip() for part in re.split(r"[;,|/\n]", said))):
        try:
            found.append(find_species(name, field="wood").id)
        except InputError as error:
            line.complain("wood", error.wanted, name[:80], error.next_move)
    return tuple(dict.fromkeys(found))


def _planned(line: Line, facts: WareFacts, known: Ware | None, currency: str) -> PlannedLine | None:
    try:
        run = setting_ware(
            SetWare(key="", facts=facts, ware_id=known.id if known is not None else None), currency
        )
    except InputError as error:
        line.complain_of(error, _NAMES)
        return None
    shown: list[Fact] = []
    for fact, attribute, how, group in _HOW:
        item = column("prices", fact)
        assert item is not None
        value = getattr(facts, attribute)
        was = None
        if known is not None:
            was = tuple(known.species_ids) if attribute == "species" else getattr(known, attribute)
        # A length that was converted twice is still the same length.
        close = isinstance(value, float) and isinstance(was, float) and abs(value - was) < 1e-6
        changes = known is not None and value != was and not close
        shown.append(Fact(fact, item.plainly, value, how, was, changes, group))
    if known is None:
        return PlannedLine(line.number, "new", facts.name, tuple(shown), None, (), run)
    if any(fact.changes for fact in shown):
        return PlannedLine(line.number, "change", facts.name, tuple(shown), known.id, (), run)
    return PlannedLine(line.number, "same", facts.name, tuple(shown), known.id)
