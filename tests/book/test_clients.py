"""Twenty phones at once over HTTP, each deed sent twice at the same moment to two servers of ours on one book.

Several phones ask for wood of the same stack until it is sold out. `make prove-clients` does it with many more deeds.
"""

from __future__ import annotations

import http.client
import json
import os
import random
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from urllib.request import urlopen

import pytest
from scripts.busy_day import Day, Sent, deed, photo, stack_up, take_in, today
from scripts.day_proof import faults, halves
from scripts.kill_loop import Deeds, Nursery, found_yard, send

from rickyard.book import Book
from rickyard.book.files import ENVIRONMENT

CLIENTS = 20
# Deeds of each client; `make prove-clients` asks for more.
EACH = int(os.environ.get("RICKYARD_DEEDS_EACH", "5"))
# How often a deed is sent again under its key after an error before the error counts as one that stays.
TRIES = 4
# A sale may take so much more than there is, for rounding [m³]; and how far sums of volumes may be off.
SLACK_M3, CLOSE_M3 = 0.01, 0.001


@dataclass
class Office:
    """A yard with two servers on its book."""

    target: str
    day: Day
    urls: list[str]

    def stack(self, stack_id: int) -> dict[str, float]:
        with urlopen(f"{self.urls[0]}api/stacks/{stack_id}") as came:
            card: dict[str, float] = json.load(came)["card"]
            return card


@pytest.fixture
def office(
    new_target: Callable[[], str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Office]:
    monkeypatch.setenv(ENVIRONMENT, str(tmp_path / "photos"))
    target = new_target()
    day = found_yard(target, random.Random(5))
    place = Nursery(target)
    try:
        yield Office(target, day, [place.server()[1] for _ in range(2)])
    finally:
        place.close()


@dataclass
class Phone:
    """One client: what it sent, what was acknowledged, what was refused, what it got an error for and sent again."""

    office: Office
    chance: random.Random
    stacks: list[int]
    sent: dict[str, Sent] = field(default_factory=dict)
    answers: dict[str, dict[str, Any]] = field(default_factory=dict)
    refused: list[Sent] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    def work(self, times: int) -> None:
        waiting: list[tuple[Sent, dict[str, Any]]] = []
        owed: list[tuple[int, int]] = []
        for _ in range(times):
            kind = self.chance.choices(
                ("sale", "order", "deliver", "pay", "load", "photo"), (5, 3, 2, 2, 1, 1)
            )[0]
            if kind == "deliver" and waiting:
                order, answer = waiting.pop()
                made = deed(
                    "deliver",
                    order_id=answer["order_id"],
                    delivered_on=today(),
                    portions=order.told["portions"],
                    driver="{key}",
                    **PAID,
                )
            elif kind == "pay" and owed:
                ticket_id, amount = owed.pop()
                made = deed("pay", ticket_id=ticket_id, amount_minor=amount, method="card", paid_on=today())
            elif kind == "load":
                made = take_in(self.chance.randint(1, 99))
            elif kind == "photo":
                stack_id = self.chance.choice(self.stacks)
                made = photo(("stack", stack_id), f"/stacks/{stack_id}")
            else:
                made = self.asking(kind)
            came = self.twice(made)
            if came is None:
                continue
            if made.kind == "place-order":
                waiting.append((made, came))
            elif made.kind == "sell-at-gate" and not made.told["paid_in_full"]:
                owed.append((came["ticket_id"], came["total_minor"]))

    def asking(self, kind: str) -> Sent:
        """For wood of a stack that others ask for too."""
        stack_id, ranked_m3 = self.chance.choice(self.stacks), self.chance.randint(15, 50) / 100
        what = {"ware_id": self.office.day.ware_id, "ranked_m3": ranked_m3}
        if kind == "order":
            home = self.chance.choice(self.office.day.household_ids)
            days = {"wanted_by": today(), "asked_on": today()}
            portions = [[stack_id, ranked_m3]]
            return deed("place-order", household_id=home, portions=portions, note="{key}", **what, **days)
        money = PAID if self.chance.random() < 0.5 else PAID | {"paid_in_full": False}
        return deed("sell-at-gate", stack_id=stack_id, buyer="{key}", **what, **money)

    def twice(self, made: Sent) -> dict[str, Any] | None:
        """The answer, which both copies must get; None if both were refused for want of wood."""
        self.sent[made.key] = made
        for _ in range(TRIES):
            came = self._both(made)
            if len(came) == 2 and came[0][0] == 200:
                assert came[0] == came[1], came
                self.answers[made.key] = came[0][1]
                return came[0][1]
            if len(came) == 2 and all(
                status in (404, 409) and said["error"]["code"] in ("not_enough", "unknown_stack")
                for status, said in came
            ):
                self.refused.append(self.sent.pop(made.key))
                return None
            # A refusal of one copy alone, or of anything that the yard must grant, is no error that may pass.
            assert all(status in (200, 503) for status, _ in came), (made.kind, came)
            self.errors.append(f"{made.kind}: {came}")
        raise AssertionError(self.errors)

    def _both(self, made: Sent) -> list[tuple[int, dict[str, Any]]]:
        """Both copies are under way before either is answered. Less than two answers if a connection broke."""
        lines = [http.client.HTTPConnection(urlsplit(url).netloc, timeout=120) for url in self.office.urls]
        came = []
        try:
            for line in lines:
                line.request("POST", made.path, made.body, made.headers)
            for line in lines:
                answer = line.getresponse()
                came.append((answer.status, json.loads(answer.read())))
        except (OSError, http.client.HTTPException) as error:
            self.errors.append(repr(error))
        finally:
            for line in lines:
                line.close()
        return came


PAID = {"paid_in_full": True, "paid_minor": 0, "pay_method": "cash"}


def begin(office: Office, stacks: int) -> tuple[Deeds, list[int]]:
    """Loads that became stacks."""
    deeds = Deeds()
    for number in range(stacks):
        load = take_in(number)
        assert send(deeds, office.urls[0], load), deeds.refused
        made = stack_up(int(deeds.answers[load.key]["load_id"]))  # type: ignore[call-overload]
        assert send(deeds, office.urls[0], made), deeds.refused
    return deeds, [int(said["stack_id"]) for said in deeds.answers.values() if "stack_id" in said]  # type: ignore[call-overload]


@pytest.mark.slow
def test_twenty_clients_at_once(office: Office) -> None:
    """No number twice, none left out, no update lost, nothing sold twice and nothing refused that was there."""
    deeds, stacks = begin(office, max(1, EACH // 5))
    before = {stack_id: office.stack(stack_id)["ranked_m3"] for stack_id in stacks}
    phones = [Phone(office, random.Random(number), stacks) for number in range(CLIENTS)]

    with ThreadPoolExecutor(CLIENTS) as pool:
        for done in [pool.submit(phone.work, EACH) for phone in phones]:
            done.result()

    sent, answers = dict(deeds.sent), dict(deeds.answers)
    for phone in phones:
        sent |= phone.sent
        answers |= phone.answers
    assert faults(office.target, sent, answers) == []
    assert len(answers) == len(sent)
    for kinds in (("take-in-rough",), ("place-order",), ("deliver", "sell-at-gate")):
        numbers = sorted(int(answers[key]["number"]) for key in sent if sent[key].kind in kinds)
        assert numbers == list(range(1, len(numbers) + 1))
    delivered = {one.told["order_id"] for one in sent.values() if one.kind == "deliver"}
    refused = [one for phone in phones for one in phone.refused]
    for stack_id in stacks:
        sold, promised = 0.0, 0.0
        for key, one in sent.items():
            if _asked_of(one) == stack_id:
                waits = one.kind == "place-order" and answers[key]["order_id"] not in delivered
                sold, promised = (sold, promised + _volume(one)) if waits else (sold + _volume(one), promised)
        card = office.stack(stack_id)
        free = card["ranked_m3"] - card["promised_m3"]
        assert card["ranked_m3"] == pytest.approx(max(0.0, before[stack_id] - sold), abs=CLOSE_M3)
        assert card["promised_m3"] == pytest.approx(promised, abs=CLOSE_M3)
        assert sold + promised <= before[stack_id] + SLACK_M3 + CLOSE_M3
        assert free < 0.5, "not sold out: nothing had to be refused"
        too_much = [_volume(one) for one in refused if _asked_of(one) == stack_id]
        # What is free never grows here, so what was refused is more than is left.
        assert too_much
        assert min(too_much) > free + SLACK_M3 - CLOSE_M3


def _asked_of(one: Sent) -> int:
    """The stack that a sale or an order asks wood of, else 0. A delivery takes what its order was promised."""
    if one.kind == "place-order":
        return int(one.told["portions"][0][0])
    return int(one.told["stack_id"]) if one.kind == "sell-at-gate" else 0


def _volume(one: Sent) -> float:
    return float(one.told["ranked_m3"])


# One deed of each kind but sales at the gate and payments.
MORNING = (
    *("take-in-rough", "take-in-rough", "stack-up", "place-order", "place-order", "place-order"),
    *("deliver", "measure-stack", "add-reading", "photo"),
)
# What somebody who writes past the program does to a sound book, and a word of what the proof then says. The name of
# a table: its first row once more.
HALVES = {
    "a load that is gone": ("DELETE FROM load WHERE number = 2", "rows of load"),
    "a ticket without its payment": ("DELETE FROM payment WHERE id = 1", "payment"),
    "a payment twice": ("payment", "made row"),
    "an order without its promise": ("DELETE FROM promise WHERE id = 1", "rows of promise"),
    "a promise not kept": ("UPDATE promise SET state = 'open'", "promise"),
    "a sale without its ticket": ("DELETE FROM ticket WHERE number = 1", "rows of ticket"),
    "a ticket of another sum": (
        "UPDATE ticket SET price_minor = price_minor - 5, total_minor = total_minor - 5",
        "price and tax",
    ),
    "a measure of another deed": ("UPDATE stack_measure SET deed_id = 1", "stack_measure"),
    "a reading twice": ("reading", "rows of reading"),
    "a photo of something else": ("UPDATE photo SET note = ''", "subject"),
    "an answer that was not given": ("UPDATE deed SET answer = '{}' WHERE kind = 'pay'", "was given"),
    "a deed that is gone": ("DELETE FROM deed WHERE kind = 'add_reading'", "is not in the book"),
}


def once_more(book: sqlite3.Connection, table: str) -> str:
    columns = [row[1] for row in book.execute(f"PRAGMA table_info({table})") if row[1] != "id"]
    listed = ", ".join(columns)
    return f"INSERT INTO {table} ({listed}) SELECT {listed} FROM {table} ORDER BY id LIMIT 1"


@pytest.mark.slow
def test_the_proof_sees_what_is_half(tmp_path: Path) -> None:
    """A sound day is sound, and each fault is seen: else the kill loops would prove nothing."""
    target = str(tmp_path / "book.sqlite")
    day = found_yard(target, random.Random(1))
    deeds, place = Deeds(), Nursery(target)
    try:
        _, url = place.server()
        for kind in MORNING:
            assert send(deeds, url, day.next(kind), day), deeds.refused
        for money in (PAID, PAID | {"paid_in_full": False}):
            sale = deed("sell-at-gate", stack_id=1, ware_id=1, ranked_m3=0.3, buyer="{key}", **money)
            assert send(deeds, url, sale, day), deeds.refused
        assert send(deeds, url, day.next("pay"), day), deeds.refused
    finally:
        place.close()

    assert faults(target, deeds.sent, deeds.answers) == []
    shutil.copytree(f"{target}.files", tmp_path / "half.sqlite.files")
    for name, (statement, word) in HALVES.items():
        half = str(tmp_path / "half.sqlite")
        with closing(sqlite3.connect(target)) as whole, closing(sqlite3.connect(half)) as copy:
            whole.backup(copy)
            triggers = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
            for (trigger,) in copy.execute(triggers).fetchall():
                copy.execute(f"DROP TRIGGER {trigger}")
            copy.execute(statement if " " in statement else once_more(copy, statement))
            copy.commit()
        with Book.open(half) as book:
            found = halves(book, deeds.sent, deeds.answers)
        assert any(word in fault for fault in found), (name, found)
    for file in (tmp_path / "half.sqlite.files").glob("??/*"):
        file.write_bytes(b"something else")
    with Book.open(half) as book:
        assert any("is half done" in fault for fault in halves(book, deeds.sent, deeds.answers))
