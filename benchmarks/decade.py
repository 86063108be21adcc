"""A busy yard's book of ten years: 1,500 stacks, 8,000 orders, 40,000 entries in the journal, one fixed seed.

    python -m benchmarks.decade /tmp/decade.sqlite            makes it, a year after the other
    python -m benchmarks.decade /tmp/decade.sqlite --years 2  so many more years; run again to go on

The yard, its people, prices and readings are invented, and so is its course of business: a stack every two or
three days, sold oldest first. Loads, stacks, households and wares are made by the desk's own deeds. So is every
`BY_DEED`th order, delivery, sale at the gate, measure and reading. By deeds alone tens of thousands of sales would
take an hour, so the others are written by the book's own functions (`do_once`, `post`) with the same rows.
Forecasts are made up (an exponential towards a floor, with a spread): the figures are about pages, not drying.
All deeds of a year stand in one transaction.
"""

from __future__ import annotations

import argparse
import copy
import io
import pickle
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from benchmarks import decade_facts as facts
from rickyard.book import Book, Move, StockKey, check, do_once, next_number, portion, post, stock
from rickyard.book.models import (
    Clash,
    Deed,
    Entry,
    Household,
    Lot,
    Naming,
    NamingTruth,
    Order,
    Payment,
    Promise,
    Reading,
    Stack,
    StackForecast,
    StackMeasure,
    Ticket,
)
from rickyard.desk import forecasts
from rickyard.desk.closing import EmptyStack, empty_stack
from rickyard.desk.context import Desk, body_of, noon_utc
from rickyard.desk.deliveries import Deliver, SellAtGate, deliver, sell_at_gate
from rickyard.desk.households import SetHousehold, set_household
from rickyard.desk.learning import keep_lessons
from rickyard.desk.naming import ConfirmNaming, KeepSeen, confirm_naming, keep_seen
from rickyard.desk.orders import CancelOrder, PlaceOrder, cancel_order, place_order
from rickyard.desk.people import AddPerson, add_person
from rickyard.desk.readings import AddReading, add_reading
from rickyard.desk.seen import Seen
from rickyard.desk.spots import yard_spot
from rickyard.desk.stacking import Dimensions, MeasureStack, PiecesFacts, StackUp, measure_stack, stack_up
from rickyard.desk.stacks import wood_in_stock
from rickyard.desk.tickets import Pay, pay
from rickyard.desk.wares import SetWare, WareFacts, set_ware
from rickyard.desk.wood_in import Harvest, TakeInLogs, TakeInRough, load_spot, take_in_logs, take_in_rough
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.identify import Answer
from rickyard.measure import CORD_M3, LogRow, solid_share
from rickyard.wood import get_species

SEED = 11
YEARS, DAYS = 10, 3652
STACKS, LOADS, ORDERS, GATE_SALES, HOMES, NAMINGS = 1_500, 1_520, 8_000, 20_000, 1_500, 400
BY_DEED = 25
FIRST_SALE_DAY, CUT_AFTER_DAYS, MEASURED_EVERY_DAYS = 330, 40, 45
MANY, FEW = 160, 120
LOAD_M3 = 24.0
FIRST_HOMES = 150
FORECASTS = 12


@dataclass
class Pile:
    """A standing stack as the yard's people know it."""

    id: int
    name: str
    spot_id: int
    ware: int
    stacked_on: date
    held: dict[StockKey, int]
    outside_m3: float
    measured_g: int
    promised_m3: float = 0.0
    read: int = 0
    lots: dict[int, tuple[str, str, str, str]] = field(default_factory=dict)

    @property
    def ranked_m3(self) -> float:
        return self.outside_m3 * sum(wood_in_stock(self.held).values()) / self.measured_g

    @property
    def free_m3(self) -> float:
        return max(0.0, self.ranked_m3 - self.promised_m3)


@dataclass
class Course:
    """How far the yard's story is; plain values, so that it can be put by and gone on with."""

    yard_id: int
    first: date
    rng: np.random.Generator
    day: int = 0
    made: dict[str, int] = field(default_factory=dict)
    keys: int = 0
    wares: list[int] = field(default_factory=list)
    people: list[int] = field(default_factory=list)
    homes: list[tuple[int, int, str, str, str]] = field(default_factory=list)
    loads: list[tuple[int, date, int]] = field(default_factory=list)
    piles: dict[int, Pile] = field(default_factory=dict)
    due: dict[int, list[tuple[int, int, int, int, float]]] = field(default_factory=dict)
    owed: dict[int, list[tuple[int, int]]] = field(default_factory=dict)
    namings: list[dict[str, Any]] = field(default_factory=list)
    blobs: list[bytes] = field(default_factory=list)


class OneTransaction(Book):
    """A book whose reads and writes share one session until `together` ends."""

    shared: Session | None = None

    @contextmanager
    def together(self) -> Iterator[Session]:
        with super().write() as session:
            self.shared = session
            try:
                yield session
            finally:
                self.shared = None

    @contextmanager
    def write(self, yard_id: int | None = None) -> Iterator[Session]:
        if self.shared is None:
            with super().write(yard_id) as session:
                yield session
            return
        yield self.shared
        self.shared.flush()
        # The next deed reads its rows anew, as in a session of its own.
        self.shared.expunge_all()

    @contextmanager
    def read(self) -> Iterator[Session]:
        if self.shared is None:
            with super().read() as session:
                yield session
            return
        yield self.shared


class Yard:
    """The yard while its story is told."""

    def __init__(self, book: OneTransaction, course: Course) -> None:
        self.book, self.course, self.rng = book, course, course.rng
        self.minute = 0
        self.desk = Desk(book, course.yard_id, self.now)

    # -- the clock and keys ----------------------------------------------------------------------
    @property
    def today(self) -> date:
        return self.course.first + timedelta(days=self.course.day)

    def now(self) -> datetime:
        day = self.today
        return datetime(day.year, day.month, day.day, 17, tzinfo=UTC) + timedelta(minutes=self.minute)

    def told(self) -> dict[str, Any]:
        """Key and person of a command."""
        self.course.keys += 1
        self.minute = min(self.minute + 1, 300)
        people = self.course.people
        return {
            "key": f"decade-{self.course.keys:08d}",
            "person_id": people[self.course.keys % len(people)] if people else None,
        }

    def count(self, what: str) -> int:
        number = self.course.made.get(what, 0)
        self.course.made[what] = number + 1
        return number

    def lacking(self, what: str, whole: int, first: int = 0, last: int = DAYS) -> int:
        """How many are to be made by tonight so that all are there in the end."""
        share = min(1.0, max(0.0, (self.course.day + 1 - first) / (last - first)))
        return int(whole * share) - self.course.made.get(what, 0)

    def once(self, kind: str, command: Any, run: Callable[[Session, Deed], dict[str, Any]]) -> dict[str, Any]:
        """A deed by the book's own function, with the body that the desk's command has."""
        with self.book.write(self.course.yard_id) as session:
            return do_once(
                session,
                self.course.yard_id,
                client_key=command.key,
                kind=kind,
                body=body_of(command),
                happened_at=self.now(),
                recorded_at=self.now(),
                run=lambda deed: run(session, deed),
                person_id=command.person_id,
            )

    # -- a day -----------------------------------------------------------------------------------
    def live(self) -> None:
        self.minute = 0
        while self.course.made.get("home", 0) < FIRST_HOMES or self.lacking("home", HOMES) > 0:
            self.home()
        for _ in range(self.lacking("load", LOADS)):
            self.load()
        for _ in range(self.lacking("stack", STACKS, CUT_AFTER_DAYS + 20)):
            self.stack()
        for delivery in self.course.due.pop(self.course.day, []):
            self.deliver(*delivery)
        for _ in range(self.lacking("order", ORDERS, FIRST_SALE_DAY)):
            self.order()
        for _ in range(self.lacking("gate", GATE_SALES, FIRST_SALE_DAY)):
            self.gate()
        for pile in list(self.course.piles.values()):
            age = (self.today - pile.stacked_on).days
            if age and age % MEASURED_EVERY_DAYS == 0:
                self.measure(pile)
            if age in (120, 240):
                self.read(pile)
        for ticket_id, owed in self.course.owed.pop(self.course.day, []):
            pay(
                self.desk,
                Pay(
                    **self.told(),
                    ticket_id=ticket_id,
                    amount_minor=owed,
                    method="transfer",
                    paid_on=self.today,
                ),
            )
        for _ in range(self.lacking("naming", NAMINGS)):
            self.naming()

    def found(self) -> None:
        """What stands in the book on the first day."""
        for name in facts.HANDS:
            self.course.people.append(
                int(add_person(self.desk, AddPerson(**self.told(), name=name))["person_id"])
            )
        for name, species, length_m, price in facts.WARES:
            sold = WareFacts(name=name, species=species, piece_length_m=length_m, price_minor=price)
            self.course.wares.append(int(set_ware(self.desk, SetWare(**self.told(), facts=sold))["ware_id"]))
        self.course.blobs = [_members(self.rng) for _ in range(FORECASTS)]

    def home(self) -> None:
        number = self.count("home")
        name, address = facts.name_of(self.rng), facts.address_of(self.rng, number)
        phone = f"506-555-{int(self.rng.integers(100, 200)):04d}"
        told = SetHousehold(**self.told(), name=name, address=address, phone=phone)
        home_id = int(set_household(self.desk, told)["household_id"])
        with self.book.read() as session:
            spot_id = session.get_one(Household, home_id).spot_id
        self.course.homes.append((home_id, spot_id, name, address, phone))

    def load(self) -> None:
        number = self.count("load")
        ware = int(self.rng.choice(len(facts.WARES), p=facts.DEMAND))
        mixes = facts.MIXES[ware]
        shares = mixes[int(self.rng.integers(len(mixes)))]
        harvest = Harvest(country="CA", subdivision="NB", county=str(self.rng.choice(facts.COUNTIES)))
        told: dict[str, Any] = {
            "source": str(self.rng.choice(facts.SOURCES)),
            "harvest": harvest,
            "arrived_on": self.today,
            "paid_minor": int(self.rng.integers(600, 1100)) * 100,
        }
        if number % 8 == 0:
            logs = tuple(
                LogRow(
                    species_id=shares[place % len(shares)][0],
                    length_m=4.9,
                    mid_d_m=round(float(self.rng.uniform(0.24, 0.36)), 2),
                    bark_thickness_m=0.01,
                )
                for place in range(44)
            )
            answer = take_in_logs(self.desk, TakeInLogs(**self.told(), logs=logs, **told))
        else:
            rough = TakeInRough(**self.told(), quantity=LOAD_M3, shares=shares, typed="6 1/2 cords", **told)
            answer = take_in_rough(self.desk, rough)
        self.course.loads.append((int(answer["load_id"]), self.today, ware))

    def stack(self) -> None:
        if not self.course.loads or (self.today - self.course.loads[0][1]).days < CUT_AFTER_DAYS:
            return
        number = self.count("stack")
        load_id, _, ware = self.course.loads.pop(0)
        _, _, length_m, _ = facts.WARES[ware]
        with self.book.read() as session:
            left = _solid_m3(session, load_id)
        content = solid_share("ranked", "split", length_m).mid
        outside_m3 = left * 0.95 / content * float(self.rng.uniform(0.97, 1.03))
        size = Dimensions(length_m=round(outside_m3 / (1.5 * 4 * length_m), 2), heights_m=(1.5,), rows=4)
        row = "ABCDEFGH"[number % 8]
        pieces = PiecesFacts(
            name=f"{row}{number + 1}",
            piece_length_m=length_m,
            thickness_m=(0.09, 0.11, 0.13)[number % 3],
            stacked_on=self.today,
            row_label=f"Row {row}",
            x_m=float(3 * (number % 8)),
            y_m=float(2 * (number // 8 % 25)),
        )
        told = StackUp(**self.told(), sources=((load_id, 1.0),), pieces=pieces, outside=size)
        stack_id = int(stack_up(self.desk, told)["stack_id"])
        pile = self.look(stack_id, ware)
        self.course.piles[stack_id] = pile
        blob = self.course.blobs[number % FORECASTS]
        with self.book.write(self.course.yard_id) as session:
            session.add(
                StackForecast(
                    yard_id=self.course.yard_id,
                    stack_id=stack_id,
                    fingerprint="0" * 64,
                    state="done",
                    model="made up",
                    made_at=self.now(),
                    summary=_summary(blob, self.today, 540, 0.2, _shares(pile.held)),
                    members_mc=blob,
                )
            )

    def look(self, stack_id: int, ware: int) -> Pile:
        """What the book says of a stack."""
        with self.book.read() as session:
            stack = session.get_one(Stack, stack_id)
            last = stack.measures[-1]
            held = stock(session, stack.spot_id)
            lots = {key.lot_id: session.get_one(Lot, key.lot_id) for key in held}
            return Pile(
                stack_id,
                stack.name,
                stack.spot_id,
                ware,
                stack.stacked_on,
                held,
                last.outside_m3,
                last.mass_g,
                lots={
                    n: (lot.country, lot.subdivision, lot.county, lot.certificate) for n, lot in lots.items()
                },
            )

    def look_again(self, pile: Pile) -> None:
        """After a deed of the desk."""
        seen = self.look(pile.id, pile.ware)
        pile.held, pile.outside_m3, pile.measured_g = seen.held, seen.outside_m3, seen.measured_g

    # -- sales -----------------------------------------------------------------------------------
    def order(self) -> None:
        number = self.count("order")
        ware = int(self.rng.choice(len(facts.WARES), p=facts.DEMAND))
        sizes = sorted(float(size) for size in self.rng.choice((0.33, 0.5, 0.5, 1.0, 1.0, 1.0, 1.5), 2))
        standing = len(self.course.piles)
        cords = sizes[1] if standing > MANY else sizes[0] if standing < FEW else sizes[number % 2]
        ranked = cords * CORD_M3
        in_days = int(self.rng.integers(4, 50))
        place = int(self.rng.integers(len(self.course.homes)))
        home = self.course.homes[place]
        pile = self.oldest(ware, ranked, least_days=150)
        _, _, _, price = facts.WARES[ware]
        told = PlaceOrder(
            **self.told(),
            household_id=home[0],
            ware_id=self.course.wares[ware],
            ranked_m3=ranked,
            wanted_by=self.today + timedelta(days=in_days),
            typed=f"{cords:g} cords",
            portions=((pile.id, ranked),) if pile else (),
            despite_odds=True,
        )

        def run(session: Session, deed: Deed) -> dict[str, Any]:
            order = Order(
                yard_id=self.course.yard_id,
                number=next_number(session, self.course.yard_id, "order"),
                household_id=home[0],
                ware_id=told.ware_id,
                typed=told.typed,
                outside_m3=ranked,
                asked_on=self.today,
                wanted_by=told.wanted_by,
                state="promised" if pile else "asked",
                total_minor=round(cords * price),
            )
            session.add(order)
            session.flush()
            if pile:
                session.add(
                    Promise(
                        yard_id=self.course.yard_id,
                        order_id=order.id,
                        stack_id=pile.id,
                        outside_m3=ranked,
                        odds=0.9,
                        made_at=self.now(),
                        state="open",
                    )
                )
            return {"order_id": order.id, "number": order.number, "state": order.state, "odds": 0.9}

        by_deed = number % BY_DEED == 0
        answer = place_order(self.desk, told) if by_deed else self.once("place_order", told, run)
        order_id = int(answer["order_id"])
        if pile is None:
            # Noted only; most are called off, the last ones still wait.
            if self.course.day < DAYS - 20:
                cancel_order(
                    self.desk, CancelOrder(**self.told(), order_id=order_id, reason="nothing such was left")
                )
            return
        pile.promised_m3 += ranked
        day = self.course.day + in_days
        self.course.due.setdefault(day, []).append((order_id, int(answer["number"]), place, pile.id, ranked))

    def oldest(self, ware: int, ranked: float, *, least_days: int) -> Pile | None:
        for pile in self.course.piles.values():
            old = (self.today - pile.stacked_on).days >= least_days
            if old and pile.ware == ware and pile.free_m3 > ranked + 0.05:
                return pile
        return None

    def deliver(self, order_id: int, order_number: int, place: int, pile_id: int, ranked: float) -> None:
        number = self.count("delivery")
        pile, home = self.course.piles[pile_id], self.course.homes[place]
        pile.promised_m3 -= ranked
        if number % 31 == 30:
            cancel_order(
                self.desk,
                CancelOrder(**self.told(), order_id=order_id, reason="they heat with something else"),
            )
            return
        late = number % 12 == 0
        told = Deliver(
            **self.told(),
            order_id=order_id,
            delivered_on=self.today,
            driver="Osric Millbrae",
            paid_in_full=not late,
        )
        price = round(ranked / CORD_M3 * facts.WARES[pile.ware][3])

        def run(session: Session, deed: Deed) -> dict[str, Any]:
            order = session.get_one(Order, order_id)
            for promise in order.promises:
                promise.state = "kept"
            order.state = "delivered"
            return self.issue(session, deed, pile, ranked, order.total_minor, home, order, paid=not late)

        if number % BY_DEED == 0:
            answer = deliver(self.desk, told)
            self.look_again(pile)
        else:
            answer = self.once("deliver", told, run)
        if late and price:
            # Some pay after a month; what is owed in the end is still owed.
            later = self.course.day + int(self.rng.integers(7, 60))
            self.course.owed.setdefault(later, []).append(
                (int(answer["ticket_id"]), int(answer["total_minor"]))
            )
        self.close(pile)

    def gate(self) -> None:
        number = self.count("gate")
        ware = int(self.rng.choice(len(facts.WARES), p=facts.DEMAND))
        cords = float(self.rng.choice((1 / 16, 1 / 16, 1 / 8, 1 / 4)))
        ranked = cords * CORD_M3
        pile = self.oldest(ware, ranked, least_days=150)
        if pile is None:
            return
        told = SellAtGate(
            **self.told(),
            stack_id=pile.id,
            ware_id=self.course.wares[ware],
            ranked_m3=ranked,
            typed=f"1/{round(1 / cords)} cord",
            paid_in_full=True,
        )

        def run(session: Session, deed: Deed) -> dict[str, Any]:
            return self.issue(
                session, deed, pile, ranked, round(cords * facts.WARES[ware][3]), None, None, paid=True
            )

        if number % BY_DEED == 0:
            sell_at_gate(self.desk, told)
            self.look_again(pile)
        else:
            self.once("sell_at_gate", told, run)
        self.close(pile)

    def issue(
        self,
        session: Session,
        deed: Deed,
        pile: Pile,
        ranked: float,
        price: int,
        home: tuple[int, int, str, str, str] | None,
        order: Order | None,
        *,
        paid: bool,
    ) -> dict[str, Any]:
        """The rows that `desk.deliveries` writes for a ticket."""
        yard = self.desk.yard(session)
        whole = sum(pile.held.values())
        taken = {
            k: g for k, g in portion(pile.held, round(whole * min(1.0, ranked / pile.ranked_m3))).items() if g
        }
        to_spot = home[1] if home else yard_spot(session, yard.id, "gate")
        moves: list[Move] = []
        for key, grams in taken.items():
            moves += [
                Move(pile.spot_id, key.species_id, key.form, key.lot_id, -grams),
                Move(
                    to_spot,
                    key.species_id,
                    key.form,
                    key.lot_id,
                    grams,
                    quantity=ranked * grams / sum(taken.values()),
                    unit="stacked_m3",
                    method="share of the measured stack",
                    sd_share=0.1,
                ),
            ]
        entry = post(
            session,
            yard.id,
            kind="deliver" if order else "gate_sale",
            happened_at=noon_utc(yard, self.today) if order else self.now(),
            recorded_at=self.now(),
            moves=moves,
            deed_id=deed.id,
        )
        tax = round(price * yard.tax_rate)
        name, _, length_m, unit_price = facts.WARES[pile.ware]
        ticket = Ticket(
            yard_id=yard.id,
            number=next_number(session, yard.id, "ticket"),
            order_id=order.id if order else None,
            household_id=home[0] if home else None,
            entry_id=entry.id,
            issued_at=self.now(),
            delivered_on=self.today,
            outside_m3=ranked,
            price_minor=price,
            tax_minor=tax,
            total_minor=price + tax,
            currency=yard.currency,
            facts={
                "seller": {"name": yard.name, "address": yard.address, "phone": yard.phone},
                "buyer": dict(
                    zip(("name", "address", "phone"), home[2:] if home else ("", "", ""), strict=True)
                ),
                "place": {"country": yard.country, "subdivision": yard.subdivision},
                "order_number": order.number if order else None,
                "ware": name,
                "form": "split",
                "piece_length_m": length_m,
                "piled": "ranked",
                "max_mc_wet": 0.2,
                "price_unit": "cord",
                "unit_price_minor": unit_price,
                "tax_rate": yard.tax_rate,
                "vehicle": "",
                "driver": "",
                "lines": [
                    {
                        "stack": pile.name,
                        "ranked_m3": ranked,
                        "shares": [[species_id, share] for species_id, share in _shares(pile.held)],
                        "piece_length_m": length_m,
                        "measured_on": self.today.isoformat(),
                        "dryness": None,
                    }
                ],
                "harvests": [
                    dict(zip(("country", "subdivision", "county", "certificate"), lot, strict=True))
                    for lot in pile.lots.values()
                ],
            },
        )
        session.add(ticket)
        session.flush()
        if paid:
            session.add(
                Payment(
                    yard_id=yard.id,
                    ticket_id=ticket.id,
                    amount_minor=price + tax,
                    method="cash",
                    paid_on=self.today,
                )
            )
        for key, grams in taken.items():
            pile.held[key] -= grams
        return {"ticket_id": ticket.id, "number": ticket.number, "total_minor": ticket.total_minor}

    def close(self, pile: Pile) -> None:
        """What is left of a stack once it is not worth a sale goes to the shop's stove."""
        if pile.ranked_m3 < 0.4 and pile.promised_m3 < 0.001:
            reason = "odds and ends, used in the shop stove"
            empty_stack(self.desk, EmptyStack(**self.told(), stack_id=pile.id, reason=reason))
            del self.course.piles[pile.id]

    # -- measures, readings, trees ---------------------------------------------------------------
    def measure(self, pile: Pile) -> None:
        number = self.count("measure")
        length_m = facts.WARES[pile.ware][2]
        # Never less than what is promised: those who sell look first.
        outside = max(pile.ranked_m3 * float(self.rng.uniform(0.985, 1.015)), pile.promised_m3 * 1.02)
        if outside < 1.0:
            return
        size = Dimensions(length_m=round(outside / (1.5 * 4 * length_m), 3), heights_m=(1.5,), rows=4)
        told = MeasureStack(**self.told(), stack_id=pile.id, outside=size)
        outside = size.length_m * 1.5 * 4 * length_m

        def run(session: Session, deed: Deed) -> dict[str, Any]:
            outer = yard_spot(session, self.course.yard_id, "outside")
            wood = {key: grams for key, grams in wood_in_stock(pile.held).items() if grams > 0}
            wanted = portion(wood, round(outside * pile.measured_g / pile.outside_m3))
            session.add(
                StackMeasure(
                    yard_id=self.course.yard_id,
                    stack_id=pile.id,
                    deed_id=deed.id,
                    happened_at=self.now(),
                    piled="ranked",
                    length_m=size.length_m,
                    heights_m=[1.5],
                    rows=4,
                    outside_m3=outside,
                    mass_g=sum(wanted.values()),
                    stock_taking=True,
                )
            )
            lacking = {key: wanted[key] - wood[key] for key in wood if wanted[key] != wood[key]}
            moves: list[Move] = []
            for key, grams in lacking.items():
                density = get_species(key.species_id).basic_density_kg_m3
                moves += [
                    Move(pile.spot_id, *key, grams, method="outside dimensions", basic_density_kg_m3=density),
                    Move(outer, *key, -grams),
                ]
            if moves:
                post(
                    session,
                    self.course.yard_id,
                    kind="remeasure",
                    happened_at=self.now(),
                    recorded_at=self.now(),
                    moves=moves,
                    reason="stock-taking",
                    deed_id=deed.id,
                )
            pile.held.update(wanted)
            pile.outside_m3, pile.measured_g = outside, sum(wanted.values())
            return {"stack_id": pile.id, "outside_m3": outside, "difference_g": 0, "clashes": []}

        if number % BY_DEED == 0:
            measure_stack(self.desk, told)
            self.look_again(pile)
        else:
            self.once("measure_stack", told, run)

    def read(self, pile: Pile) -> None:
        """A meter reading; the second one of every third stack has taught the yard something."""
        number = self.count("reading")
        species_id = _shares(pile.held)[0][0]
        percent = round(float(self.rng.uniform(15, 27)), 1)
        told = AddReading(
            **self.told(),
            stack_id=pile.id,
            kind="meter",
            value=percent,
            happened_on=self.today,
            species=species_id,
            temp_c=12.0,
        )

        def run(session: Session, deed: Deed) -> dict[str, Any]:
            reading = Reading(
                yard_id=self.course.yard_id,
                stack_id=pile.id,
                deed_id=deed.id,
                happened_on=self.today,
                kind="meter",
                species_id=species_id,
                value=percent,
                temp_c=12.0,
                typed={},
            )
            session.add(reading)
            session.flush()
            if number % 400 == 399:
                self.clash(session, deed, reading.id, pile, settled=number < 2_600)
            return {"reading_id": reading.id, "clashes": []}

        if number % BY_DEED == 0:
            add_reading(self.desk, told)
        else:
            self.once("add_reading", told, run)
        pile.read += 1
        if pile.read == 2 and number % 3 == 0:
            lesson = {
                "species_id": species_id,
                "thickness_class": "middle",
                "row": f"Row {pile.name[0]}",
                "pace": float(self.rng.normal(0, 0.05)),
                "exposure": float(self.rng.normal(0, 0.05)),
                "precision": (2.0, 0.1, 2.0),
            }
            with self.book.write(self.course.yard_id) as session:
                keep_lessons(session, self.course.yard_id, pile.id, "0" * 64, (lesson,), self.now())

    def clash(self, session: Session, deed: Deed, reading_id: int, pile: Pile, *, settled: bool) -> None:
        session.add(
            Clash(
                yard_id=self.course.yard_id,
                deed_id=deed.id,
                subject_kind="reading",
                subject_id=reading_id,
                code="reading_early",
                msgid="Stack {name} is closed.",
                sentence_values={"name": pile.name},
                raised_at=self.now(),
                settled_at=self.now() if settled else None,
                settled_deed_id=deed.id if settled else None,
                note="looked at it" if settled else "",
            )
        )

    def naming(self) -> None:
        """A tree seen. The key is asked for the first few; the others repeat what it said then."""
        number = self.count("naming")
        answers = facts.SEEN[number % len(facts.SEEN)]
        seen = Seen(
            answers=tuple(Answer(name, (state,), doubt) for name, state, doubt in answers), region="NE"
        )
        told = KeepSeen(**self.told(), seen=seen)
        if number < len(facts.SEEN):
            naming_id = int(keep_seen(self.desk, told)["naming_id"])
            with self.book.read() as session:
                row = session.get_one(Naming, naming_id)
                leave = ("id", "deed_id")
                self.course.namings.append(
                    {c.name: getattr(row, c.name) for c in Naming.__table__.columns if c.name not in leave}
                )
            leader = str(self.course.namings[-1]["leader"])
            confirm = ConfirmNaming(**self.told(), naming_id=naming_id, tree=leader, how="leaf", rename=False)
            confirm_naming(self.desk, confirm)
            return
        like = copy.deepcopy(self.course.namings[number % len(facts.SEEN)])

        def run(session: Session, deed: Deed) -> dict[str, Any]:
            row = Naming(**like, deed_id=deed.id)
            session.add(row)
            session.flush()
            if number % 5 < 3:
                truth = NamingTruth(
                    yard_id=self.course.yard_id,
                    naming_id=row.id,
                    deed_id=deed.id,
                    key_id=like["leader"],
                    how="leaf",
                )
                session.add(truth)
            return {"naming_id": row.id}

        self.once("keep_seen", told, run)


def _solid_m3(session: Session, load_id: int) -> float:
    return sum(
        grams / 1000 / get_species(key.species_id).basic_density_kg_m3
        for key, grams in stock(session, load_spot(session, load_id)).items()
        if key.form == "log"
    )


def _shares(held: Mapping[StockKey, int]) -> list[tuple[str, float]]:
    wood: dict[str, int] = {}
    for key, grams in wood_in_stock(dict(held)).items():
        wood[key.species_id] = wood.get(key.species_id, 0) + grams
    whole = sum(wood.values())
    return [(name, round(grams / whole, 3)) for name, grams in sorted(wood.items(), key=lambda one: -one[1])]


def _members(rng: np.random.Generator, days: int = 960, members: int = 64) -> bytes:
    """Made-up moistures (dry basis) as `forecasts.make` packs them; rough as weather makes them."""
    pace = rng.uniform(60, 150, members)[None, :]
    wobble = np.cumsum(rng.normal(0, 0.0015, (days, members)), axis=0) * 0.3
    mc_db = np.clip(0.17 + 0.6 * np.exp(-np.arange(days)[:, None] / pace) + wobble, 0.08, None)
    packed = io.BytesIO()
    np.savez_compressed(packed, mc_db=np.round(mc_db * 10000).astype(np.uint16))
    return packed.getvalue()


def _summary(
    blob: bytes, start: date, count: int, target: float, shares: list[tuple[str, float]]
) -> dict[str, Any]:
    with np.load(io.BytesIO(blob)) as packed:
        mc_db = packed["mc_db"][:count].astype(np.float64) / 10000
    mc_wet = mc_db / (1 + mc_db)
    low, mid, high = (np.round(np.quantile(mc_wet, q, axis=1), 4) for q in (0.1, 0.5, 0.9))
    first = [int(np.argmax(line <= target)) for line in (low, mid, high)]
    ready = [(start + timedelta(days=day)).isoformat() if day else None for day in first]
    dry = (mc_wet <= target).mean(axis=1)
    return {
        "dates": [start.isoformat(), count],
        "p10": low.tolist(),
        "p50": mid.tolist(),
        "p90": high.tolist(),
        "ready": ready,
        "odds": [
            [(start + timedelta(days=day)).isoformat(), round(float(dry[day]), 4)]
            for day in range(0, count, 7)
        ],
        "parts": [
            {"species_id": name, "share": share, "ready": ready, "p50": mid.tolist()}
            for name, share in shares
        ],
        "layers": [
            {"name": name, "ready": ready, "weeks": [line[::7].tolist() for line in (low, mid, high)]}
            for name in ("top", "middle", "bottom")
        ],
        "warnings": [],
        "doubted": [],
    }


def make_up_forecasts(desk: Desk) -> None:
    """Keeps a made-up forecast for every standing stack whose kept one is stale."""
    rng = np.random.default_rng(SEED)
    blobs = [_members(rng) for _ in range(FORECASTS)]
    for inputs, fresh in forecasts.wanted(desk):
        if not fresh:
            start: date = inputs.pieces["stacked_on"]
            count = min((inputs.until - start).days + 1, 960)
            blob = blobs[inputs.stack_id % FORECASTS]
            summary = _summary(blob, start, count, inputs.target_mc_wet, list(inputs.shares))
            forecasts.keep(desk, inputs, summary, blob)


def begin(target: str, as_of: date) -> tuple[OneTransaction, Course]:
    book = OneTransaction.open(target, create=True)
    first = as_of - timedelta(days=DAYS - 1)
    founded = datetime(first.year, first.month, first.day, 9, tzinfo=UTC)
    desk = set_up_yard(
        book, YardFacts(**facts.YARD), owner="Damaris Quarrystone", seed=SEED, clock=lambda: founded
    )
    return book, Course(desk.yard_id, first, np.random.default_rng(SEED))


def go_on(book: OneTransaction, course: Course, until: int, say: Callable[[str], None]) -> None:
    """So many days of the story; each year is one transaction."""
    while course.day < until:
        began, stop = time.perf_counter(), min(until, course.day + 366)
        with book.together():
            yard = Yard(book, course)
            if course.day == 0:
                yard.found()
            while course.day < stop:
                yard.live()
                course.day += 1
        took = time.perf_counter() - began
        say(f"day {course.day} of {DAYS}, {course.made}, {len(course.piles)} standing, {took:.0f} s")


def make(target: str, say: Callable[[str], None], years: int = YEARS) -> None:
    """Makes the book, or goes on with one that is begun; nothing where it is whole.

    ArithmeticError if the book is not sound in the end.
    """
    kept = Path(f"{target}.course")
    if kept.exists():
        # Written by this program, beside the book it makes.
        course: Course = pickle.loads(kept.read_bytes())
        book = OneTransaction.open(target)
    else:
        book, course = begin(target, datetime.now(UTC).date())
    with book:
        if course.day < DAYS:
            go_on(book, course, min(DAYS, course.day + 366 * years), say)
            kept.write_bytes(pickle.dumps(course))
        if course.day < DAYS:
            return
        make_up_forecasts(Desk(book, course.yard_id))
        report = check(book)
        say(f"{report.entries} entries, {len(report.problems)} problems")
        if not report.ok:
            raise ArithmeticError("\n".join(map(str, report.problems[:20])))


def sizes(target: str) -> str:
    """How much stands in a book."""
    with Book.open(target) as book, book.read() as session:
        counts = [
            session.scalar(select(func.count()).select_from(table)) or 0 for table in (Stack, Order, Entry)
        ]
    return "{:,} stacks, {:,} orders, {:,} entries in the journal".format(*counts)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.decade", description=__doc__)
    parser.add_argument("target")
    parser.add_argument("--years", type=int, default=YEARS, help="how many more years of it are told now")
    args = parser.parse_args()
    make(args.target, print, args.years)


if __name__ == "__main__":
    # By its own name, so that a story begun here is gone on with by whoever imports it.
    from benchmarks import decade

    decade.main()
