"""Bookkeeping and archives of tables, from both databases."""

from __future__ import annotations

import csv
import io
import zipfile
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from sqlalchemy import select

from rickyard.book import Book, export_archive, export_book
from rickyard.book.models import Payment
from rickyard.desk.bookkeeping import Period, write_bookkeeping
from rickyard.desk.context import Desk, new_key
from rickyard.desk.deliveries import SellAtGate, sell_at_gate
from rickyard.desk.stacking import Dimensions, OpeningStack, PiecesFacts, opening_stack
from rickyard.desk.tickets import Pay, pay
from rickyard.desk.undoing import UndoDelivery, UndoPayment, undo_delivery, undo_payment
from rickyard.desk.wares import SetWare, WareFacts, set_ware
from rickyard.desk.wood_in import Harvest
from rickyard.desk.yards import YardFacts, set_up_yard

# In the yard it is still the last evening of November.
EVENING = datetime(2026, 12, 1, 2, 30, tzinfo=UTC)


@pytest.fixture
def desk(book: Book, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Desk:
    """A stack, and a cord of it sold at the gate for 380 dollars, 100 of them paid."""
    monkeypatch.setenv("RICKYARD_FILES", str(tmp_path / "server-files"))
    facts = YardFacts(
        name="Thornbeck Yard",
        country="CA",
        subdivision="NB",
        climate_place="Fredericton, NB",
        timezone="America/Moncton",
        tax_rate=0.15,
    )
    desk = set_up_yard(book, facts, seed=7, clock=lambda: EVENING)
    stack = opening_stack(
        desk,
        OpeningStack(
            key=new_key(),
            shares=(("sugar maple", 1.0),),
            harvest=Harvest(country="CA", subdivision="NB", county="York"),
            pieces=PiecesFacts(
                name="A1", piece_length_m=0.406, thickness_m=0.1, stacked_on=date(2026, 4, 15)
            ),
            outside=Dimensions(length_m=8.0, heights_m=(1.5,), rows=2),
        ),
    )["stack_id"]
    ware = set_ware(
        desk,
        SetWare(
            key=new_key(),
            facts=WareFacts(
                name="Green hardwood", species=("sugar maple",), piece_length_m=0.406, price_minor=38000
            ),
        ),
    )["ware_id"]
    sold = sell_at_gate(
        desk,
        SellAtGate(key=new_key(), stack_id=stack, ware_id=ware, ranked_m3=3.6246, buyer="Éloïse Thornbeck"),
    )
    pay(
        desk,
        Pay(key=new_key(), ticket_id=sold["ticket_id"], amount_minor=10000, paid_on=date(2026, 11, 30)),
    )
    return desk


def read(desk: Desk, period: Period, archive: Path) -> dict[str, list[dict[str, str]]]:
    made = write_bookkeeping(desk, period, archive)
    with zipfile.ZipFile(archive) as packed:
        texts = {
            name: packed.read(name).decode("utf-8-sig") for name in packed.namelist() if name.endswith("csv")
        }
    found = {name: list(csv.DictReader(io.StringIO(text, newline=""))) for name, text in texts.items()}
    assert {name: len(lines) for name, lines in found.items()} == made.rows
    return found


def test_a_month_ends_with_the_yard_s_own_day(desk: Desk, tmp_path: Path) -> None:
    november = read(desk, Period(date(2026, 11, 1), date(2026, 11, 30)), tmp_path / "11.zip")
    december = read(desk, Period(date(2026, 12, 1), date(2026, 12, 31)), tmp_path / "12.zip")

    (ticket,) = november["tickets.csv"]
    assert (ticket["delivered_on"], ticket["issued_at"]) == ("2026-11-30", "2026-12-01T02:30:00Z")
    assert (ticket["price"], ticket["tax"], ticket["total"]) == ("380.00", "57.00", "437.00")
    assert (ticket["paid"], ticket["owed"], ticket["buyer"]) == ("100.00", "337.00", "Éloïse Thornbeck")
    assert [row["happened_on"] for row in november["journal.csv"]] == ["2026-11-30"] * 2
    assert {row["ticket_number"] for row in november["journal.csv"]} == {ticket["number"]}
    (stock,) = november["stock.csv"]
    assert float(stock["after_kg"]) < float(stock["before_kg"])
    assert december["tickets.csv"] == december["payments.csv"] == december["journal.csv"] == []
    # What is owed is carried on.
    assert [(row["owed"], row["days"]) for row in december["owed.csv"]] == [("337.00", "31")]
    assert [row["before_kg"] for row in december["stock.csv"]] == [stock["after_kg"]]


def test_what_is_taken_back_is_a_credit_of_its_own_month(desk: Desk, tmp_path: Path) -> None:
    """The number stays, price and tax go off; a month that was declared stays as it was."""
    november, december = (
        Period(date(2026, 11, 1), date(2026, 11, 30)),
        Period(date(2026, 12, 1), date(2026, 12, 3)),
    )
    declared = read(desk, november, tmp_path / "declared.zip")
    with desk.book.read() as session:
        payment = session.scalars(select(Payment)).one()
    later = Desk(desk.book, desk.yard_id, lambda: datetime(2026, 12, 3, 15, tzinfo=UTC))
    undo_payment(later, UndoPayment(key=new_key(), payment_id=payment.id, reason="on another ticket"))
    undo_delivery(later, UndoDelivery(key=new_key(), ticket_id=payment.ticket_id, reason="not theirs"))
    after, credit = (read(later, period, tmp_path / f"{period.last}.zip") for period in (november, december))

    assert after["taxes.csv"] == declared["taxes.csv"]
    assert after["owed.csv"] == declared["owed.csv"]
    assert [row["taken_back_on"] for row in after["payments.csv"]] == ["2026-12-03"]
    (ticket,) = credit["tickets.csv"]
    assert (ticket["number"], ticket["cancelled_on"]) == ("1", "2026-12-03")
    assert (ticket["total"], ticket["paid"], ticket["owed"]) == ("437.00", "0.00", "0.00")
    assert [(row["month"], row["tickets"], row["cancelled"], row["tax"]) for row in credit["taxes.csv"]] == [
        ("2026-12", "0", "1", "-57.00")
    ]
    assert [row["amount"] for row in credit["payments.csv"]] == ["100.00"]
    assert credit["owed.csv"] == []


def test_the_archive_of_tables_is_the_export(desk: Desk, tmp_path: Path) -> None:
    target = desk.book.target  # type: ignore[attr-defined]
    export_book(target, tmp_path / "folder")
    export_archive(target, tmp_path / "export.zip")

    with zipfile.ZipFile(tmp_path / "export.zip") as packed:
        packed.extractall(tmp_path / "unpacked")
    names = {path.relative_to(tmp_path / "folder") for path in (tmp_path / "folder").rglob("*.csv")}
    assert names == {
        path.relative_to(tmp_path / "unpacked") for path in (tmp_path / "unpacked").rglob("*.csv")
    }
    for name in names:
        assert (tmp_path / "folder" / name).read_bytes() == (tmp_path / "unpacked" / name).read_bytes()
