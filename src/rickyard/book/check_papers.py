"""The part of `check` that looks at papers: tickets and their money, payments, offers, cutting and splitting sheets.

What a paper says must be what the journal and the tables say. A ticket of which the book keeps fewer facts, from an
earlier version, is held to those it has.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import Select, func, or_, select
from sqlalchemy.orm import Session, aliased, selectinload

from rickyard.book.models import (
    Entry,
    Load,
    LogPiece,
    Lot,
    Order,
    Payment,
    Posting,
    Stack,
    StackMeasure,
    Ticket,
    Undoing,
)
from rickyard.book.offer_tables import Offer
from rickyard.book.sheet_tables import CutSheet, CutSheetLog, SplittingSheet
from rickyard.text import T_, Text

# How far a ticket's tax may be from its price times its rate [minor units], and places on a log from its end [m].
TAX_MINOR = 1
PLACE_M = 0.005
# How far the lines of a ticket may be from its volume [share of it].
LINES_SHARE = 0.001
# How far a share of wood on a ticket may be from its postings': it is rounded to three digits, they to grams.
WOOD_SHARE = 0.002
WOOD_G = 10
# Bark goes with its wood and is no kind of its own on a paper.
BARK = "bark"

Found = Iterator[tuple[str, Text]]


def look_at_papers(session: Session, yard_id: int) -> Found:
    yield from _tickets(session, yard_id)
    yield from _payments(session, yard_id)
    yield from _taken_back(session, yard_id)
    yield from _offers(session, yard_id)
    yield from _cut_sheets(session, yard_id)
    yield from _splitting_sheets(session, yard_id)


def _tickets(session: Session, yard_id: int) -> Found:
    wood: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    of_stack: dict[tuple[int, str], dict[str, int]] = defaultdict(lambda: defaultdict(int))
    places: dict[int, set[tuple[str, ...]]] = defaultdict(set)
    rows = session.execute(
        select(
            Posting.entry_id,
            Posting.species_id,
            Posting.mass_g,
            Stack.name,
            Lot.country,
            Lot.subdivision,
            Lot.county,
            Lot.certificate,
        )
        .join(Ticket, Ticket.entry_id == Posting.entry_id)
        .join(Lot, Lot.id == Posting.lot_id)
        .outerjoin(Stack, Stack.spot_id == Posting.spot_id)
        .where(Ticket.yard_id == yard_id, Posting.form != BARK)
    )
    for entry_id, species_id, mass_g, stack, *place in rows:
        if mass_g > 0:
            places[entry_id].add(tuple(place))
            wood[entry_id][species_id] += mass_g
        elif stack is not None:
            of_stack[entry_id, stack][species_id] -= mass_g
    tickets = session.execute(
        select(
            Ticket.number,
            Ticket.entry_id,
            Ticket.household_id,
            Ticket.outside_m3,
            Ticket.price_minor,
            Ticket.tax_minor,
            Ticket.currency,
            Ticket.facts,
            Order.number,
            Order.household_id,
            Entry.kind,
        )
        .join(Entry, Entry.id == Ticket.entry_id)
        .outerjoin(Order, Order.id == Ticket.order_id)
        .where(Ticket.yard_id == yard_id)
        .order_by(Ticket.number)
    )
    for (
        number,
        entry_id,
        home,
        outside_m3,
        price,
        tax,
        currency,
        facts,
        order_number,
        order_home,
        kind,
    ) in tickets:
        if "tax_rate" in facts and abs(tax - price * facts["tax_rate"]) > TAX_MINOR:
            yield (
                "ticket_money",
                T_(
                    "Ticket {number} says {tax:.2f} {currency} of tax, but {rate:.2%} of its price of {price:.2f} "
                    "{currency} is something else. Compare it with the paper that was handed out.",
                    number=number,
                    tax=tax / 100,
                    rate=facts["tax_rate"],
                    price=price / 100,
                    currency=currency,
                ),
            )
        if order_home != home if order_number is not None else kind == "deliver":
            yield (
                "ticket_of_another",
                T_("Ticket {number} and its order are not of the same household.", number=number),
            )
        if wrong := _unlike(
            facts,
            outside_m3,
            order_number,
            {name: of_stack[entry_id, name] for name in _stacks(facts)},
            wood[entry_id],
            places[entry_id],
        ):
            yield (
                "ticket_facts",
                T_(
                    "What ticket {number} says of its {what} is not what the book says. Compare it with the paper "
                    "that was handed out.",
                    number=number,
                    what=wrong,
                ),
            )


def _unlike(
    facts: dict[str, Any],
    outside_m3: float,
    order_number: int | None,
    of_stack: dict[str, dict[str, int]],
    wood: dict[str, int],
    places: set[tuple[str, ...]],
) -> Text | None:
    """The first thing that the paper says otherwise than the book."""
    if "order_number" in facts and facts["order_number"] != order_number:
        return T_("order")
    if "lines" in facts:
        lines = facts["lines"]
        volume = sum(float(line["ranked_m3"]) for line in lines)
        if abs(volume - outside_m3) > LINES_SHARE * outside_m3:
            return T_("volume")
        if {species_id for line in lines for species_id, _ in line["shares"]} != wood.keys():
            return T_("wood")
        for line in lines:
            # A stack may have got another name since; then there is nothing to hold its line to.
            taken = of_stack[str(line.get("stack"))]
            if taken and not _shares_fit(dict(line["shares"]), taken):
                return T_("wood")
    keys = ("country", "subdivision", "county", "certificate")
    if "harvests" in facts and places != {
        tuple(harvest[key] for key in keys) for harvest in facts["harvests"]
    }:
        return T_("places of harvest")
    return None


def _stacks(facts: dict[str, Any]) -> set[str]:
    return {str(line.get("stack")) for line in facts.get("lines", ())}


def _shares_fit(shares: dict[str, float], taken: dict[str, int]) -> bool:
    """Whether the shares that a line says are those of the wood that was taken from its stack."""
    whole = sum(taken.values())
    near = WOOD_SHARE + WOOD_G / whole
    return all(abs(shares.get(name, 0.0) - taken.get(name, 0) / whole) <= near for name in {*shares, *taken})


def _payments(session: Session, yard_id: int) -> Found:
    paid = func.sum(Payment.amount_minor)
    rows = session.execute(
        select(Ticket.number, Ticket.total_minor, Ticket.currency, paid)
        .join(Payment, Payment.ticket_id == Ticket.id)
        .outerjoin(Undoing, Undoing.payment_id == Payment.id)
        .where(Ticket.yard_id == yard_id, Undoing.id.is_(None))
        .group_by(Ticket.id, Ticket.number, Ticket.total_minor, Ticket.currency)
        .having(paid > Ticket.total_minor)
        .order_by(Ticket.number)
    )
    for number, total, currency, sum_ in rows:
        yield (
            "paid_too_much",
            T_(
                "On ticket {number} of {total:.2f} {currency} stand payments of {paid:.2f} {currency}. One may stand "
                "there twice.",
                number=number,
                total=total / 100,
                paid=int(sum_) / 100,
                currency=currency,
            ),
        )


def cancelled_tickets(yard_id: int) -> Select[int | None]:
    """Ids of the tickets that were taken back."""
    # Without NULLs: `NOT IN` over them would be true of nothing.
    return select(Undoing.ticket_id).where(Undoing.yard_id == yard_id, Undoing.ticket_id.is_not(None))


def _taken_back(session: Session, yard_id: int) -> Found:
    """A ticket is cancelled when its wood is taken back, and only then; no money stands on it, no wood in its load."""
    back = aliased(Entry)
    rows = session.execute(
        select(Ticket.number, Undoing.id)
        .outerjoin(Undoing, Undoing.ticket_id == Ticket.id)
        .outerjoin(back, back.reverses_id == Ticket.entry_id)
        .where(Ticket.yard_id == yard_id, Undoing.id.is_(None) != back.id.is_(None))
        .order_by(Ticket.number)
    )
    for number, undoing_id in rows:
        yield (
            "ticket_half_cancelled",
            T_("The wood of ticket {number} was taken back, but the ticket is not cancelled.", number=number)
            if undoing_id is None
            else T_("Ticket {number} is cancelled, but its wood was not taken back.", number=number),
        )
    counting = Ticket.id.not_in(cancelled_tickets(yard_id))
    orders = session.execute(
        select(Order.number, Order.state, func.count(Ticket.id))
        .join(Ticket, Ticket.order_id == Order.id)
        .where(Order.yard_id == yard_id, counting)
        .group_by(Order.id, Order.number, Order.state)
        .having(or_(Order.state != "delivered", func.count(Ticket.id) > 1))
        .order_by(Order.number)
    )
    for number, state, count in orders:
        yield (
            "ticket_of_open_order",
            T_("Order {number} has {count} tickets that count.", number=number, count=count)
            if state == "delivered"
            else T_("Order {number} has a ticket that counts, but is not delivered.", number=number),
        )
    paid = session.scalars(
        select(Ticket.number)
        .join(Payment, Payment.ticket_id == Ticket.id)
        .outerjoin(Undoing, Undoing.payment_id == Payment.id)
        .where(Ticket.yard_id == yard_id, Undoing.id.is_(None), ~counting)
        .distinct()
        .order_by(Ticket.number)
    )
    for number in paid:
        yield (
            "paid_on_cancelled",
            T_("Ticket {number} is cancelled, but a payment stands on it.", number=number),
        )
    held = session.scalars(
        select(Load.number)
        .join(Undoing, Undoing.load_id == Load.id)
        .join(Posting, Posting.spot_id == Load.spot_id)
        .where(Load.yard_id == yard_id)
        .group_by(Load.id, Load.number, Posting.species_id, Posting.form, Posting.lot_id)
        .having(func.sum(Posting.mass_g) != 0)
    )
    for number in sorted(set(held)):
        yield "load_half_undone", T_("Load {number} was taken back, but wood of it is left.", number=number)
    followed = session.scalars(
        select(Stack.name)
        .join(StackMeasure, StackMeasure.stack_id == Stack.id)
        .join(Undoing, Undoing.measure_id == StackMeasure.id)
        .join(Posting, Posting.spot_id == Stack.spot_id)
        .join(Entry, Entry.id == Posting.entry_id)
        .outerjoin(back, back.reverses_id == Entry.id)
        .where(
            Stack.yard_id == yard_id,
            Entry.kind == "remeasure",
            Entry.deed_id == StackMeasure.deed_id,
            Entry.happened_at == StackMeasure.happened_at,
            back.id.is_(None),
        )
    )
    for name in sorted(set(followed)):
        yield (
            "measure_half_undone",
            T_("A measure of stack {name} was taken back, but the journal still follows it.", name=name),
        )


def _offers(session: Session, yard_id: int) -> Found:
    half = select(Offer.number).where(
        Offer.yard_id == yard_id,
        or_(
            (Offer.state == "open") & Offer.settled_deed_id.is_not(None),
            (Offer.state != "open") & Offer.settled_deed_id.is_(None),
        ),
    )
    for number in session.scalars(half.order_by(Offer.number)):
        yield (
            "offer_half_settled",
            T_("Offer {number} is settled without a deed, or open in spite of one.", number=number),
        )
    offers = session.execute(
        select(Offer.number, Offer.kind, Offer.shares, Offer.logs, Offer.trees)
        .where(Offer.yard_id == yard_id)
        .order_by(Offer.number)
    )
    for number, kind, shares, logs, trees in offers:
        if not {"rough": shares, "logs": logs, "trees": trees}[kind]:
            yield "offer_empty", T_("Offer {number} says nothing of its wood.", number=number)


def _cut_sheets(session: Session, yard_id: int) -> Found:
    sheets = session.scalars(
        select(CutSheet)
        .where(CutSheet.yard_id == yard_id)
        .order_by(CutSheet.number)
        .options(
            selectinload(CutSheet.logs).selectinload(CutSheetLog.ticks),
            selectinload(CutSheet.logs).selectinload(CutSheetLog.findings),
        )
    ).all()
    measured: dict[int, set[int]] = defaultdict(set)
    for load_id, number in session.execute(
        select(LogPiece.load_id, LogPiece.number).where(LogPiece.yard_id == yard_id)
    ):
        measured[load_id].add(number)
    for sheet in sheets:
        if [log.number for log in sheet.logs] != list(range(1, len(sheet.logs) + 1)):
            yield (
                "sheet_logs",
                T_(
                    "The logs of cut sheet {number} are not numbered from 1 without gaps.",
                    number=sheet.number,
                ),
            )
        for log in sheet.logs:
            if log.log_number is not None and log.log_number not in measured[sheet.load_id]:
                yield (
                    "sheet_logs",
                    T_(
                        "Log {log} of cut sheet {number} was not measured in its load.",
                        log=log.number,
                        number=sheet.number,
                    ),
                )
            if not _cuts_fit(log, sheet.wares):
                yield (
                    "sheet_cuts",
                    T_(
                        "The cuts of log {log} of cut sheet {number} do not lie one after the other on it, "
                        "or are for no ware of the sheet, or not as long as it.",
                        log=log.number,
                        number=sheet.number,
                    ),
                )
            if any(_off(log, tick.to_m) for tick in log.ticks) or any(
                _off(log, finding.to_m) for finding in log.findings
            ):
                yield (
                    "sheet_reports",
                    T_(
                        "A report about log {log} of cut sheet {number} lies beyond the end of the log.",
                        log=log.number,
                        number=sheet.number,
                    ),
                )


def _cuts_fit(log: CutSheetLog, wares: Sequence[Mapping[str, Any]]) -> bool:
    before = 0.0
    for from_m, to_m, ware, solid_m3 in log.cuts:
        if from_m < before - PLACE_M or to_m <= from_m or solid_m3 < 0 or not 0 <= ware < len(wares):
            return False
        length = wares[ware].get("length_m")
        allowed = wares[ware].get("tolerance_m", 0.0) + PLACE_M
        if length is None or abs(to_m - from_m - length) > allowed:
            return False
        before = float(to_m)
    return before <= log.length_m + PLACE_M


def _off(log: CutSheetLog, to_m: float | None) -> bool:
    return to_m is not None and to_m > log.length_m + PLACE_M


def _splitting_sheets(session: Session, yard_id: int) -> Found:
    sheets = session.scalars(
        select(SplittingSheet).where(SplittingSheet.yard_id == yard_id).order_by(SplittingSheet.number)
    )
    for sheet in sheets:
        reckoned = sheet.state != "waiting"
        if len(sheet.patterns) != (len(sheet.rounds) if reckoned else 0):
            yield (
                "sheet_patterns",
                T_(
                    "Splitting sheet {number} has {rounds} classes of round and patterns for {patterns}.",
                    number=sheet.number,
                    rounds=len(sheet.rounds),
                    patterns=len(sheet.patterns),
                ),
            )
