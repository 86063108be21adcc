"""Many sign-ins at one moment, over HTTP, on both databases: no more are compared than one after the other would be,
and the memory they take is bounded."""

from __future__ import annotations

import sys
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import ExitStack
from datetime import datetime, timedelta
from pathlib import Path

import httpx
import pytest
import uvicorn
from argon2 import extract_parameters
from sqlalchemy import func, select, update

from rickyard.book import Book
from rickyard.book.models import Password, SignIn, SignInTry
from rickyard.desk import hashing
from rickyard.desk.access import MOST_WRONG, SetPassword, set_password, sign_in
from rickyard.desk.context import Desk, new_key
from rickyard.desk.hashing import AT_ONCE, PLACES, place
from rickyard.desk.people import AddPerson, add_person
from rickyard.errors import RefusedError
from rickyard.web.app import create_app

RIGHT, WRONG = "larch and heron by the gate", "larch and heron by the wall"
FLOOD = 24
HASH_MIB = 64


class Hand:
    """A clock that the test moves by hand."""

    def __init__(self, moment: datetime) -> None:
        self.moment = moment

    def __call__(self) -> datetime:
        return self.moment


@pytest.fixture
def locked(book: Book, found: Callable[..., object]) -> Desk:
    yard = found(book)
    desk = Desk(book, yard.yard_id, Hand(yard.start))  # type: ignore[attr-defined]
    who = add_person(desk, AddPerson(key=new_key(), name="Osric", role="owner"))["person_id"]
    set_password(desk, SetPassword(key=new_key(), who_id=who), RIGHT)
    return desk


@pytest.fixture
def address(locked: Desk) -> Iterator[str]:
    app = create_app(locked.book.target, worker=False, clock=locked.clock, hosts=())  # type: ignore[attr-defined]
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="critical"))
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        thread.join(0.02)
        assert thread.is_alive(), "the server did not start"
    yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    server.should_exit = True
    thread.join()


def answers_to(address: str, names: list[str], password: str) -> Counter[str]:
    """All of them sent at once, each by a client of its own: how they were answered."""
    gate = threading.Barrier(len(names))
    words = {
        "do not belong together": "wrong",
        "Too many wrong sign-ins": "too many",
        "Many are signing in": "busy",
    }

    def send(name: str) -> str:
        with httpx.Client(base_url=address, timeout=60) as client:
            client.get("/health")
            gate.wait()
            answer = client.post("/sign-in", data={"person": name, "password": password})
        if answer.status_code == 303:
            return "in"
        return next(short for said, short in words.items() if said in answer.text)

    with ThreadPoolExecutor(len(names)) as pool:
        return Counter(pool.map(send, names))


def tries(desk: Desk, kind: str) -> int:
    with desk.book.read() as session:
        return session.scalar(select(func.count()).where(SignInTry.kind == kind)) or 0


def test_no_more_are_compared_at_once_than_one_after_the_other(locked: Desk, address: str) -> None:
    said = answers_to(address, ["osric"] * FLOOD, WRONG)

    assert said["wrong"] == MOST_WRONG["pair"]
    assert said["too many"] + said["busy"] == FLOOD - MOST_WRONG["pair"]
    assert tries(locked, "pair") == tries(locked, "name") == MOST_WRONG["pair"]
    assert answers_to(address, ["Osric"], RIGHT) == {"too many": 1}
    locked.clock.moment += timedelta(minutes=16)  # type: ignore[attr-defined]
    assert answers_to(address, ["Osric"], RIGHT) == {"in": 1}
    # What was right is no wrong try, under the name and the address neither.
    assert tries(locked, "pair") == tries(locked, "name") == tries(locked, "address") == 0


def test_several_may_come_in_at_once(locked: Desk, address: str) -> None:
    """Right ones that come at the same moment are not taken for wrong ones, each with its own name."""
    for number in range(2):
        who = add_person(locked, AddPerson(key=new_key(), name=f"Hand {number}"))["person_id"]
        set_password(locked, SetPassword(key=new_key(), who_id=who), RIGHT)

    said = answers_to(address, ["Osric", *(f"hand {number}" for number in range(2))], RIGHT)

    assert said == {"in": 3}
    with locked.book.read() as session:
        assert session.scalar(select(func.count()).select_from(SignIn)) == 3
    assert tries(locked, "address") == 0


@pytest.mark.parametrize("new_book", ["sqlite"], indirect=True)
@pytest.mark.skipif(sys.platform != "linux", reason="reads the peak of memory from /proc")
def test_the_memory_of_a_flood_is_bounded(locked: Desk, address: str) -> None:
    """Names that differ are borne up to the limit of the address; at 64 MiB each all at once would take 1.3 GB."""
    clear, status = Path("/proc/self/clear_refs"), Path("/proc/self/status")

    def memory_mib(what: str) -> float:
        line = next(line for line in status.read_text().splitlines() if line.startswith(what))
        return int(line.split()[1]) / 1024

    answers_to(address, ["warmed up"], WRONG)
    clear.write_text("5")
    before = memory_mib("VmRSS")

    said = answers_to(address, [f"somebody {number}" for number in range(FLOOD)], WRONG)

    assert said["wrong"] >= min(PLACES, MOST_WRONG["address"] - 1) // 2
    assert tries(locked, "address") == said["wrong"] + 1 <= MOST_WRONG["address"]
    grown = memory_mib("VmHWM") - before
    assert grown < AT_ONCE * HASH_MIB + 150


def test_without_a_place_nothing_is_compared_or_counted(locked: Desk) -> None:
    with ExitStack() as held:
        for _ in range(PLACES):
            held.enter_context(place())
        with pytest.raises(RefusedError) as caught:
            sign_in(locked, "Osric", RIGHT, address="192.0.2.7", device="")

    assert caught.value.code == "busy_sign_in"
    assert tries(locked, "pair") == 0
    assert sign_in(locked, "Osric", RIGHT, address="192.0.2.7", device="")


def test_a_password_changed_meanwhile_opens_nothing(locked: Desk) -> None:
    """The old one waits to be compared while another is set: it is right no more."""
    other = hashing.hash_of("quite another row of words")
    with ThreadPoolExecutor(1) as pool, ExitStack() as turns:
        for _ in range(AT_ONCE):
            turns.enter_context(hashing._turns)
        coming = pool.submit(sign_in, locked, "Osric", RIGHT, address="192.0.2.7", device="")
        while not tries(locked, "pair"):
            wait([coming], timeout=0.02)
            assert not coming.done()
        with locked.book.write() as session:
            session.execute(update(Password).values(argon2=other))
        turns.close()
        error = coming.exception(timeout=60)

    assert isinstance(error, RefusedError)
    assert error.code == "wrong_sign_in"
    with locked.book.read() as session:
        assert session.scalar(select(func.count()).select_from(SignIn)) == 0


def test_what_nobodys_password_is_compared_with_costs_what_any_other_does() -> None:
    fresh = hashing.hash_of("a row of words")

    assert extract_parameters(hashing.NOBODY) == extract_parameters(fresh)
    assert len(hashing.NOBODY) == len(fresh)
    assert not hashing.matches(hashing.NOBODY, "a row of words")
