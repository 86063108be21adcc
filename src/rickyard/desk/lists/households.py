"""A list of households: known by name and address together."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book.models import Household, Yard
from rickyard.desk.households import SetHousehold, setting_household
from rickyard.desk.lists.columns import column
from rickyard.desk.lists.lines import Line, Reader
from rickyard.desk.lists.planned import Fact, PlannedLine
from rickyard.errors import InputError
from rickyard.measure.listing import TextRow
from rickyard.show.symbols import fold
from rickyard.text import T_, Text

FACTS = ("name", "address", "phone", "note")


def plan(reader: Reader, rows: Sequence[TextRow], session: Session, yard: Yard) -> list[PlannedLine]:
    """What each line becomes. An empty cell, or a column that is not there, leaves what the book says."""
    homes: dict[str, list[Household]] = {}
    for home in session.scalars(select(Household).where(Household.yard_id == yard.id).order_by(Household.id)):
        homes.setdefault(fold(home.name), []).append(home)
    seen: dict[tuple[str, str], int] = {}
    planned: list[PlannedLine] = []
    for row in rows:
        line = Line(reader, row)
        found = _plan_line(line, homes, seen)
        if found is not None:
            planned.append(found)
    return planned


def _plan_line(
    line: Line, homes: dict[str, list[Household]], seen: dict[tuple[str, str], int]
) -> PlannedLine | None:
    name = line.needed("name", T_("a name"), T_("Write who it is, or take the line out."))
    said = {fact: line.said(fact) for fact in FACTS}
    if not name:
        return None
    who = (fold(name), fold(said["address"]))
    if who in seen:
        line.complain(
            "name",
            T_("each household once"),
            name,
            T_("Line {line} has the same name and address; take one of them out.", line=seen[who]),
        )
        return None
    seen[who] = line.number
    home, notes = _known(line, homes.get(who[0], []), said["address"])
    if not line.sound:
        return None
    before = {fact: getattr(home, fact) for fact in FACTS} if home is not None else dict.fromkeys(FACTS, "")
    after = {fact: said[fact] or before[fact] for fact in FACTS}
    if home is not None:
        # Case and blanks alone are no change of who it is.
        after["name"] = before["name"]
        if fold(after["address"]) == fold(before["address"]):
            after["address"] = before["address"]
    command = SetHousehold(
        key="",
        name=after["name"],
        address=after["address"],
        phone=after["phone"],
        note=after["note"],
        household_id=home.id if home is not None else None,
    )
    try:
        run = setting_household(command)
    except InputError as error:
        line.complain_of(error)
        return None
    facts = tuple(
        Fact(fact, _label(fact), after[fact], was=before[fact], changes=home is not None and changed)
        for fact in FACTS
        if (changed := after[fact] != before[fact]) or after[fact]
    )
    if home is None:
        return PlannedLine(line.number, "new", name, facts, None, notes, run)
    if any(fact.changes for fact in facts):
        return PlannedLine(line.number, "change", home.name, facts, home.id, notes, run)
    return PlannedLine(line.number, "same", home.name, facts, home.id, notes)


def _known(line: Line, same_name: list[Household], address: str) -> tuple[Household | None, tuple[Text, ...]]:
    """The household that a line means, if the book has it; complains where several may be meant."""
    if not same_name:
        return None, ()
    if address:
        exact = [home for home in same_name if fold(home.address) == fold(address)]
        without = [home for home in same_name if not home.address]
        found = exact or (without if len(same_name) == 1 else [])
        if len(found) == 1:
            return found[0], ()
        if not found:
            other = T_("The book has a household of that name at {address}; this will be another one.",
                       address=same_name[0].address or T_("no address"))  # fmt: skip
            return None, (other,)
    elif len(same_name) == 1:
        return same_name[0], ()
    line.complain(
        "name",
        T_("a household that can be told from others"),
        same_name[0].name,
        T_(
            "The book has {count} of that name; say its address, or change it on its page.",
            count=len(same_name),
        ),
    )
    return None, ()


def _label(fact: str) -> Text:
    known = column("households", fact)
    assert known is not None
    return known.label
