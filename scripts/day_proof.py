"""Proves that a book holds what was sent on a busy day: each deed with all that it does, once, and nothing else.

The proof reads the tables and is no part of the program: what a deed must have done is reckoned here from what was
sent. Each row is claimed by the one deed that made it; a row that nobody claims comes from a deed half done or done
twice, and a row that is missing from one half done or lost.
"""

from __future__ import annotations

import io
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

from PIL import Image
from scripts.busy_day import PHOTO_PX, Sent, pixels_of
from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from rickyard.book import Book, check
from rickyard.book.models import (
    Clash,
    Deed,
    Entry,
    Load,
    Order,
    Payment,
    Photo,
    Posting,
    Promise,
    Reading,
    Spot,
    Stack,
    StackMeasure,
    Ticket,
    Ware,
    Yard,
)
from rickyard.errors import RickyardError
from rickyard.measure import CORD_M3

# Volumes are sums of fractions; a portion of a stack is rounded to whole grams.
VOLUME_M3 = 1e-6
# Of which tables each row must be claimed.
CLAIMED = (Entry, Load, Stack, StackMeasure, Reading, Order, Promise, Ticket, Payment, Photo)
# What is numbered from 1 on without gaps.
NUMBERED = (Entry, Load, Order, Ticket)


def faults(target: str, sent: Mapping[str, Sent], answers: Mapping[str, dict[str, Any]]) -> list[str]:
    """What is wrong with a book in which `sent` may have been done (by key) and `answers` were acknowledged."""
    with Book.open(target) as book:
        return [str(problem) for problem in check(book).problems] + halves(book, sent, answers)


def halves(book: Book, sent: Mapping[str, Sent], answers: Mapping[str, dict[str, Any]]) -> list[str]:
    """The same without what `check` finds: deeds lost, half done, done twice or otherwise, and rows of nobody."""
    with book.read() as session:
        return _Proof(book, session, sent, answers).run()


class _Proof:
    def __init__(
        self,
        book: Book,
        session: Session,
        sent: Mapping[str, Sent],
        answers: Mapping[str, dict[str, Any]],
    ) -> None:
        self.book, self.session, self.sent, self.answers = book, session, sent, answers
        self.found: list[str] = []
        self.key = ""
        self.rows: dict[type[Any], dict[int, Any]] = {
            table: {row.id: row for row in session.scalars(select(table))} for table in CLAIMED
        }
        self.claims: dict[type[Any], Counter[int]] = {table: Counter() for table in CLAIMED}
        self.spots = dict(session.execute(select(Spot.id, Spot.kind)).all())
        self.yard = session.scalars(select(Yard)).one()
        self.wares = {ware.id: ware for ware in session.scalars(select(Ware))}
        self.postings: dict[int, list[Posting]] = defaultdict(list)
        for posting in session.scalars(select(Posting)):
            self.postings[posting.entry_id].append(posting)
        self.clashes: dict[int, set[int]] = defaultdict(set)
        for clash in session.scalars(select(Clash)):
            self.clashes[clash.deed_id].add(clash.id)
        session.scalars(select(Order).options(selectinload(Order.household))).all()
        self.deeds = {row.client_key: row for row in session.scalars(select(Deed).order_by(Deed.id))}
        # What later deeds did to an order.
        self.promised = {
            self._told(key)["order_id"] for key in self.deeds if self._kind(key) == "promise-order"
        }
        self.delivered = {self._told(key)["order_id"] for key in self.deeds if self._kind(key) == "deliver"}

    def run(self) -> list[str]:
        for key, given in self.answers.items():
            row = self.deeds.get(key)
            if row is None:
                self.found.append(f"the acknowledged deed {key} ({self._kind(key)}) is not in the book")
            elif self._kind(key) == "photo":
                if given != {"go": self._told(key)["go"]}:
                    self.found.append(f"the photo {key} was answered {given}")
            elif any(row.answer.get(name) != value for name, value in given.items()):
                self.found.append(f"the deed {key} has the answer {row.answer}, but {given} was given")
        for key, row in self.deeds.items():
            self.key = key
            if key not in self.sent:
                self.found.append(f"the deed {key} was never sent")
                continue
            kind = self._kind(key)
            self._is("kind", row.kind, "add_photo" if kind == "photo" else kind.replace("-", "_"))
            try:
                _OF_KIND[kind](self, row, self._told(key))
            except KeyError as error:
                self.found.append(f"the deed {key} ({kind}) is half done: {error} is not there")
            raised, said = self.clashes[row.id], set(row.answer.get("clashes", ()))
            self._is("clashes that its answer leaves out", raised - said, set())
        for table, rows in self.rows.items():
            for number in rows:
                if (times := self.claims[table][number]) != 1:
                    self.found.append(f"{times} deeds made row {number} of {table.__tablename__}")
        for table in NUMBERED:
            numbers = sorted(row.number for row in self.rows[table].values())
            if numbers != list(range(1, len(numbers) + 1)):
                self.found.append(f"numbers of {table.__tablename__} have gaps: {numbers}")
        return self.found

    # -- what each kind of deed does ----------------------------------------------------------------
    def take_in(self, row: Deed, told: dict[str, Any]) -> None:
        load = self._one(Load, "note", self.key)
        if load is None:
            return
        self._is("answer", row.answer, {"load_id": load.id, "number": load.number})
        self._is("source", (load.source, load.arrived_on), (told["source"], _day(told["arrived_on"])))
        _, entries = self._entries(row, "take_in")
        came = [posting for posting in entries if posting.spot_id == load.spot_id]
        self._is("species", {posting.species_id for posting in came}, {"acer_saccharum", "red_oak_group"})
        wood = sum(posting.quantity or 0.0 for posting in came if posting.form == "log")
        self._near("volume that came", wood, told["quantity"])

    def stack_up(self, row: Deed, told: dict[str, Any]) -> None:
        stack = self._one(Stack, "note", self.key)
        if stack is None:
            return
        self._is("answer", (row.answer["stack_id"], row.answer["name"]), (stack.id, told["pieces"]["name"]))
        measure = self._one(StackMeasure, "deed_id", row.id)
        if measure is not None:
            self._is("stack measured", measure.stack_id, stack.id)
            self._measured_as(measure, told)
        entry, moved = self._entries(row, "stack")
        [(load_id, _)] = told["sources"]
        load = self.rows[Load].get(load_id)
        if load is None or entry is None:
            self.found.append(f"the deed {self.key} is half done: no load or no entry")
            return
        at_load = [
            posting
            for lines in self.postings.values()
            for posting in lines
            if posting.spot_id == load.spot_id
        ]
        self._is("wood left in its load", sum(posting.mass_g for posting in at_load), 0)
        left = -sum(posting.mass_g for posting in moved if posting.spot_id == load.spot_id)
        lost = sum(posting.mass_g for posting in moved if self.spots[posting.spot_id] == "loss")
        of_entry = [posting for posting in moved if posting.entry_id == entry.id]
        stacked = sum(posting.mass_g for posting in of_entry if posting.spot_id == stack.spot_id)
        self._is("wood stacked and lost", stacked + lost, left)

    def measure(self, row: Deed, told: dict[str, Any]) -> None:
        measure = self._one(StackMeasure, "deed_id", row.id)
        if measure is None:
            return
        self._is("stack measured", (measure.stack_id, measure.stock_taking), (told["stack_id"], True))
        self._measured_as(measure, told)
        self._near("volume answered", row.answer["outside_m3"], measure.outside_m3)
        spot = self.rows[Stack][told["stack_id"]].spot_id
        _, moved = self._entries(row, "")
        changed = sum(posting.mass_g for posting in moved if posting.spot_id == spot)
        self._is("difference [g]", changed, row.answer["difference_g"])

    def reading(self, row: Deed, told: dict[str, Any]) -> None:
        reading = self._one(Reading, "deed_id", row.id)
        self._no_entry(row)
        if reading is None:
            return
        self._is("answer", row.answer["reading_id"], reading.id)
        self._is(
            "reading",
            (reading.stack_id, reading.kind, reading.value, reading.note),
            (told["stack_id"], told["kind"], told["value"], self.key),
        )

    def order(self, row: Deed, told: dict[str, Any]) -> None:
        order = self._one(Order, "note", self.key)
        self._no_entry(row)
        if order is None:
            return
        at_once = bool(told["portions"])
        state = (
            "delivered"
            if order.id in self.delivered
            else ("promised" if at_once or order.id in self.promised else "asked")
        )
        self._is("answer", (row.answer["order_id"], row.answer["number"]), (order.id, order.number))
        self._is("state answered", row.answer["state"], "promised" if at_once else "asked")
        self._is(
            "order",
            (order.household_id, order.ware_id, order.outside_m3, order.state),
            (told["household_id"], told["ware_id"], told["ranked_m3"], state),
        )
        self._is("price of the order", order.total_minor, self._price(told["ware_id"], told["ranked_m3"]))
        if at_once:
            self._promise(order.id, told)

    def promise(self, row: Deed, told: dict[str, Any]) -> None:
        self._no_entry(row)
        self._is(
            "state answered", (row.answer["order_id"], row.answer["state"]), (told["order_id"], "promised")
        )
        self._promise(told["order_id"], told)

    def _promise(self, order_id: int, told: dict[str, Any]) -> None:
        [(stack_id, ranked_m3)] = told["portions"]
        promise = self._one(Promise, "order_id", order_id)
        if promise is not None:
            state = "kept" if order_id in self.delivered else "open"
            self._is(
                "promise",
                (promise.stack_id, promise.outside_m3, promise.state),
                (stack_id, ranked_m3, state),
            )

    def deliver(self, row: Deed, told: dict[str, Any]) -> None:
        order = self.rows[Order][told["order_id"]]
        [(stack_id, ranked_m3)] = told["portions"]
        ticket = self._sold(row, "deliver", order.household.spot_id, stack_id, ranked_m3, order.ware_id, told)
        if ticket is not None:
            self._is(
                "ticket",
                (ticket.order_id, ticket.household_id, ticket.facts["order_number"], ticket.facts["driver"]),
                (order.id, order.household_id, order.number, self.key),
            )
            self._is("day", ticket.delivered_on, _day(told["delivered_on"]))

    def gate_sale(self, row: Deed, told: dict[str, Any]) -> None:
        gate = next(number for number, kind in self.spots.items() if kind == "gate")
        ticket = self._sold(
            row, "gate_sale", gate, told["stack_id"], told["ranked_m3"], told["ware_id"], told
        )
        if ticket is not None:
            buyer = ticket.facts["buyer"]["name"]
            self._is("ticket", (ticket.order_id, ticket.household_id, buyer), (None, None, self.key))

    def _sold(
        self,
        row: Deed,
        kind: str,
        buyer_spot: int,
        stack_id: int,
        ranked_m3: float,
        ware_id: int,
        told: dict[str, Any],
    ) -> Ticket | None:
        """Wood from the stack to the buyer, the ticket of just that, and its money."""
        entry, moved = self._entries(row, kind)
        if entry is None:
            return None
        own = [posting for posting in moved if posting.entry_id == entry.id]
        came = [posting for posting in own if posting.spot_id == buyer_spot]
        gone = [posting for posting in own if posting.spot_id == self.rows[Stack][stack_id].spot_id]
        brought = sum(posting.mass_g for posting in came)
        self._is("wood from the stack [g]", -sum(posting.mass_g for posting in gone), brought)
        self._is("postings of the sale", len(came) + len(gone), len(own))
        self._near("volume sold", sum(posting.quantity or 0.0 for posting in came), ranked_m3)
        ticket = self._one(Ticket, "entry_id", entry.id)
        if ticket is None:
            return None
        self._is(
            "answer",
            row.answer,
            {"ticket_id": ticket.id, "number": ticket.number, "total_minor": ticket.total_minor},
        )
        self._near("volume of the ticket", ticket.outside_m3, ranked_m3)
        price = self._price(ware_id, ranked_m3)
        tax = _whole(Decimal(price) * Decimal(repr(self.yard.tax_rate)))
        self._is("price and tax", (ticket.price_minor, ticket.tax_minor), (price, tax))
        paid = ticket.total_minor if told["paid_in_full"] else told["paid_minor"]
        if paid:
            self._paid(ticket.id, paid, told["pay_method"], ticket.delivered_on)
        return ticket

    def pay(self, row: Deed, told: dict[str, Any]) -> None:
        self._no_entry(row)
        self._is("ticket paid", row.answer["ticket_id"], told["ticket_id"])
        self._paid(told["ticket_id"], told["amount_minor"], told["method"], _day(told["paid_on"]))

    def _paid(self, ticket_id: int, amount_minor: int, method: str, day: date) -> None:
        """One payment of just that which no other deed made."""
        for number, payment in self.rows[Payment].items():
            same = (payment.ticket_id, payment.amount_minor, payment.method, payment.paid_on)
            if same == (ticket_id, amount_minor, method, day) and not self.claims[Payment][number]:
                self.claims[Payment][number] += 1
                return
        self.found.append(f"the deed {self.key} is half done: its payment of {amount_minor} is not there")

    def photo(self, row: Deed, told: dict[str, Any]) -> None:
        photo = self._one(Photo, "deed_id", row.id)
        self._no_entry(row)
        if photo is None:
            return
        self._is("answer", row.answer, {"photo_id": photo.id, "sha256": photo.sha256})
        self._is(
            "subject",
            (photo.subject_kind, photo.subject_id, photo.note),
            (told["subject_kind"], told["subject_id"], self.key),
        )
        try:
            # Its hash is proven as it is read.
            content = self.book.files.get(photo.sha256)
        except RickyardError as error:
            self.found.append(f"the deed {self.key} is half done: {error}")
            return
        with Image.open(io.BytesIO(content)) as image:
            self._is("size of the photo", image.size, (PHOTO_PX, PHOTO_PX))
            self._is("what is in the photo", image.convert("RGB").tobytes() == pixels_of(self.key), True)

    # -- helpers ------------------------------------------------------------------------------------
    def _kind(self, key: str) -> str:
        return self.sent[key].kind if key in self.sent else ""

    def _told(self, key: str) -> dict[str, Any]:
        return self.sent[key].told

    def _is(self, what: str, got: object, wanted: object) -> None:
        if got != wanted:
            self.found.append(
                f"the deed {self.key} ({self._kind(self.key)}) is half or wrongly done: {what} is {got!r}, "
                f"and {wanted!r} was sent"
            )

    def _near(self, what: str, got: float, wanted: float) -> None:
        if abs(got - wanted) > VOLUME_M3:
            self._is(what, got, wanted)

    def _one(self, table: type[Any], column: str, value: object) -> Any:
        """The only row of the deed in a table, claimed."""
        found = [row for row in self.rows[table].values() if getattr(row, column) == value]
        self.claims[table].update(row.id for row in found)
        self._is(f"rows of {table.__tablename__}", len(found), 1)
        return found[0] if len(found) == 1 else None

    def _entries(self, row: Deed, kind: str) -> tuple[Entry | None, list[Posting]]:
        """The deed's one entry of a kind ("" for none), and all its postings, those of measures that follow too."""
        entries = [entry for entry in self.rows[Entry].values() if entry.deed_id == row.id]
        self.claims[Entry].update(entry.id for entry in entries)
        own = [entry for entry in entries if entry.kind != "remeasure"]
        self._is("kinds of its entries", [entry.kind for entry in own], [kind] if kind else [])
        return (own[0] if len(own) == 1 else None), [
            posting for entry in entries for posting in self.postings[entry.id]
        ]

    def _no_entry(self, row: Deed) -> None:
        self._is("its entries", [e.number for e in self.rows[Entry].values() if e.deed_id == row.id], [])

    def _measured_as(self, measure: StackMeasure, told: dict[str, Any]) -> None:
        size = told["outside"]
        self._is(
            "measure",
            (measure.length_m, list(measure.heights_m), measure.rows),
            (size["length_m"], size["heights_m"], size["rows"]),
        )

    def _price(self, ware_id: int, ranked_m3: float) -> int:
        """By the cord."""
        return _whole(Decimal(repr(ranked_m3)) / Decimal(repr(CORD_M3)) * self.wares[ware_id].price_minor)


def _whole(amount: Decimal) -> int:
    return int(amount.to_integral_value(rounding=ROUND_HALF_EVEN))


def _day(text: str) -> date:
    return date.fromisoformat(text)


_OF_KIND: dict[str, Callable[[_Proof, Deed, dict[str, Any]], None]] = {
    "take-in-rough": _Proof.take_in,
    "stack-up": _Proof.stack_up,
    "measure-stack": _Proof.measure,
    "add-reading": _Proof.reading,
    "place-order": _Proof.order,
    "promise-order": _Proof.promise,
    "deliver": _Proof.deliver,
    "sell-at-gate": _Proof.gate_sale,
    "pay": _Proof.pay,
    "photo": _Proof.photo,
}
