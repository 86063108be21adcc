"""What a bookkeeper takes home: tickets, payments, taxes, what is owed and the journal of wood of a period.

Plain CSV files in one archive, with a manifest that says their columns and proves their bytes (docs/export.md).
Nothing is in them that opens the book: no password, no sign-in, no link of a household, nobody's address or phone.
"""

from __future__ import annotations

import csv
import json
import os
import zipfile
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session, aliased

from rickyard import __version__
from rickyard.book import stock_by_spot
from rickyard.book.exports import DIGEST, MANIFEST, piece_of
from rickyard.book.models import (
    Entry,
    Household,
    Load,
    Lot,
    Order,
    Payment,
    Posting,
    Spot,
    Stack,
    Ticket,
    Undoing,
    Yard,
)
from rickyard.desk.context import Desk, local_day
from rickyard.errors import InputError
from rickyard.text import T_

FORMAT = 1
FIRST_DAY = date(1990, 1, 1)
# Kinds of columns, as in an export of the whole book, and `money`: the amount in the currency's main unit.
_MONEY = Decimal("0.01")
# A spreadsheet takes a cell that begins so for a formula, whoever typed it.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")

Row = Sequence[Any]


@dataclass(frozen=True)
class Period:
    """Days in the yard's own time zone, the last one included."""

    first: date
    last: date


@dataclass(frozen=True)
class Bookkeeping:
    """The archive that was made: rows of each of its files."""

    path: Path
    period: Period
    rows: dict[str, int]


def checked_period(first: date | None, last: date | None, today: date) -> Period:
    """A period to take out; from the beginning and until today where nothing is said. InputError if it is none."""
    period = Period(FIRST_DAY if first is None else first, today if last is None else last)
    if not FIRST_DAY <= period.last <= today:
        raise InputError(
            "last",
            wanted=T_(
                "a day from {first} to today, {today}", first=FIRST_DAY.isoformat(), today=today.isoformat()
            ),
            got=period.last.isoformat(),
            next_move=T_("What is to come is not in the book yet."),
        )
    if not FIRST_DAY <= period.first <= period.last:
        raise InputError(
            "first",
            wanted=T_(
                "a day from {first} to the last one, {last}",
                first=FIRST_DAY.isoformat(),
                last=period.last.isoformat(),
            ),
            got=period.first.isoformat(),
            next_move=T_("Check which of the two days comes first."),
        )
    return period


def write_bookkeeping(desk: Desk, period: Period, archive: Path) -> Bookkeeping:
    """Writes the archive, of the book as it is at one moment; others read and write meanwhile."""
    folder = archive.with_suffix("")
    folder.mkdir()
    with desk.book.read() as session:
        reader = _Reader(session, desk.yard(session), period)
        files = {
            "tickets.csv": (_TICKETS, reader.tickets),
            "payments.csv": (_PAYMENTS, reader.payments),
            "taxes.csv": (_TAXES, reader.taxes),
            "owed.csv": (_OWED, reader.owed),
            "wood_bought.csv": (_BOUGHT, reader.bought),
            "journal.csv": (_JOURNAL, reader.journal),
            "stock.csv": (_STOCK, reader.stock),
        }
        rows = {name: _write(folder / name, columns, read()) for name, (columns, read) in files.items()}
        manifest = {
            "format": FORMAT,
            "kind": "bookkeeping",
            "rickyard": __version__,
            "made_at": desk.now().isoformat(),
            "yard": reader.yard.name,
            "timezone": reader.yard.timezone,
            "currency": reader.yard.currency,
            "first": period.first.isoformat(),
            "last": period.last.isoformat(),
            "tables": {
                name: {"rows": rows[name], "columns": columns} for name, (columns, _) in files.items()
            },
            "contents": {name: asdict(piece_of(folder / name)) for name in files},
        }
    text = (json.dumps(manifest, indent=1, ensure_ascii=False) + "\n").encode()
    (folder / MANIFEST).write_bytes(text)
    (folder / DIGEST).write_text(f"{sha256(text).hexdigest()}  {MANIFEST}\n", encoding="ascii")
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED, strict_timestamps=False) as packed:
        for name in (MANIFEST, DIGEST, *files):
            packed.write(folder / name, name)
    return Bookkeeping(archive, period, rows)


_TICKETS = {
    "number": "whole",
    "delivered_on": "day",
    "issued_at": "moment",
    "cancelled_on": "day",
    "order_number": "whole",
    "household": "whole",
    "buyer": "text",
    "ware": "text",
    "stacked_m3": "number",
    "price": "money",
    "tax_rate": "number",
    "tax": "money",
    "total": "money",
    "paid": "money",
    "owed": "money",
    "currency": "text",
}
_PAYMENTS = {
    "id": "whole",
    "paid_on": "day",
    "taken_back_on": "day",
    "ticket_number": "whole",
    "household": "whole",
    "buyer": "text",
    "method": "text",
    "amount": "money",
    "currency": "text",
}
_TAXES = {
    "month": "text",
    "currency": "text",
    "tax_rate": "number",
    "tickets": "whole",
    "cancelled": "whole",
    "price": "money",
    "tax": "money",
    "total": "money",
}
_OWED = {
    "household": "whole",
    "buyer": "text",
    "ticket_number": "whole",
    "delivered_on": "day",
    "days": "whole",
    "total": "money",
    "paid": "money",
    "owed": "money",
    "currency": "text",
}
_BOUGHT = {
    "load_number": "whole",
    "arrived_on": "day",
    "taken_back_on": "day",
    "source": "text",
    "quantity": "text",
    "paid": "money",
    "currency": "text",
}
_JOURNAL = {
    "entry": "whole",
    "kind": "text",
    "happened_at": "moment",
    "happened_on": "day",
    "recorded_at": "moment",
    "reverses_entry": "whole",
    "reason": "text",
    "ticket_number": "whole",
    "place": "text",
    "place_name": "text",
    "species": "text",
    "form": "text",
    "harvest": "text",
    "certificate": "text",
    "oven_dry_kg": "number",
    "quantity": "number",
    "unit": "text",
    "method": "text",
    "sd_share": "number",
    "basic_density_kg_m3": "number",
}
_STOCK = {
    "place": "text",
    "place_name": "text",
    "species": "text",
    "form": "text",
    "before_kg": "number",
    "after_kg": "number",
}


class _Reader:
    """One moment's book and a period: the rows of each file."""

    def __init__(self, session: Session, yard: Yard, period: Period) -> None:
        self.session, self.yard, self.period = session, yard, period
        zone = ZoneInfo(yard.timezone)
        # The first moment of the period, and the first one after it.
        self.since, self.until = (
            datetime.combine(day, time(0), zone).astimezone(UTC)
            for day in (period.first, period.last + timedelta(days=1))
        )

    def tickets(self) -> Iterator[Row]:
        """Those that were delivered or cancelled in the period; what was paid on them until its end."""
        for ticket, order_number, cancelled_on, paid in self._all_tickets():
            if self._in(ticket.delivered_on) or (cancelled_on is not None and self._in(cancelled_on)):
                yield (
                    ticket.number,
                    ticket.delivered_on,
                    ticket.issued_at,
                    cancelled_on,
                    order_number,
                    ticket.household_id,
                    ticket.facts["buyer"]["name"],
                    ticket.facts["ware"],
                    ticket.outside_m3,
                    ticket.price_minor,
                    ticket.facts["tax_rate"],
                    ticket.tax_minor,
                    ticket.total_minor,
                    paid,
                    self._owed(ticket, cancelled_on, paid),
                    ticket.currency,
                )

    def payments(self) -> Iterator[Row]:
        """Those that were paid in the period, or taken back in it because they were entered wrongly."""
        query = (
            select(Payment, Ticket, Undoing.undone_at)
            .join(Ticket, Ticket.id == Payment.ticket_id)
            .outerjoin(Undoing, Undoing.payment_id == Payment.id)
            .where(Payment.yard_id == self.yard.id)
            .order_by(Payment.paid_on, Payment.id)
            .execution_options(yield_per=500)
        )
        for payment, ticket, undone_at in self.session.execute(query):
            undone_on = self._day(undone_at)
            if self._in(payment.paid_on) or (undone_on is not None and self._in(undone_on)):
                yield (
                    payment.id,
                    payment.paid_on,
                    undone_on,
                    ticket.number,
                    ticket.household_id,
                    ticket.facts["buyer"]["name"],
                    payment.method,
                    payment.amount_minor,
                    ticket.currency,
                )

    def taxes(self) -> Iterator[Row]:
        """By month of delivery; what was cancelled goes off in the month in which it was."""
        sums: dict[tuple[str, str, float], list[int]] = defaultdict(lambda: [0] * 5)
        for ticket, _, cancelled_on, _ in self._all_tickets():
            for day, sign in ((ticket.delivered_on, 1), (cancelled_on, -1)):
                if day is None or not self._in(day):
                    continue
                row = sums[f"{day:%Y-%m}", ticket.currency, float(ticket.facts["tax_rate"])]
                row[0 if sign > 0 else 1] += 1
                for place, amount in enumerate((ticket.price_minor, ticket.tax_minor, ticket.total_minor)):
                    row[2 + place] += sign * amount
        for (month, currency, rate), found in sorted(sums.items()):
            yield (month, currency, rate, *found)

    def owed(self) -> Iterator[Row]:
        """What stands open when the period ends, of older tickets too; below zero is to be given back."""
        for ticket, _, cancelled_on, paid in self._all_tickets():
            owed = self._owed(ticket, cancelled_on, paid)
            if owed and ticket.delivered_on <= self.period.last:
                yield (
                    ticket.household_id,
                    ticket.facts["buyer"]["name"],
                    ticket.number,
                    ticket.delivered_on,
                    (self.period.last - ticket.delivered_on).days,
                    ticket.total_minor,
                    paid,
                    owed,
                    ticket.currency,
                )

    def bought(self) -> Iterator[Row]:
        """Loads that came in the period, or were taken back in it because they did not come so."""
        query = (
            select(Load, Undoing.undone_at)
            .outerjoin(Undoing, Undoing.load_id == Load.id)
            .where(Load.yard_id == self.yard.id)
            .order_by(Load.arrived_on, Load.id)
        )
        for load, undone_at in self.session.execute(query):
            undone_on = self._day(undone_at)
            if self._in(load.arrived_on) or (undone_on is not None and self._in(undone_on)):
                yield (
                    load.number,
                    load.arrived_on,
                    undone_on,
                    load.source,
                    load.typed,
                    load.paid_minor,
                    self.yard.currency,
                )

    def journal(self) -> Iterator[Row]:
        """A row for each posting, in the order in which the entries happened."""
        names = self._places()
        reversed_ = aliased(Entry)
        query = (
            select(Posting, Entry, Lot, reversed_.number, Ticket.number)
            .join(Entry, Entry.id == Posting.entry_id)
            .join(Lot, Lot.id == Posting.lot_id)
            .outerjoin(reversed_, reversed_.id == Entry.reverses_id)
            .outerjoin(Ticket, Ticket.entry_id == Entry.id)
            .where(
                Entry.yard_id == self.yard.id,
                Entry.happened_at >= self.since,
                Entry.happened_at < self.until,
            )
            .order_by(Entry.happened_at, Entry.number, Posting.id)
            .execution_options(yield_per=500)
        )
        for posting, entry, lot, reverses, ticket_number in self.session.execute(query):
            yield (
                entry.number,
                entry.kind,
                entry.happened_at,
                local_day(self.yard, entry.happened_at),
                entry.recorded_at,
                reverses,
                entry.reason,
                ticket_number,
                *names[posting.spot_id],
                posting.species_id,
                posting.form,
                ", ".join(part for part in (lot.county, lot.subdivision, lot.country) if part),
                lot.certificate,
                posting.mass_g / 1000,
                posting.quantity,
                posting.unit,
                posting.method,
                posting.sd_share,
                posting.basic_density_kg_m3,
            )

    def stock(self) -> Iterator[Row]:
        """What lay in loads and stacks when the period began and when it ended."""
        names = self._places()
        sums: dict[tuple[str, str, str, str], list[int]] = defaultdict(lambda: [0, 0])
        for place, moment in enumerate((self.since, self.until)):
            # `at` counts what happened at that very moment too: the last one before it is meant.
            held = stock_by_spot(
                self.session, self.yard.id, kinds=("load", "stack"), at=moment - timedelta(microseconds=1)
            )
            for spot_id, there in held.items():
                for key, grams in there.items():
                    sums[(*names[spot_id], key.species_id, key.form)][place] += grams
        for row, (before, after) in sorted(sums.items()):
            if before or after:
                yield (*row, before / 1000, after / 1000)

    def _all_tickets(self) -> Iterator[tuple[Ticket, int | None, date | None, int]]:
        """(ticket, number of its order, day on which it was cancelled, paid until the end of the period)."""
        of_payment, of_ticket = aliased(Undoing), aliased(Undoing)
        # A payment that was taken back after the period stood when it ended.
        paid = (
            select(func.coalesce(func.sum(Payment.amount_minor), 0))
            .outerjoin(of_payment, of_payment.payment_id == Payment.id)
            .where(
                Payment.ticket_id == Ticket.id,
                Payment.paid_on <= self.period.last,
                or_(of_payment.id.is_(None), of_payment.undone_at >= self.until),
            )
            .scalar_subquery()
        )
        query = (
            select(Ticket, Order.number, of_ticket.undone_at, paid)
            .outerjoin(Order, Order.id == Ticket.order_id)
            .outerjoin(of_ticket, of_ticket.ticket_id == Ticket.id)
            .where(Ticket.yard_id == self.yard.id)
            .order_by(Ticket.number)
            .execution_options(yield_per=500)
        )
        for ticket, order_number, undone_at, paid_minor in self.session.execute(query):
            yield ticket, order_number, self._day(undone_at), int(paid_minor)

    def _day(self, moment: datetime | None) -> date | None:
        return None if moment is None else local_day(self.yard, moment)

    def _owed(self, ticket: Ticket, cancelled_on: date | None, paid: int) -> int:
        """Of a ticket that was cancelled by the end of the period nothing is to be paid any more."""
        gone = cancelled_on is not None and cancelled_on <= self.period.last
        return (0 if gone else ticket.total_minor) - paid

    def _in(self, day: date) -> bool:
        return self.period.first <= day <= self.period.last

    def _places(self) -> dict[int, tuple[str, str]]:
        """(kind, name) of every spot: a load's number, a stack's name, a household's number and name."""
        of = self.yard.id
        found = {
            spot_id: (str(kind), "")
            for spot_id, kind in self.session.execute(select(Spot.id, Spot.kind).where(Spot.yard_id == of))
        }
        for spot_id, number in self.session.execute(
            select(Load.spot_id, Load.number).where(Load.yard_id == of)
        ):
            found[spot_id] = ("load", str(number))
        for table in (Stack, Household):
            for spot_id, name in self.session.execute(
                select(table.spot_id, table.name).where(table.yard_id == of)
            ):
                found[spot_id] = (found[spot_id][0], name)
        return found


def _write(path: Path, columns: dict[str, str], rows: Iterable[Row]) -> int:
    count = 0
    writers = [_WRITE[kind] for kind in columns.values()]
    # With a mark of the byte order: without it spreadsheets take the letters for others than they are.
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        sheet = csv.writer(file)
        sheet.writerow(columns)
        for row in rows:
            sheet.writerow(
                ["" if value is None else write(value) for write, value in zip(writers, row, strict=True)]
            )
            count += 1
        file.flush()
        os.fsync(file.fileno())
    return count


def _text(value: str) -> str:
    return f"'{value}" if value.startswith(_FORMULA) else value


_WRITE: dict[str, Callable[[Any], str]] = {
    "whole": str,
    "number": repr,
    "text": _text,
    "day": date.isoformat,
    "moment": lambda value: value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
    "money": lambda value: str(value * _MONEY),
}
