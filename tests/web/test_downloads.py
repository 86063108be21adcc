"""What is taken away by page and API: bookkeeping of a period, the whole book, a backup; by role, without secrets."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime
from pathlib import Path
from typing import Any

import httpx
import pytest
from sqlalchemy import select

from rickyard.book import export_book, import_book, restore
from rickyard.book.models import Entry, Household, Password, SignIn
from rickyard.desk.access import SetPassword, set_password
from rickyard.desk.access import sign_in as let_in
from rickyard.desk.context import Desk, new_key
from rickyard.desk.deliveries import Deliver, deliver
from rickyard.desk.households import SetHousehold, set_household
from rickyard.desk.people import AddPerson, add_person
from rickyard.desk.tickets import Pay, pay
from rickyard.jobs import Copier
from rickyard.web.app import create_app

PASSWORD = "larch and heron by the gate"
ROLES = ("owner", "bookkeeper")


def opened(answer: httpx.Response) -> dict[str, bytes]:
    """The files of an archive, each as its manifest says."""
    assert (answer.status_code, answer.headers["content-type"]) == (200, "application/zip"), answer.text
    assert answer.headers["cache-control"] == "no-store"
    assert "attachment" in answer.headers["content-disposition"]
    with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
        assert packed.testzip() is None
        files = {name: packed.read(name) for name in packed.namelist()}
    manifest = files.pop("manifest.json")
    assert files.pop("manifest.sha256").split()[0].decode() == hashlib.sha256(manifest).hexdigest()
    assert {name: hashlib.sha256(content).hexdigest() for name, content in files.items()} == {
        name: piece["sha256"] for name, piece in json.loads(manifest)["contents"].items()
    }
    return files | {"manifest.json": manifest}


def rows(files: dict[str, bytes], name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(files[name].decode("utf-8-sig"), newline="")))


def left_over() -> set[Path]:
    return set(Path(tempfile.gettempdir()).glob("rickyard-copy-*"))


@pytest.fixture
def paid(small_yard: Any, desk_of: Desk) -> int:
    """The second order is delivered to somebody with an odd name, and paid in part; its ticket."""
    with desk_of.book.read() as session:
        home = session.scalars(select(Household).where(Household.id != small_yard.home)).one()
    set_household(
        desk_of, SetHousehold(key=new_key(), household_id=home.id, name="=HYPERLINK(1)", address=home.address)
    )
    ticket = deliver(
        desk_of, Deliver(key=new_key(), order_id=small_yard.promised, delivered_on=date(2026, 11, 24))
    )
    pay(
        desk_of,
        Pay(
            key=new_key(),
            ticket_id=ticket["ticket_id"],
            amount_minor=20_001,
            method="cheque",
            paid_on=date(2026, 11, 24),
        ),
    )
    return int(ticket["ticket_id"])


@pytest.fixture
def keys(small_yard: Any, desk_of: Desk) -> dict[str, str]:
    """A session for an owner and a bookkeeper of the yard, which is locked by that."""
    found = {}
    for role in ROLES:
        who = add_person(desk_of, AddPerson(key=new_key(), name=role.title(), role=role))["person_id"]
        set_password(desk_of, SetPassword(key=new_key(), who_id=who), PASSWORD)
        found[role] = let_in(desk_of, role, PASSWORD, address="192.0.2.7", device="")
    return found


def test_the_bookkeeping_of_a_period_adds_up(client: httpx.Client, small_yard: Any, paid: int) -> None:
    files = opened(client.get("/downloads/bookkeeping.zip?first_day=2026-11-01&last_day=2026-11-24"))
    tickets = {row["number"]: row for row in rows(files, "tickets.csv")}
    cards = {str(card["number"]): card for card in client.get("/api/tickets").json()}

    assert set(tickets) == set(cards)
    assert len(cards) == 2
    for number, row in tickets.items():
        card = cards[number]
        for name in ("price", "tax", "total", "paid", "owed"):
            assert round(100 * float(row[name])) == card[f"{name}_minor"], (number, name)
    # What a spreadsheet would take for a formula is a text.
    assert "'=HYPERLINK(1)" in {row["buyer"] for row in tickets.values()}
    payment = next(row for row in rows(files, "payments.csv") if row["method"] == "cheque")
    assert (payment["amount"], payment["method"], payment["paid_on"]) == ("200.01", "cheque", "2026-11-24")
    (tax,) = rows(files, "taxes.csv")
    assert (tax["month"], tax["tax_rate"], tax["tickets"]) == ("2026-11", "0.15", "2")
    assert round(100 * float(tax["tax"])) == sum(card["tax_minor"] for card in cards.values())
    assert sum(round(100 * float(row["owed"])) for row in rows(files, "owed.csv")) == sum(
        card["owed_minor"] for card in cards.values()
    )
    assert {row["kind"] for row in rows(files, "journal.csv")} >= {"deliver"}
    assert all("2026-11-01" <= row["happened_on"] <= "2026-11-24" for row in rows(files, "journal.csv"))
    assert rows(files, "wood_bought.csv") == []
    # The stock moved by what the journal says of stacks and loads.
    moved = sum(
        float(row["oven_dry_kg"]) for row in rows(files, "journal.csv") if row["place"] in ("load", "stack")
    )
    grew = sum(float(row["after_kg"]) - float(row["before_kg"]) for row in rows(files, "stock.csv"))
    assert moved < 0
    assert grew == pytest.approx(moved, abs=0.01)


def test_a_period_without_end_has_all_and_one_before_has_nothing(
    client: httpx.Client, small_yard: Any, desk_of: Desk
) -> None:
    whole = opened(client.get("/downloads/bookkeeping.zip"))
    early = opened(client.get("/api/downloads/bookkeeping.zip?first=2024-01-01&last=2024-12-31"))

    with desk_of.book.read() as session:
        entries = {str(number) for number in session.scalars(select(Entry.number))}
    assert {row["entry"] for row in rows(whole, "journal.csv")} == entries
    assert sum(round(1000 * float(row["oven_dry_kg"])) for row in rows(whole, "journal.csv")) == 0
    assert {row["paid"] for row in rows(whole, "wood_bought.csv")} == {"1200.00", ""}
    for name, content in early.items():
        assert name == "manifest.json" or len(content.splitlines()) == 1


def test_a_bookkeeper_gets_the_bookkeeping_and_no_secret(
    client: httpx.Client, small_yard: Any, desk_of: Desk, keys: dict[str, str]
) -> None:
    client.cookies.set("session", keys["bookkeeper"])
    page = client.get("/downloads").text
    assert "/downloads/bookkeeping.zip" in page
    assert "/downloads/backup.zip" not in page
    assert "/downloads/book.zip" not in page
    assert 'href="/downloads"' in client.get("/tickets").text
    for closed in ("book", "backup"):
        for path in (f"/downloads/{closed}.zip", f"/api/downloads/{closed}.zip"):
            assert client.get(path).status_code == 403
    everything = b"".join(opened(client.get("/api/downloads/bookkeeping.zip")).values())

    with desk_of.book.read() as session:
        secrets = [*session.scalars(select(Password.argon2)), *session.scalars(select(SignIn.token_sha256))]
        personal = [
            text for home in session.scalars(select(Household)) for text in (home.address, home.phone)
        ]
    assert len(secrets) == 4
    for word in (*secrets, *filter(None, personal), "argon2", "token", small_yard.link, *keys.values()):
        assert word.encode() not in everything, word


def test_an_owner_takes_the_whole_book_away(
    client: httpx.Client, small_yard: Any, keys: dict[str, str], tmp_path: Path
) -> None:
    """The archive of tables is the export, byte by byte; the backup makes a sound book."""
    client.cookies.set("session", keys["owner"])
    before = left_over()
    tables = client.get("/downloads/book.zip")
    backup = client.get("/downloads/backup.zip")

    files = opened(tables)
    export_book(small_yard.target, tmp_path / "export")
    for name in (name for name in files if name.startswith("tables/")):
        assert files[name] == (tmp_path / "export" / name).read_bytes(), name
    with zipfile.ZipFile(io.BytesIO(tables.content)) as packed:
        packed.extractall(tmp_path / "unpacked")
    made = import_book(tmp_path / "unpacked", str(tmp_path / "imported.sqlite"))
    assert made.report.ok
    assert made.files == sum(name.startswith("files/") for name in files) > 0
    opened(backup)
    (tmp_path / "backup.zip").write_bytes(backup.content)
    assert restore(tmp_path / "backup.zip", str(tmp_path / "restored.sqlite")).report.ok
    assert left_over() == before


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ("first_day=2026-11-25&last_day=2026-11-01", "Check which of the two days comes first"),
        ("last_day=2031-01-01", "What is to come is not in the book yet"),
        ("first_day=soon", "First day"),
    ],
)
def test_a_period_that_is_none_comes_back_as_typed(client: httpx.Client, asked: str, says: str) -> None:
    answer = client.get(f"/downloads/bookkeeping.zip?{asked}")
    assert answer.status_code == 422
    assert says in answer.text
    assert asked.split("&")[0].split("=")[1] in answer.text
    assert client.get("/api/downloads/bookkeeping.zip?last=2031-01-01").json()["error"]["field"] == "last"


@pytest.fixture
def background(small_yard: Any, serve: Any, now: Callable[[], datetime]) -> Iterator[httpx.Client]:
    """The application as it is served: copies are made by a process of their own."""
    app = create_app(small_yard.target, worker=False, clock=now, hosts=())
    app.state.copier = Copier(small_yard.target)
    with serve(app) as address, httpx.Client(base_url=address, timeout=120) as client:
        yield client


def test_pages_and_deeds_go_on_while_a_copy_is_made(background: httpx.Client, desk_of: Desk) -> None:
    """The book is read and written meanwhile; a second copy must wait; a fault of the book is said."""
    with ThreadPoolExecutor(1) as pool:
        copying = pool.submit(background.get, "/downloads/backup.zip")
        done = 0
        while not copying.done():
            assert background.get("/health").status_code == 200
            add_person(desk_of, AddPerson(key=new_key(), name=f"Somebody {done}"))
            done += 1
            if done == 3:
                other = background.get("/api/downloads/book.zip")
                assert (other.status_code, other.json()["error"]["code"]) == (409, "busy_copy")
        opened(copying.result())
    assert done >= 3
    Path(desk_of.book.url + ".files").rename(Path(desk_of.book.url + ".gone"))
    unsound = background.get("/api/downloads/backup.zip")
    assert (unsound.status_code, unsound.json()["error"]["code"]) == (503, "unsound")
