"""The deeds of a busy day at a yard, as phones send them.

Loads come in, stacks are stacked up and measured, read and photographed, orders are promised, delivered with tickets
and paid, wood is sold at the gate. `Day` thinks of the next deed from what was acknowledged so far, and asks only for
what the yard must grant: never for more wood than is free, nor for money that nobody owes. So a refusal is a fault.
"""

from __future__ import annotations

import hashlib
import io
import json
import math
import random
import threading
import uuid
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from PIL import Image

ZONE = ZoneInfo("America/Moncton")
ARRIVED_ON, STACKED_ON = "2026-03-10", "2026-03-20"
# A load ranked [m³], and the outside of the stack that it gives [m³, m].
LOAD_M3 = 15.0
STACK_M3, STACK_LENGTH_M, STACK_ROWS, PIECE_M = 10.8, 6.0, 3, 0.4
# What is left in a stack when no more of it is sold [m³].
KEPT_M3 = 2.0
# Pixels along each side of a photo.
PHOTO_PX = 24
# How often each kind of deed comes, where it can.
OFTEN = {
    "take-in-rough": 2,
    "stack-up": 2,
    "measure-stack": 2,
    "add-reading": 2,
    "place-order": 4,
    "promise-order": 2,
    "deliver": 4,
    "sell-at-gate": 3,
    "pay": 2,
    "photo": 3,
}


@dataclass(frozen=True)
class Sent:
    """A deed as it is sent. `told` is what it says, for whoever looks later whether that was done."""

    key: str
    kind: str
    path: str
    headers: dict[str, str]
    body: bytes
    told: dict[str, Any]


def deed(kind: str, /, **told: Any) -> Sent:
    """A deed of the API under a new key; `{key}` in a text stands for the key."""
    key = uuid.uuid4().hex
    body = {"key": key} | {
        name: value.replace("{key}", key) if isinstance(value, str) else value for name, value in told.items()
    }
    return Sent(
        key, kind, f"/api/deeds/{kind}", {"Content-Type": "application/json"}, json.dumps(body).encode(), body
    )


def photo(subject: tuple[str, int], page: str) -> Sent:
    """A photo as a phone's outbox sends it: a form in parts, answered with the page of what is in the picture."""
    key = uuid.uuid4().hex
    edge = f"edge{key}"
    told = {"key": key, "subject_kind": subject[0], "subject_id": subject[1], "go": page}
    fields = {"key": key, "subject": f"{subject[0]}-{subject[1]}", "note": key}
    parts = [
        f'--{edge}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in fields.items()
    ]
    parts.append(
        f'--{edge}\r\nContent-Disposition: form-data; name="photo"; filename="photo.png"\r\n'
        "Content-Type: image/png\r\n\r\n".encode()
    )
    out = io.BytesIO()
    Image.frombytes("RGB", (PHOTO_PX, PHOTO_PX), pixels_of(key)).save(out, "PNG")
    body = b"".join([*parts, out.getvalue(), f"\r\n--{edge}--\r\n".encode()])
    headers = {"Content-Type": f"multipart/form-data; boundary={edge}", "X-Outbox": "1"}
    return Sent(key, "photo", "/photos/new", headers, body, told)


def pixels_of(key: str) -> bytes:
    """What is in the photo of a deed: noise that no other photo has, and that its key tells again."""
    return hashlib.shake_256(key.encode()).digest(3 * PHOTO_PX * PHOTO_PX)


def take_in(number: int) -> Sent:
    return deed(
        "take-in-rough",
        source=f"Woodlot {number}",
        harvest={"country": "CA", "subdivision": "NB", "county": ("York", "Kent", "Queens")[number % 3]},
        arrived_on=ARRIVED_ON,
        quantity=LOAD_M3,
        shares=[["sugar maple", 60.0], ["red oak", 40.0]],
        note="{key}",
    )


def stack_up(load_id: int) -> Sent:
    """All of a load becomes a stack."""
    made = deed("stack-up", sources=[[load_id, 1.0]], outside=outside(STACK_M3))
    pieces = {
        "name": made.key[:12],
        "piece_length_m": PIECE_M,
        "thickness_m": 0.1,
        "stacked_on": STACKED_ON,
        "note": made.key,
    }
    told = made.told | {"pieces": pieces}
    return Sent(made.key, made.kind, made.path, made.headers, json.dumps(told).encode(), told)


def outside(volume_m3: float) -> dict[str, Any]:
    """The measures of a stack of at least so much, to the centimetre."""
    height = math.ceil(100 * volume_m3 / (STACK_LENGTH_M * PIECE_M * STACK_ROWS)) / 100
    return {"length_m": STACK_LENGTH_M, "heights_m": [height], "rows": STACK_ROWS}


def today() -> str:
    return datetime.now(ZONE).date().isoformat()


@dataclass
class _Stack:
    """`free_m3`: what may still be asked for; `most_m3`: what stands there at the most."""

    free_m3: float = STACK_M3 - KEPT_M3
    most_m3: float = STACK_M3


@dataclass
class Day:
    """What the phones know of the yard together, and what they send next. `ware_id` is sold green."""

    chance: random.Random
    ware_id: int
    household_ids: list[int]
    count: int = 0
    # Loads that nobody has cut yet; orders noted, orders promised with their volumes; tickets with what they owe.
    loads: list[int] = field(default_factory=list)
    stacks: dict[int, _Stack] = field(default_factory=dict)
    noted: list[tuple[int, float]] = field(default_factory=list)
    promised: list[tuple[int, float]] = field(default_factory=list)
    owed: list[tuple[int, int]] = field(default_factory=list)
    # What a photo may be of, and the page of each.
    subjects: list[tuple[tuple[str, int], str]] = field(default_factory=list)
    # Where the wood of an order was promised.
    taken_from: dict[int, int] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def next(self, *kinds: str) -> Sent:
        """The next deed (of these kinds), as chance and the yard have it."""
        with self.lock:
            can = [kind for kind in kinds or OFTEN if self._can(kind)]
            kind = self.chance.choices(can, [OFTEN[kind] for kind in can])[0]
            made: Sent = getattr(self, "_" + kind.replace("-", "_"))()
            return made

    def answered(self, sent: Sent, answer: dict[str, Any]) -> None:
        """Takes in what the yard acknowledged; to be called once for each deed."""
        with self.lock:
            self._took(sent.kind, sent.told, answer)

    def _took(self, kind: str, told: dict[str, Any], answer: dict[str, Any]) -> None:
        if kind == "take-in-rough":
            self.loads.append(answer["load_id"])
            self._seen("load", answer["load_id"], f"/wood-in/{answer['load_id']}")
        elif kind == "stack-up":
            self.stacks[answer["stack_id"]] = _Stack()
            self._seen("stack", answer["stack_id"], f"/stacks/{answer['stack_id']}")
        elif kind == "add-reading":
            self._seen("reading", answer["reading_id"], f"/stacks/{told['stack_id']}")
        elif kind == "place-order":
            self.taken_from[answer["order_id"]] = told["portions"][0][0] if told["portions"] else 0
            (self.promised if told["portions"] else self.noted).append(
                (answer["order_id"], told["ranked_m3"])
            )
        elif kind == "promise-order":
            [(stack_id, ranked_m3)] = told["portions"]
            self.taken_from[told["order_id"]] = stack_id
            self.promised.append((told["order_id"], ranked_m3))
        elif kind in ("deliver", "sell-at-gate"):
            self._seen("ticket", answer["ticket_id"], f"/tickets/{answer['ticket_id']}")
            if kind == "deliver":
                [(stack_id, ranked_m3)] = [told["portions"][0]]
            else:
                stack_id, ranked_m3 = told["stack_id"], told["ranked_m3"]
            self.stacks[stack_id].most_m3 -= ranked_m3
            if not told["paid_in_full"]:
                self.owed.append((answer["ticket_id"], answer["total_minor"] - told["paid_minor"]))
        elif kind == "pay" and answer["owed_minor"]:
            self.owed.append((told["ticket_id"], answer["owed_minor"]))

    def _seen(self, kind: str, number: int, page: str) -> None:
        self.subjects.append(((kind, number), page))

    def _can(self, kind: str) -> bool:
        wood = any(stack.free_m3 > 0.6 for stack in self.stacks.values())
        return {
            "take-in-rough": len(self.loads) < 8,
            "stack-up": bool(self.loads),
            "measure-stack": bool(self.stacks),
            "add-reading": bool(self.stacks),
            "place-order": wood,
            "promise-order": wood and bool(self.noted),
            "deliver": bool(self.promised),
            "sell-at-gate": wood,
            "pay": bool(self.owed),
            "photo": bool(self.subjects),
        }[kind]

    def _take_in_rough(self) -> Sent:
        self.count += 1
        return take_in(self.count)

    def _stack_up(self) -> Sent:
        return stack_up(self._one_of(self.loads))

    def _measure_stack(self) -> Sent:
        # Not less than what stands there, whatever of the sales under way is done: nothing sold is made to be missing.
        stack_id = self.chance.choice(list(self.stacks))
        size = outside(max(KEPT_M3 / 2, self.stacks[stack_id].most_m3))
        return deed("measure-stack", stack_id=stack_id, outside=size, stock_taking=True)

    def _add_reading(self) -> Sent:
        return deed(
            "add-reading",
            stack_id=self.chance.choice(list(self.stacks)),
            kind="meter",
            value=float(self.chance.randint(18, 40)),
            happened_on=today(),
            species="sugar maple",
            note="{key}",
        )

    def _place_order(self) -> Sent:
        """Two of three are promised at once, the others noted."""
        stack_id, ranked_m3 = 0, self._volume()
        if self.chance.random() < 0.67:
            stack_id = self._reserve(ranked_m3)
        return deed(
            "place-order",
            household_id=self.chance.choice(self.household_ids),
            ware_id=self.ware_id,
            ranked_m3=ranked_m3,
            wanted_by=today(),
            asked_on=today(),
            portions=[[stack_id, ranked_m3]] if stack_id else [],
            note="{key}",
        )

    def _promise_order(self) -> Sent:
        order_id, ranked_m3 = self._one_of(self.noted)
        return deed("promise-order", order_id=order_id, portions=[[self._reserve(ranked_m3), ranked_m3]])

    def _deliver(self) -> Sent:
        order_id, ranked_m3 = self._one_of(self.promised)
        portions = [[self.taken_from[order_id], ranked_m3]]
        return deed(
            "deliver",
            order_id=order_id,
            delivered_on=today(),
            portions=portions,
            driver="{key}",
            **self._money(),
        )

    def _sell_at_gate(self) -> Sent:
        ranked_m3 = self._volume()
        return deed(
            "sell-at-gate",
            stack_id=self._reserve(ranked_m3),
            ware_id=self.ware_id,
            ranked_m3=ranked_m3,
            buyer="{key}",
            **self._money(),
        )

    def _pay(self) -> Sent:
        ticket_id, owed = self._one_of(self.owed)
        amount = owed if self.chance.random() < 0.6 else self.chance.randint(1, owed)
        method = self.chance.choice(("cash", "transfer", "card", "cheque"))
        return deed("pay", ticket_id=ticket_id, amount_minor=amount, method=method, paid_on=today())

    def _photo(self) -> Sent:
        return photo(*self.chance.choice(self.subjects))

    def _money(self) -> dict[str, Any]:
        """What is paid with the wood: all, a part, nothing."""
        how = self.chance.choice(("all", "part", "nothing"))
        return {
            "paid_in_full": how == "all",
            "paid_minor": self.chance.randint(1, 900) if how == "part" else 0,
            "pay_method": self.chance.choice(("cash", "card")),
        }

    def _volume(self) -> float:
        return self.chance.randint(20, 60) / 100

    def _reserve(self, ranked_m3: float) -> int:
        """A stack that this may be asked of; it is asked of nobody else then."""
        stack_id = self.chance.choice(
            [number for number, stack in self.stacks.items() if stack.free_m3 >= ranked_m3]
        )
        self.stacks[stack_id].free_m3 -= ranked_m3
        return stack_id

    def _one_of(self, things: list[Any]) -> Any:
        return things.pop(self.chance.randrange(len(things)))
