"""How long the listed pages take on a book of ten years, beside the same pages on the demo book.

    python -m benchmarks.pages --decade decade.sqlite           on SQLite and on a private PostgreSQL server; the
                                                                book is made there if it is not (benchmarks.decade)
    python -m benchmarks.pages --decade decade.sqlite --write   and the section of docs/speed.md made anew
    python -m benchmarks.pages --books DEMO DECADE              two books that are there, files or database addresses

The application runs in a process of its own, as `rickyard serve` runs it but without its workers: what they do
in the background is timed elsewhere. Each page is asked for once, then `ROUNDS` times, the two books in turn.
"""

from __future__ import annotations

import argparse
import multiprocessing
import shutil
import socket
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import numpy as np
import uvicorn
from scripts.private_postgres import PrivateServer
from sqlalchemy import func, select

from benchmarks.decade import make as make_decade
from benchmarks.decade import make_up_forecasts, sizes
from benchmarks.decade_sheets import FIRST_OFFER, TIMED, add_offers_and_sheets, reckon_waiting
from rickyard.book import export_book, import_book
from rickyard.book.models import Offer, WorkSession
from rickyard.cli.app import seldom_look_for_waste
from rickyard.desk.context import new_key
from rickyard.desk.demo import demo_day, make_demo
from rickyard.desk.housekeeping import open_book
from rickyard.desk.stacks import stacks
from rickyard.desk.yards import open_desk
from rickyard.jobs import Answers
from rickyard.web.app import create_app
from rickyard.web.server import spare_what_stays

ROUNDS, GOAL_TIMES = 25, 3.0
# Between two deeds what forecasts are made from is remembered: these pages are also asked for each time after one.
AFTER_A_DEED = (", after a deed", ("/", "/stacks", "/orders"))
START_S = 60.0
SPEED = Path(__file__).resolve().parent.parent / "docs" / "speed.md"


@dataclass(frozen=True)
class Timed:
    """A page on the two books: median and 95th percentile [ms]."""

    page: str
    demo: tuple[float, float]
    decade: tuple[float, float]

    @property
    def times(self) -> float:
        return self.decade[1] / self.demo[1]


def compare(demo: str, decade: str, say: Callable[[str], None], rounds: int = ROUNDS) -> list[Timed]:
    found = []
    with served(demo) as first, served(decade) as second:
        clients = [httpx.Client(base_url=address, timeout=60) for address in (first, second)]
        paths = [pages_of(client, book) for client, book in zip(clients, (demo, decade), strict=True)]
        for page in paths[0]:
            lasted: list[list[float]] = [[], []]
            for number in range(rounds + 1):
                for place in (0, 1):
                    if page.endswith(AFTER_A_DEED[0]):
                        _read(clients[place])
                    seconds = _asked(clients[place], paths[place][page])
                    if number:
                        lasted[place].append(1000 * seconds)
            both = [(float(np.median(ms)), float(np.percentile(ms, 95))) for ms in lasted]
            found.append(Timed(page, both[0], both[1]))
            say(line(found[-1]))
        for client in clients:
            client.close()
    return found


def pages_of(client: httpx.Client, book: str) -> dict[str, str]:
    """The pages that list things, and one of each thing that they list, by the name that the table gives them."""
    with open_book(book) as opened:
        desk = open_desk(opened)
        if desk is None:
            raise LookupError(f"{book} has no yard")
        stack = max(stacks(desk), key=lambda card: card.promised_m3)
    # The newest of each: what people look at.
    ticket = client.get("/api/tickets?limit=1").json()[0]
    home = ticket["household_id"] or client.get("/api/households").json()[0]["id"]
    listed = (
        "/",
        "/stacks",
        "/wood-in",
        "/orders",
        "/orders?show=delivered",
        "/tickets",
        "/households",
        "/gate",
        "/offers",
        "/cutting",
    )
    after, changed = AFTER_A_DEED
    return (
        {path: path for path in (*listed, "/wares", "/people/deeds", "/tree/seen")}
        | {
            "one stack": f"/stacks/{stack.id}",
            "one load": f"/wood-in/{client.get('/api/loads').json()[0]['id']}",
            "one order": f"/orders/{client.get('/api/orders').json()[0]['id']}",
            "one ticket": f"/tickets/{ticket['id']}",
            "one household": f"/households/{home}",
            "one ware": f"/wares/{client.get('/api/wares').json()[0]['id']}",
            "one named tree": "/tree/seen/2",
            "one offer": f"/offers/{_newest(client, 'offers')}",
            "one cut sheet": f"/cutting/{_newest(client, 'cut-sheets')}",
            "one splitting sheet": f"/splitting/{_newest(client, 'splitting-sheets')}",
            "/splitting/times": "/splitting/times",
            "/stock": "/stock",
            "/stock a year ago": f"/stock?on={datetime.now(UTC).date() - timedelta(days=365)}",
            "way of a stack": f"/wood/stack/{stack.id}/way",
            "way of a load": f"/wood/load/{client.get('/api/loads').json()[0]['id']}/way",
            "way of a ticket": f"/wood/ticket/{ticket['id']}/way",
            "way of a household": f"/wood/household/{home}/way",
        }
        | {path + after: path for path in changed}
    )


def with_sheets(decade: str, aside: Callable[[str], None]) -> None:
    """Puts offers and sheets of ten years into the book where it has none, and the rest of them where that was broken
    off: the same deeds of the same day have the same answer twice."""
    with open_book(decade) as opened:
        desk = open_desk(opened)
        if desk is None:
            raise LookupError(f"{decade} has no yard")
        with opened.read() as session:
            first = session.scalar(select(func.min(Offer.offered_on)))
            timed = session.scalar(select(func.count()).select_from(WorkSession)) or 0
        if timed < TIMED:
            add_offers_and_sheets(desk, first + FIRST_OFFER if first else desk.today(), aside)


def _read(client: httpx.Client) -> None:
    """A deed: somebody puts the meter on a stack."""
    stack = client.get("/api/stacks?limit=1").json()[0]
    # Yesterday: it is over in the yard, too.
    day = datetime.now(UTC).date() - timedelta(days=1)
    told = {"key": new_key(), "stack_id": stack["id"], "kind": "meter", "value": 18.0}
    told["happened_on"] = day.isoformat()
    client.post("/api/deeds/add-reading", json=told).raise_for_status()


def _newest(client: httpx.Client, what: str) -> int:
    return int(client.get(f"/api/{what}").json()[0]["id"])


def line(one: Timed) -> str:
    cells = " | ".join(f"{ms:.0f}" for ms in (*one.demo, *one.decade))
    return f"| {one.page} | {cells} | {one.times:.1f} |"


HEAD = ("| page | demo p50 | p95 | ten years p50 | p95 | p95 times |", "|---|---|---|---|---|---|")


@contextmanager
def served(book: str) -> Iterator[str]:
    """The application on a book, in a process of its own; its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    process = multiprocessing.get_context("spawn").Process(target=_serve, args=(book, port))
    process.start()
    try:
        address = f"http://127.0.0.1:{port}"
        _wait(address)
        yield address
    finally:
        process.terminate()
        process.join()


def _serve(book: str, port: int) -> None:
    # Its questions are worked out in the background, as when it is served; its forecasts stay as they are.
    seldom_look_for_waste()
    app = create_app(book, worker=False, answers=Answers())
    spare_what_stays()
    uvicorn.run(app, host="127.0.0.1", port=port, log_level="error")


def _wait(address: str) -> None:
    began = time.monotonic()
    while True:
        try:
            httpx.get(f"{address}/health").raise_for_status()
        except httpx.TransportError:
            if time.monotonic() - began > START_S:
                raise
            time.sleep(0.2)
        else:
            return


def _asked(client: httpx.Client, path: str) -> float:
    began = time.perf_counter()
    answer = client.get(path)
    seconds = time.perf_counter() - began
    answer.raise_for_status()
    return seconds


TITLE = "## Pages on a book of ten years"


def report(
    decade: str, say: Callable[[str], None], aside: Callable[[str], None], rounds: int = ROUNDS
) -> None:
    """Both books on both databases; `decade` is the file of the book, made there if it is not."""
    with tempfile.TemporaryDirectory(prefix="rickyard-pages-") as place:
        folder = Path(place)
        target, demo = decade or str(folder / "decade.sqlite"), str(folder / "demo.sqlite")
        make_decade(target, aside)
        with_sheets(target, aside)
        desk = make_demo(demo, as_of=demo_day(datetime.now(UTC)))
        make_up_forecasts(desk)
        reckon_waiting(desk)
        desk.book.close()
        say(TITLE)
        say("")
        for text in (
            f"{sizes(target)}, made by benchmarks/decade.py, beside the demo book; "
            f"{rounds} requests of each page, the books in turn; milliseconds, "
            f"measured on {datetime.now(UTC).date().isoformat()}.",
            "On PostgreSQL (a private server of the distribution's, fsync on) they are the same books, exported "
            "and imported.",
            "Forecasts are made up and none is made meanwhile.",
        ):
            say(text)
        # A copy: deeds are done in it.
        copy = shutil.copy(target, folder / "copy.sqlite")
        _on("SQLite", demo, str(copy), say, rounds)
        server = PrivateServer(durable=True)
        try:
            copies = []
            for name, book in (("demo", demo), ("decade", target)):
                aside(f"{name}: from SQLite to PostgreSQL")
                export_book(book, folder / name)
                copies.append(server.new_database())
                import_book(folder / name, copies[-1], files=folder / f"{name}-files")
                shutil.rmtree(folder / name)
            _on("PostgreSQL", *copies, say, rounds)
        finally:
            server.stop()


def _on(engine: str, demo: str, decade: str, say: Callable[[str], None], rounds: int) -> None:
    say("")
    say(f"### {engine}")
    say("")
    for text in HEAD:
        say(text)
    timed = compare(demo, decade, say, rounds)
    worst = max(timed, key=lambda one: one.times)
    met = "met" if worst.times <= GOAL_TIMES else "missed"
    say("")
    say(
        f"- {engine}: p95 on ten years beside the demo, the worst page ({worst.page}): {worst.times:.1f} times; "
        f"goal {GOAL_TIMES:g}: {met}."
    )


def put_into(page: Path, lines: list[str]) -> None:
    """Puts a section, whose first line is its title, in the place of the one before, or at the end."""
    before, _, rest = page.read_text(encoding="utf-8").partition(lines[0])
    _, mark, after = rest.partition("\n## ")
    text = before.rstrip("\n") + "\n\n" + "\n".join(lines) + "\n" + (f"\n## {after}" if mark else "")
    page.write_text(text, encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.pages", description=__doc__)
    parser.add_argument("--books", nargs=2, metavar=("DEMO", "DECADE"), help="these two and nothing else")
    parser.add_argument("--decade", default="", metavar="FILE", help="the book of ten years")
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    parser.add_argument("--write", action="store_true", help="put the section into docs/speed.md")
    args = parser.parse_args()
    if args.books:
        for text in HEAD:
            print(text)
        compare(*args.books, print, args.rounds)
        return
    lines: list[str] = []

    def say(text: str) -> None:
        print(text, flush=True)
        lines.append(text)

    report(args.decade, say, lambda text: print(f"  {text}", flush=True), args.rounds)
    if args.write:
        put_into(SPEED, lines)


if __name__ == "__main__":
    main()
