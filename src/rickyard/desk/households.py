"""Households: who they are, what they asked for, what they got and owe."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from rickyard.book.models import Household, Payment, Spot, Ticket, Undoing
from rickyard.desk.checks import some_text
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.editing import must_be_as_seen, state_of
from rickyard.desk.paging import after_row, contains, spellings
from rickyard.errors import InputError
from rickyard.text import T_

_FACTS = ("name", "address", "phone", "note")


@dataclass(frozen=True, kw_only=True)
class SetHousehold(Command):
    """A new household, or (with `household_id`) a changed one; `seen` as in `desk.editing`."""

    name: str
    address: str = ""
    phone: str = ""
    note: str = ""
    household_id: int | None = None
    seen: str = ""


@dataclass(frozen=True)
class HouseholdCard:
    id: int
    name: str
    address: str
    phone: str
    note: str
    owed_minor: int
    last_delivery: date | None

    @property
    def forgotten(self) -> bool:
        """Whether who they were was taken out."""
        return self.name == mark_of(self.id)

    @property
    def state(self) -> str:
        """What a form that changes this household has seen."""
        return state_of({name: getattr(self, name) for name in _FACTS})


def set_household(desk: Desk, command: SetHousehold) -> Answer:
    """Answer: household_id."""
    return do(desk, "set_household", command, setting_household(command))


def setting_household(command: SetHousehold) -> Callable[[Stage], Answer]:
    """What setting a household does, for a deed that does more than that."""
    facts = {
        "name": some_text("name", command.name, 120),
        "address": some_text("address", command.address, 300, needed=False),
        "phone": some_text("phone", command.phone, 40, needed=False),
        "note": some_text("note", command.note, 500, needed=False),
    }

    def run(stage: Stage) -> Answer:
        if command.household_id is None:
            spot = Spot(yard_id=stage.yard.id, kind="household")
            stage.session.add(spot)
            stage.session.flush()
            home = Household(yard_id=stage.yard.id, spot_id=spot.id)
            stage.session.add(home)
        else:
            home = find_household(stage.session, stage.yard.id, command.household_id)
            must_be_as_seen(command.seen, {name: getattr(home, name) for name in _FACTS})
        for name, value in facts.items():
            setattr(home, name, value)
        stage.session.flush()
        return {"household_id": home.id}

    return run


def households(
    desk: Desk, *, search: str = "", after: int | None = None, limit: int | None = None
) -> list[HouseholdCard]:
    """Households by name; those after the household `after` in that order, at most `limit`, if said.

    `search` is part of the name, address or phone.
    """
    with desk.book.read() as session:
        query = select(Household).where(Household.yard_id == desk.yard_id)
        if search.strip():
            query = query.where(contains(search, Household.name, Household.address, Household.phone))
        query = after_row(query, Household, after, Household.name, Household.id, descending=False).limit(
            limit
        )
        page = session.scalars(query).all()
        all_of_them = not search.strip() and after is None and limit is None
        owed, last = _money(session, desk.yard_id, None if all_of_them else [home.id for home in page])
        return [_card(home, owed, last) for home in page]


@dataclass(frozen=True)
class HouseholdChoice:
    """A household to choose: two may bear the same name, and the address tells them apart."""

    id: int
    name: str
    address: str


def households_like(desk: Desk, typed: str, limit: int) -> list[HouseholdChoice]:
    """Households whose name or address holds what was typed, at most `limit`: those of that very name first."""
    if not typed.strip():
        return []
    found = households_named(desk, typed)[:limit]
    known = [choice.id for choice in found]
    with desk.book.read() as session:
        query = (
            _choices(desk)
            .where(contains(typed, Household.name, Household.address), Household.id.not_in(known))
            .limit(limit - len(known))
        )
        return found + [
            HouseholdChoice(number, name, address) for number, name, address in session.execute(query)
        ]


def households_named(desk: Desk, name: str) -> list[HouseholdChoice]:
    """Households of this very name, whatever its capitals."""
    with desk.book.read() as session:
        query = _choices(desk).where(func.lower(Household.name).in_(spellings(name)))
        return [HouseholdChoice(number, name, address) for number, name, address in session.execute(query)]


def _choices(desk: Desk) -> Select[int, str, str]:
    query = select(Household.id, Household.name, Household.address).where(Household.yard_id == desk.yard_id)
    return query.order_by(Household.name, Household.id)


def count_households(desk: Desk) -> int:
    with desk.book.read() as session:
        query = select(func.count()).select_from(Household).where(Household.yard_id == desk.yard_id)
        return session.scalar(query) or 0


def household(desk: Desk, household_id: int) -> HouseholdCard:
    with desk.book.read() as session:
        home = find_household(session, desk.yard_id, household_id)
        return _card(home, *_money(session, desk.yard_id, (home.id,)))


def mark_of(household_id: int) -> str:
    """What a household is called once who it was is forgotten."""
    return f"×{household_id}"


def find_household(session: Session, yard_id: int, household_id: int) -> Household:
    home = session.get(Household, household_id)
    if home is None or home.yard_id != yard_id:
        raise InputError(
            "household",
            wanted=T_("a household in this book"),
            got=household_id,
            next_move=T_("Choose it from the list of households, or add it first."),
            code="unknown_household",
        )
    return home


def _card(home: Household, owed: dict[int, int], last: dict[int, date]) -> HouseholdCard:
    return HouseholdCard(
        home.id, home.name, home.address, home.phone, home.note, owed.get(home.id, 0), last.get(home.id)
    )


def _money(
    session: Session, yard_id: int, homes: Sequence[int] | None
) -> tuple[dict[int, int], dict[int, date]]:
    """What these households (None: all) owe, and when the last wood went to them.

    What was taken back does not count.
    """
    of_them = [
        Ticket.yard_id == yard_id,
        Ticket.household_id.is_not(None) if homes is None else Ticket.household_id.in_(homes),
        ~select(Undoing.id).where(Undoing.ticket_id == Ticket.id).exists(),
    ]
    billed = session.execute(
        select(Ticket.household_id, func.sum(Ticket.total_minor), func.max(Ticket.delivered_on))
        .where(*of_them)
        .group_by(Ticket.household_id)
    ).all()
    paid = dict(
        session.execute(
            select(Ticket.household_id, func.sum(Payment.amount_minor))
            .join(Payment, Payment.ticket_id == Ticket.id)
            .where(*of_them, ~select(Undoing.id).where(Undoing.payment_id == Payment.id).exists())
            .group_by(Ticket.household_id)
        ).all()
    )
    owed = {home: int(total) - int(paid.get(home, 0)) for home, total, _ in billed if home is not None}
    return owed, {home: day for home, _, day in billed if home is not None}
