"""Kills the server in the middle of writes, again and again, and proves that nothing acknowledged is lost.

    python scripts/kill_loop.py                 200 kills on an SQLite book (make kill)
    python scripts/kill_loop.py --postgres      the same on a private PostgreSQL server (make kill-postgres)
    python scripts/kill_loop.py --postgres --kill database     its database server is killed in place of ours
    python scripts/kill_loop.py --times 5       the short form, as in the tests
    python scripts/kill_loop.py --database URL  the same with an empty PostgreSQL database that is there already

This process is the keeper: it sends the deeds of a busy day (`busy_day`) through the web from several threads, loads
and stacks, measures and readings, orders, deliveries with tickets and money, sales at the gate, photos. It writes each
acknowledgement down and never touches the book while the server runs. The server is another process (forked from a
third one that has imported the program once, so that a start takes a moment) and is killed with SIGKILL while at
least five deeds are in flight: sent whole and not answered. If fewer than five of those that were in flight at the
kill stay without an answer, the others had been answered already; the book is proven all the same, but the kill is
not counted and done again. After each kill the keeper opens the book (`day_proof`): every acknowledged deed is in it
with the very answer that was given and all that it does, once; every other deed is there whole or not at all; nothing
else is there; numbers have no gaps, and `check` finds nothing. After the next start all unanswered deeds are sent
again under their keys. In the end all deeds are sent once more: each gives its first answer, and the book stays as it
is.

With `--kill database` our own server lives on: PostgreSQL and each process of its get SIGKILL at once, and it is
started again (its recovery runs). Deeds must then be answered by a clear error (503), and the same server of ours
must do them, without a start, when they are sent again.

The disk is not cut off: SIGKILL leaves what the system has taken to be written. What a power failure does is up to
the disk; the book asks for it with `synchronous=FULL`, and PostgreSQL runs here with fsync on.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urlsplit

import psutil

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from scripts.busy_day import PIECE_M, ZONE, Day, Sent
from scripts.private_postgres import PrivateServer

from rickyard.book.files import ENVIRONMENT

LEAST_IN_FLIGHT = 5
# A book of its own for every so many kills: `check` goes over the whole book after each.
KILLS_A_BOOK = 50


@dataclass
class Deeds:
    """What was sent, what was answered, and what is under way: sent whole, and not answered."""

    sent: dict[str, Sent] = field(default_factory=dict)
    answers: dict[str, dict[str, object]] = field(default_factory=dict)
    waiting: set[str] = field(default_factory=set)
    refused: list[str] = field(default_factory=list)
    # Times that the server said that its database is away; such a deed is sent again.
    put_off: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)

    def unanswered(self) -> list[str]:
        with self.lock:
            return [key for key in self.sent if key not in self.answers]


def send(deeds: Deeds, url: str, deed: Sent, day: Day | None = None) -> bool:
    """Sends a deed; gives whether it was answered for good. Only a whole answer is an acknowledgement."""
    with deeds.lock:
        deeds.sent[deed.key] = deed
    parts = urlsplit(url)
    connection = http.client.HTTPConnection(str(parts.hostname), parts.port, timeout=60)
    try:
        connection.request("POST", deed.path, deed.body, deed.headers)
        with deeds.lock:
            deeds.waiting.add(deed.key)
        came = connection.getresponse()
        status, answer = came.status, json.loads(came.read())
    except (OSError, http.client.HTTPException, ValueError):
        return False
    finally:
        connection.close()
        with deeds.lock:
            deeds.waiting.discard(deed.key)
    with deeds.lock:
        if status == 200:
            first = deeds.answers.setdefault(deed.key, answer)
            if first is not answer:
                day = None
                if first != answer:
                    deeds.refused.append(f"another answer under {deed.key}: {answer}")
        elif status == 503 and answer["error"]["code"] == "no_server":
            deeds.put_off += 1
        else:
            deeds.refused.append(f"{deed.kind}: {status}: {answer}")
    if status == 200 and day is not None:
        day.answered(deed, answer)
    return status == 200


class Nursery:
    """A process that has imported the program and forks a server whenever it is told to."""

    def __init__(self, target: str, files: Path | None = None) -> None:
        words = [sys.executable, __file__, "--nursery", target]
        self.process = subprocess.Popen(
            words,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=os.environ | ({ENVIRONMENT: str(files)} if files else {}),
        )

    def server(self) -> tuple[int, str]:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write("\n")
        self.process.stdin.flush()
        said = json.loads(self.process.stdout.readline())
        return int(said["pid"]), str(said["url"])

    def close(self) -> None:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        # Servers that live on; looked for while their parent is still there.
        for child in psutil.Process(self.process.pid).children(recursive=True):
            killed(child.pid)
        self.process.stdin.close()
        try:
            self.process.wait(timeout=60)
        except subprocess.TimeoutExpired:
            # Slow to go on a busy machine; nothing is lost with it.
            self.process.kill()
            self.process.wait()
        self.process.stdout.close()


def nursery(target: str) -> None:
    from rickyard.web.server import Served, run_server

    # Servers are killed, not waited for: the system takes them away.
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    for _ in sys.stdin:
        if os.fork() == 0:
            signal.signal(signal.SIGCHLD, signal.SIG_DFL)

            def announce(served: Served) -> None:
                sys.stdout.write(json.dumps({"pid": os.getpid(), "url": served.url}) + "\n")
                sys.stdout.flush()

            # Forecasts say nothing that is not in the book, and each would keep a core busy for seconds.
            run_server(target, host="127.0.0.1", port=0, announce=announce, worker=False)
            os._exit(0)


def killed(pid: int) -> None:
    """SIGKILL; gives back when the process is gone and its locks with it."""
    try:
        process = psutil.Process(pid)
        process.send_signal(signal.SIGKILL)
        process.wait(timeout=20)
    except psutil.NoSuchProcess:
        return


def found_yard(target: str, chance: random.Random) -> Day:
    """A yard with a ware that is sold green, tax on it, and three households; nothing in the journal yet."""
    from rickyard.book import Book
    from rickyard.book.models import Household, Spot, Ware
    from rickyard.desk.yards import YardFacts, set_up_yard

    facts = YardFacts(
        name="Yard",
        country="CA",
        subdivision="NB",
        climate_place="Fredericton, NB",
        timezone=ZONE.key,
        tax_rate=0.15,
    )
    with Book.open(target, create=True) as book:
        yard_id = set_up_yard(book, facts).yard_id
        with book.write(yard_id) as session:
            ware = Ware(
                yard_id=yard_id,
                name="Green hardwood",
                species_ids=[],
                form="split",
                piece_length_m=PIECE_M,
                max_mc_wet=None,
                price_minor=30000,
                price_unit="cord",
            )
            homes = []
            for name in ("Perpetua Ashgrove", "Ambrose Tilling", "Sidonie Marsh"):
                spot = Spot(yard_id=yard_id, kind="household")
                session.add(spot)
                session.flush()
                homes.append(Household(yard_id=yard_id, spot_id=spot.id, name=name))
            session.add_all([ware, *homes])
            session.flush()
            return Day(chance, ware.id, [home.id for home in homes])


@dataclass
class Tally:
    """What came of a number of kills."""

    kills: int = 0
    # Kills that had fewer deeds in flight than wanted, and were done again.
    poor: int = 0
    acknowledged: int = 0
    in_flight: list[int] = field(default_factory=list)
    # Deeds in flight at a kill, and those of them that turned out to be in the book although nobody was told, by kind.
    cut_off: Counter[str] = field(default_factory=Counter)
    done_untold: Counter[str] = field(default_factory=Counter)
    put_off: int = 0

    def add(self, other: Tally) -> None:
        self.kills += other.kills
        self.poor += other.poor
        self.acknowledged += other.acknowledged
        self.in_flight += other.in_flight
        self.cut_off += other.cut_off
        self.done_untold += other.done_untold
        self.put_off += other.put_off

    def line(self, what: str, seconds: float) -> str:
        average = sum(self.in_flight) / max(1, len(self.in_flight))
        kinds = ", ".join(
            f"{kind} {times} ({self.done_untold[kind]})" for kind, times in sorted(self.cut_off.items())
        )
        return (
            f"{datetime.now(UTC).date().isoformat()}: {self.kills} kills of {what}, {self.acknowledged} deeds "
            f"acknowledged, in flight and unanswered at the kill {min(self.in_flight, default=0)} at least, "
            f"{average:.1f} on average, by kind (and of these done, and answered so when sent again): {kinds}; "
            f"{self.poor} kills had fewer than {LEAST_IN_FLIGHT} and were done again; {self.put_off} deeds put off "
            f"with an error; none lost, none half, none twice, check clean after each; {seconds:.0f} s"
        )


class WrongError(Exception):
    """The book is not what was acknowledged."""


@dataclass
class Trial:
    """Kills on one book. `database` is the server that is killed in place of ours."""

    target: str
    threads: int
    chance: random.Random
    database: PrivateServer | None = None
    files: Path | None = None
    deeds: Deeds = field(default_factory=Deeds)
    tally: Tally = field(default_factory=Tally)

    def run(self, times: int) -> Tally:
        self.day = found_yard(self.target, self.chance)
        place = Nursery(self.target, self.files)
        served = None
        try:
            served = place.server()
            self.morning(served[1])
            while self.tally.kills < times:
                served = served or place.server()
                self.send_again(served[1])
                self.kill(*served)
                self.prove()
                if self.database is None:
                    served = None
            served = served or place.server()
            self.send_again(served[1])
            for deed in list(self.deeds.sent.values()):
                if not send(self.deeds, served[1], deed):
                    raise WrongError(f"a deed that was done is not answered: {self.deeds.refused}")
            killed(served[0])
            self.prove()
        finally:
            place.close()
        if self.deeds.unanswered():
            raise WrongError("at the end: deeds without an answer")
        self.tally.acknowledged = len(self.deeds.answers)
        self.tally.put_off = self.deeds.put_off
        return self.tally

    def morning(self, url: str) -> None:
        """What the first deeds of each kind need."""
        for kind in ("take-in-rough",) * 6 + ("stack-up",) * 4 + ("place-order",) * 12:
            if not send(self.deeds, url, self.day.next(kind), self.day):
                raise WrongError(f"the day does not begin: {self.deeds.refused}")

    def send_again(self, url: str) -> None:
        for key in self.deeds.unanswered():
            if not send(self.deeds, url, self.deeds.sent[key], self.day):
                raise WrongError(
                    f"kill {self.tally.kills}: a deed sent again is not done: {self.deeds.refused}"
                )

    def kill(self, pid: int, url: str) -> None:
        deeds = self.deeds
        stop = threading.Event()

        def work() -> None:
            while not stop.is_set() and send(deeds, url, self.day.next(), self.day):
                pass

        with ThreadPoolExecutor(self.threads) as phones:
            working = [phones.submit(work) for _ in range(self.threads)]
            time.sleep(self.chance.uniform(0.02, 0.4))
            while True:
                with deeds.lock:
                    in_flight = set(deeds.waiting)
                    if len(in_flight) >= LEAST_IN_FLIGHT or any(phone.done() for phone in working):
                        if self.database is None:
                            os.kill(pid, signal.SIGKILL)
                        else:
                            self.database.kill()
                        break
                time.sleep(0.0005)
            stop.set()
        for phone in working:
            phone.result()
        if self.database is not None:
            self.database.start()
        else:
            killed(pid)
        cut_off = in_flight.intersection(deeds.unanswered())
        if len(cut_off) < LEAST_IN_FLIGHT:
            self.tally.poor += 1
            return
        self.tally.kills += 1
        self.tally.in_flight.append(len(cut_off))
        self.tally.cut_off += Counter(deeds.sent[key].kind for key in cut_off)
        kept = cut_off & kept_keys(self.target)
        self.tally.done_untold += Counter(deeds.sent[key].kind for key in kept)

    def prove(self) -> None:
        from scripts.day_proof import faults

        wrong = self.deeds.refused + faults(self.target, self.deeds.sent, self.deeds.answers)
        if wrong:
            raise WrongError(f"kill {self.tally.kills}: " + "; ".join(wrong[:5]))


def kept_keys(target: str) -> set[str]:
    from sqlalchemy import select

    from rickyard.book import Book
    from rickyard.book.models import Deed

    with Book.open(target) as book, book.read() as session:
        return set(session.scalars(select(Deed.client_key)))


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--threads", type=int, default=8)
    parser.add_argument("--seed", type=int, default=1)
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--postgres", action="store_true", help="on a private PostgreSQL server, fsync on")
    where.add_argument(
        "--database", help="an empty PostgreSQL database in place of a file; one book for all kills"
    )
    parser.add_argument("--kill", choices=("ours", "database"), default="ours", help="whose server is killed")
    parser.add_argument("--nursery", help=argparse.SUPPRESS)
    said = parser.parse_args()
    if said.nursery:
        nursery(said.nursery)
        return 0
    if said.kill == "database" and not said.postgres:
        parser.error("--kill database needs --postgres: only a database server of our own is killed")
    what = ("PostgreSQL" if said.kill == "database" else "our server") + (
        " on PostgreSQL" if said.kill == "ours" and (said.postgres or said.database) else ""
    )
    chance, tally, started = random.Random(said.seed), Tally(), time.monotonic()
    server = PrivateServer(durable=True) if said.postgres else None
    try:
        while tally.kills < said.times:
            with tempfile.TemporaryDirectory(prefix="rickyard-kill-") as folder:
                target = (
                    server.new_database() if server else said.database or str(Path(folder) / "book.sqlite")
                )
                some = (
                    said.times - tally.kills if said.database else min(KILLS_A_BOOK, said.times - tally.kills)
                )
                files = Path(folder) / "photos" if server or said.database else None
                if files:
                    os.environ[ENVIRONMENT] = str(files)
                trial = Trial(
                    target, said.threads, chance, server if said.kill == "database" else None, files
                )
                tally.add(trial.run(some))
    except WrongError as error:
        print(f"after {tally.kills} kills on other books, {error}")
        return 1
    finally:
        if server:
            server.stop()
    print(tally.line(what, time.monotonic() - started))
    return 0


if __name__ == "__main__":
    sys.exit(main())
