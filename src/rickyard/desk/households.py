"""Households: who they are, what they asked for, what they got and owe."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from rickyard.book.models import Household, Payment, Spot, Ticket
from rickyard.desk.checks import some_text
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.editing import must_be_as_seen, state_of
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
    def state(self) -> str:
        """What a form that changes this household has seen."""
        return state_of({name: getattr(self, name) for name in _FACTS})


def set_household(desk: Desk, command: SetHousehold) -> Answer:
    """Answer: household_id."""
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

    return do(desk, "set_household", command, run)


def households(desk: Desk, *, search: str = "") -> list[HouseholdCard]:
    """Households by name; `search` matches part of the name, address or phone."""
    with desk.book.read() as session:
        query = select(Household).where(Household.yard_id == desk.yard_id).order_by(Household.name)
        if search.strip():
            like = f"%{search.strip().lower()}%"
            query = query.where(
                func.lower(Household.name).like(like)
                | func.lower(Household.address).like(like)
                | Household.phone.like(like)
            )
        owed, last = _money(session, desk.yard_id)
        return [_card(home, owed, last) for home in session.scalars(query)]


def household(desk: Desk, household_id: int) -> HouseholdCard:
    with desk.book.read() as session:
        home = find_household(session, desk.yard_id, household_id)
        return _card(home, *_money(session, desk.yard_id))


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


def _money(session: Session, yard_id: int) -> tuple[dict[int, int], dict[int, date]]:
    paid = (
        select(Payment.ticket_id, func.sum(Payment.amount_minor).label("paid"))
        .where(Payment.yard_id == yard_id)
        .group_by(Payment.ticket_id)
        .subquery()
    )
    rows = session.execute(
        select(
            Ticket.household_id,
            func.sum(Ticket.total_minor),
            func.sum(func.coalesce(paid.c.paid, 0)),
            func.max(Ticket.delivered_on),
        )
        .outerjoin(paid, paid.c.ticket_id == Ticket.id)
        .where(Ticket.yard_id == yard_id, Ticket.household_id.is_not(None))
        .group_by(Ticket.household_id)
    ).all()
    owed = {home: int(total) - int(got) for home, total, got, _ in rows}
    return owed, {home: day for home, _, _, day in rows}
