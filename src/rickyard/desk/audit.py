"""Who did what: the deeds as they were recorded, newest first, each with the thing it was about and how much."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from rickyard.book.models import (
    CutSheet,
    Deed,
    Entry,
    Household,
    Load,
    LogPiece,
    Offer,
    Order,
    Payment,
    Person,
    Reading,
    SplittingSheet,
    Stack,
    StackMeasure,
    Ticket,
    Undoing,
    Ware,
    WorkSession,
)
from rickyard.desk.context import Desk

# A screen or two of a phone for each tap on "Older".
DEEDS_A_PAGE = 25

# Deeds that are known by something else than their answer's first id below.
_SPLITTING = frozenset({"make_splitting_sheet", "reckon_splitting_sheet"})
_OF_A_TREE = frozenset({"keep_seen", "confirm_naming"})
# Ids in answers, and what they are of; of several the first is what the deed was about.
_ABOUT = (
    ("ticket_id", "ticket"),
    ("order_id", "order"),
    ("offer_id", "offer"),
    ("stack_id", "stack"),
    ("load_id", "load"),
    ("sheet_id", "cut_sheet"),
    ("household_id", "household"),
    ("ware_id", "ware"),
    ("naming_id", "naming"),
    ("clash_id", "clash"),
    ("session_id", "work"),
    ("weather_file_id", "weather"),
    ("photo_id", "photo"),
    ("person_id", "person"),
    ("sign_in_id", "sign_in"),
    ("yard_id", "yard"),
)
_FORGETTING = frozenset({"forget_reason", "forget_household", "forget_buyer"})
_MASSES = ("mass_g", "written_off_g", "brought_back_g")


@dataclass(frozen=True)
class Thing:
    """What a deed was about. `number` is that of a paper or load, `name` what people call it; it may have neither."""

    kind: str
    id: int
    number: int | None = None
    name: str = ""


@dataclass(frozen=True)
class Amount:
    """How much a deed was about, as far as it was about an amount; what is said is not None.

    `typed` is as somebody typed it. `ranked_m3` and `loose_m3` are outside volumes, `mass_kg` is oven-dry and the
    book's, `money_minor` the price, the sum or the payment, `owed_minor` what was left to pay then.
    `reading` is a kind of reading and its value as it was entered.
    """

    typed: str = ""
    ranked_m3: float | None = None
    loose_m3: float | None = None
    mass_kg: float | None = None
    logs: int | None = None
    hours: float | None = None
    lines: int | None = None
    reading: tuple[str, float] | None = None
    money_minor: int | None = None
    owed_minor: int | None = None
    currency: str = ""


@dataclass(frozen=True)
class DeedLine:
    """One deed; `who` is empty when nobody was named. `answer` holds the numbers of what it made.

    `reason`: why something was taken back or forgotten.
    """

    id: int
    kind: str
    who: str
    happened_at: datetime
    recorded_at: datetime
    answer: dict[str, Any]
    thing: Thing | None = None
    reason: str = ""
    amount: Amount = field(default_factory=Amount)


def deeds_done(
    desk: Desk, *, before: int | None = None, person_id: int | None = None, limit: int = DEEDS_A_PAGE
) -> list[DeedLine]:
    """At most `limit` deeds, those older than `before` (a deed's id) and of one person if said."""
    with desk.book.read() as session:
        query = (
            select(Deed, Person.name)
            .outerjoin(Person, Person.id == Deed.person_id)
            .where(Deed.yard_id == desk.yard_id)
            .order_by(Deed.id.desc())
            .limit(limit)
        )
        if before is not None:
            query = query.where(Deed.id < before)
        if person_id is not None:
            query = query.where(Deed.person_id == person_id)
        found = [(deed, name or "") for deed, name in session.execute(query)]
        deeds = [deed for deed, _ in found]
        rows = _Rows(session, deeds)
        currency = desk.yard(session).currency
        return [
            DeedLine(
                deed.id,
                deed.kind,
                name,
                deed.happened_at,
                deed.recorded_at,
                deed.answer,
                rows.thing(deed),
                rows.reason(deed),
                rows.amount(deed, currency),
            )
            for deed, name in found
        ]


def _about(deed: Deed) -> tuple[str, int] | None:
    """(kind, id) of what a deed was about, by its answer."""
    answer = deed.answer
    if deed.kind in _OF_A_TREE and answer.get("naming_id"):
        return "naming", int(answer["naming_id"])
    if answer.get("subject_kind") and answer.get("subject_id"):
        # The photo is gone; what it showed is not.
        return str(answer["subject_kind"]), int(answer["subject_id"])
    for name, kind in _ABOUT:
        if isinstance(answer.get(name), int):
            splitting = kind == "cut_sheet" and deed.kind in _SPLITTING
            return ("splitting_sheet" if splitting else kind), int(answer[name])
    return None


class _Rows:
    """The rows that some deeds were about, read kind by kind."""

    def __init__(self, session: Session, deeds: Sequence[Deed]) -> None:
        self._session = session
        self._of = {deed.id: _about(deed) for deed in deeds}
        ids: dict[str, set[int]] = defaultdict(set)
        for about in self._of.values():
            if about is not None:
                ids[about[0]].add(about[1])
        self._found = {
            kind: self._by_id(table, ids[kind])
            for kind, table in (
                ("ticket", Ticket),
                ("order", Order),
                ("offer", Offer),
                ("stack", Stack),
                ("load", Load),
                ("cut_sheet", CutSheet),
                ("splitting_sheet", SplittingSheet),
                ("household", Household),
                ("ware", Ware),
                ("work", WorkSession),
                ("person", Person),
            )
        }
        self._measures = self._measured(ids["stack"])
        self._readings = self._by_id(
            Reading, {one for deed in deeds if (one := deed.answer.get("reading_id"))}
        )
        self._logs = self._count_logs(ids["load"])
        self._reasons = self._why(deeds)

    def thing(self, deed: Deed) -> Thing | None:
        about = self._of[deed.id]
        if about is None:
            return None
        kind, number = about
        rows = self._found.get(kind)
        if rows is None:
            return Thing(kind, number)
        row = rows.get(number)
        if row is None:
            return None
        return Thing(kind, number, getattr(row, "number", None), getattr(row, "name", ""))

    def reason(self, deed: Deed) -> str:
        return self._reasons.get(deed.id, "")

    def amount(self, deed: Deed, currency: str) -> Amount:
        said: dict[str, Any] = {}
        answer, about = deed.answer, self._of[deed.id]
        row = None if about is None else self._found.get(about[0], {}).get(about[1])
        match row:
            case Ticket() if deed.kind == "pay":
                said = {"money_minor": self._paid(row, answer), "owed_minor": answer.get("owed_minor")}
                currency = row.currency
            case Ticket() if "payment_id" in answer:
                payment = self._session.get(Payment, answer["payment_id"])
                said = {
                    "money_minor": payment.amount_minor if payment is not None else None,
                    "owed_minor": answer.get("owed_minor"),
                }
                currency = row.currency
            case Ticket() if "total_minor" in answer:
                said = {"ranked_m3": row.outside_m3, "money_minor": answer["total_minor"]}
                currency = row.currency
            case Order():
                said = {"typed": row.typed, "money_minor": row.total_minor}
                if not row.typed:
                    said["ranked_m3"] = row.outside_m3
            case Load() if deed.kind.startswith("take_in"):
                said = {"typed": row.typed, "money_minor": row.paid_minor}
                if not row.typed:
                    said["logs"] = self._logs.get(row.id)
            case Offer():
                said = {"typed": row.typed, "money_minor": row.asked_minor}
            case Ware():
                said = {"money_minor": row.price_minor}
            case WorkSession():
                said = {"hours": row.hours}
        measure = self._measures.get(deed.id)
        reading = self._readings.get(answer.get("reading_id", 0))
        if measure is not None:
            said["ranked_m3" if measure.piled == "ranked" else "loose_m3"] = measure.outside_m3
        if reading is not None:
            said["reading"] = (reading.kind, reading.value)
        if deed.kind == "make_cut_sheet":
            said["logs"] = answer.get("logs")
        if deed.kind == "take_in_list":
            said["lines"] = int(answer.get("new", 0)) + int(answer.get("changed", 0))
        grams = next((answer[name] for name in _MASSES if isinstance(answer.get(name), int)), None)
        if grams is not None:
            said["mass_kg"] = grams / 1000
        return Amount(**said, currency=currency)

    def _paid(self, ticket: Ticket, answer: Mapping[str, Any]) -> int | None:
        """What was paid; deeds of earlier versions said only what was left, and that after one payment alone."""
        if "paid_minor" in answer:
            return int(answer["paid_minor"])
        left = ticket.total_minor
        for amount in self._session.scalars(
            select(Payment.amount_minor).where(Payment.ticket_id == ticket.id).order_by(Payment.id)
        ):
            left -= amount
            if left == answer.get("owed_minor"):
                return amount
        return None

    def _why(self, deeds: Sequence[Deed]) -> Mapping[int, str]:
        """Of deeds that took something back or out: in their answer, beside what they took back, or in the journal."""
        found = {
            deed.id: said
            for deed in deeds
            if deed.kind in _FORGETTING and (said := deed.answer.get("reason") or deed.answer.get("why"))
        }
        back = [deed for deed in deeds if deed.kind.startswith("undo_")]
        if back:
            query = select(Undoing.deed_id, Undoing.reason).where(
                Undoing.deed_id.in_([deed.id for deed in back])
            )
            found |= dict(self._session.execute(query).all())
        # A move that was taken back has no row of its own; its reversal says why.
        numbers = {deed.answer["number"]: deed for deed in back if deed.kind == "undo_moving"}
        if numbers:
            undone = aliased(Entry)
            moves = (
                select(undone.number, Entry.reason)
                .join(undone, undone.id == Entry.reverses_id)
                .where(undone.yard_id == back[0].yard_id, undone.number.in_(numbers))
            )
            found |= {numbers[number].id: why for number, why in self._session.execute(moves)}
        return found

    def _by_id(self, table: type[Any], ids: set[int]) -> Mapping[int, Any]:
        if not ids:
            return {}
        return {row.id: row for row in self._session.scalars(select(table).where(table.id.in_(ids)))}

    def _measured(self, stacks: set[int]) -> Mapping[int, StackMeasure]:
        """By the deed that measured; found by their stacks, for which there is an index."""
        if not stacks:
            return {}
        query = select(StackMeasure).where(
            StackMeasure.stack_id.in_(stacks), StackMeasure.deed_id.in_(self._of)
        )
        return {row.deed_id: row for row in self._session.scalars(query) if row.deed_id is not None}

    def _count_logs(self, loads: set[int]) -> Mapping[int, int]:
        if not loads:
            return {}
        query = (
            select(LogPiece.load_id, func.count())
            .where(LogPiece.load_id.in_(loads))
            .group_by(LogPiece.load_id)
        )
        return {load_id: int(count) for load_id, count in self._session.execute(query)}
