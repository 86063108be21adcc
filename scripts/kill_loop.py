"""Kills the server in the middle of writes, again and again, and proves that nothing acknowledged is lost.

    python scripts/kill_loop.py                 200 kills on an SQLite book (make kill)
    python scripts/kill_loop.py --times 5       the short form, as in the tests
    python scripts/kill_loop.py --database URL  the same with an empty PostgreSQL database

This process is the keeper: it sends deeds through the web API from several threads, writes each acknowledgement down
and never touches the book while the server runs. The server is another process (forked from a third one that has
imported the program once, so that a start takes a moment) and is killed with SIGKILL while at least five deeds are
in flight. Then the keeper opens the book: every acknowledged deed is in it with the very answer that was given, every
other deed is there whole or not at all, and `check` finds nothing. After the next start all unanswered deeds are sent
again under their keys, and each must be done exactly once.

The disk is not cut off: SIGKILL leaves what the system has taken to be written. What a power failure does is up to
the disk; the book asks for it with `synchronous=FULL`.
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
import uuid
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urlsplit

LEAST_IN_FLIGHT = 5


@dataclass
class Deeds:
    """What was sent, what was answered, and how much is under way."""

    sent: dict[str, dict[str, object]] = field(default_factory=dict)
    answers: dict[str, dict[str, object]] = field(default_factory=dict)
    waiting: set[str] = field(default_factory=set)
    refused: list[str] = field(default_factory=list)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def unanswered(self) -> list[str]:
        with self.lock:
            return [key for key in self.sent if key not in self.answers]


def new_deed(number: int) -> dict[str, object]:
    return {
        "key": uuid.uuid4().hex,
        "source": f"Woodlot {number}",
        "harvest": {"country": "CA", "subdivision": "NB", "county": ("York", "Kent", "Queens")[number % 3]},
        "arrived_on": "2026-03-10",
        "quantity": 3.0 + number % 17,
        "shares": [["sugar maple", 60.0], ["red oak", 40.0]],
        "typed": "",
    }


def post(url: str, body: dict[str, object]) -> tuple[int, dict[str, object]]:
    parts = urlsplit(url)
    connection = http.client.HTTPConnection(str(parts.hostname), parts.port, timeout=60)
    try:
        connection.request(
            "POST", "/api/deeds/take-in-rough", json.dumps(body), {"Content-Type": "application/json"}
        )
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read())
    finally:
        connection.close()


def send(deeds: Deeds, url: str, body: dict[str, object]) -> bool:
    """Sends a deed; gives whether the server is still there. Only a whole answer is an acknowledgement."""
    key = str(body["key"])
    with deeds.lock:
        deeds.sent[key] = body
        deeds.waiting.add(key)
    try:
        status, answer = post(url, body)
    except (OSError, http.client.HTTPException, ValueError):
        return False
    finally:
        with deeds.lock:
            deeds.waiting.discard(key)
    with deeds.lock:
        if status == 200:
            if key in deeds.answers and deeds.answers[key] != answer:
                deeds.refused.append(f"another answer under {key}: {answer}")
            deeds.answers[key] = answer
        else:
            deeds.refused.append(f"{status}: {answer}")
    return True


class Nursery:
    """A process that has imported the program and forks a server whenever it is told to."""

    def __init__(self, target: str) -> None:
        words = [sys.executable, __file__, "--nursery", target]
        self.process = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def server(self) -> tuple[int, str]:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write("\n")
        self.process.stdin.flush()
        said = json.loads(self.process.stdout.readline())
        return int(said["pid"]), str(said["url"])

    def close(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.close()
        self.process.wait(timeout=20)


def nursery(target: str) -> None:
    from rickyard.web.server import Served, run_server

    for _ in sys.stdin:
        pid = os.fork()
        if pid == 0:

            def announce(served: Served) -> None:
                sys.stdout.write(json.dumps({"pid": os.getpid(), "url": served.url}) + "\n")
                sys.stdout.flush()

            run_server(target, host="127.0.0.1", port=0, announce=announce)
            os._exit(0)
        os.waitpid(pid, 0)


def found_yard(target: str) -> None:
    from rickyard.book import Book
    from rickyard.desk.yards import YardFacts, set_up_yard

    facts = YardFacts(
        name="Yard",
        country="CA",
        subdivision="NB",
        climate_place="Fredericton, NB",
        timezone="America/Moncton",
    )
    with Book.open(target, create=True) as book:
        set_up_yard(book, facts)


def faults(target: str, deeds: Deeds) -> list[str]:
    """What is wrong with the book after a kill."""
    from sqlalchemy import func, select

    from rickyard.book import Book, check
    from rickyard.book.models import Deed, Entry, Load, Posting

    found = list(deeds.refused)
    with Book.open(target) as book:
        found += [str(problem) for problem in check(book).problems]
        with book.read() as session:
            rows = {deed.client_key: deed for deed in session.scalars(select(Deed))}
            entries = dict(session.execute(select(Entry.deed_id, func.count()).group_by(Entry.deed_id)).all())
            postings = set(session.scalars(select(Posting.entry_id)))
            whole = set(session.scalars(select(Entry.id)))
            loads = dict(session.execute(select(Load.id, Load.source)).all())
    for key, answer in deeds.answers.items():
        if key not in rows or rows[key].answer != answer:
            found.append(f"the acknowledged deed {key} is not in the book")
    for key, row in rows.items():
        if key not in deeds.sent:
            found.append(f"the deed {key} was never sent")
        elif entries.get(row.id) != 1 or loads.get(row.answer.get("load_id")) != deeds.sent[key]["source"]:
            found.append(f"the deed {key} is half done")
    if postings != whole:
        found.append("entries without postings")
    if len(loads) != len(rows):
        found.append(f"{len(loads)} loads of {len(rows)} deeds")
    return found


def run(target: str, times: int, threads: int, seed: int) -> int:
    chance = random.Random(seed)
    deeds = Deeds()
    found_yard(target)
    place = Nursery(target)
    number = in_flight_all = in_flight_least = 0
    started = time.monotonic()
    for kill in range(1, times + 1):
        pid, url = place.server()
        for key in deeds.unanswered():
            if not send(deeds, url, deeds.sent[key]):
                print(f"kill {kill}: the server does not answer after its start")
                return 1
        stop = threading.Event()

        def work(first: int, url: str = url, stop: threading.Event = stop) -> None:
            count = first
            while not stop.is_set() and send(deeds, url, new_deed(count)):
                count += threads

        workers = [threading.Thread(target=work, args=(number + n,)) for n in range(threads)]
        number += 1000
        for worker in workers:
            worker.start()
        time.sleep(chance.uniform(0.02, 0.25))
        while True:
            with deeds.lock:
                in_flight = len(deeds.waiting)
                if in_flight >= LEAST_IN_FLIGHT:
                    os.kill(pid, signal.SIGKILL)
                    break
            time.sleep(0.0005)
        stop.set()
        for worker in workers:
            worker.join()
        in_flight_all += in_flight
        in_flight_least = min(in_flight, in_flight_least or in_flight)
        wrong = faults(target, deeds)
        if wrong:
            print(f"kill {kill}: " + "; ".join(wrong[:5]))
            return 1
    pid, url = place.server()
    left = deeds.unanswered()
    for key in left:
        send(deeds, url, deeds.sent[key])
    os.kill(pid, signal.SIGKILL)
    place.close()
    wrong = faults(target, deeds)
    if wrong or deeds.unanswered():
        print("at the end: " + "; ".join(wrong[:5] or ["deeds without an answer"]))
        return 1
    print(
        f"{datetime.now(UTC).date().isoformat()}: {times} kills, {len(deeds.answers)} deeds acknowledged, in flight "
        f"at the kill {in_flight_least} at least, {in_flight_all / times:.1f} on average; none lost, "
        f"none half, check clean after each; {time.monotonic() - started:.0f} s"
    )
    return 0


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--threads", type=int, default=8)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--database", help="an empty PostgreSQL database in place of a file")
    parser.add_argument("--nursery", help=argparse.SUPPRESS)
    said = parser.parse_args()
    if said.nursery:
        nursery(said.nursery)
        return 0
    with tempfile.TemporaryDirectory(prefix="rickyard-kill-") as folder:
        target = said.database or str(Path(folder) / "book.sqlite")
        return run(target, said.times, said.threads, said.seed)


if __name__ == "__main__":
    sys.exit(main())
