"""What deeds answer: ids and numbers of what they made, and what does not fit the book. Units as in `models`."""

from __future__ import annotations

from pydantic import BaseModel


class LoadTaken(BaseModel):
    load_id: int
    number: int


class WoodNamed(BaseModel):
    """`named`: whether any of that wood was left to name. `naming_id`: the record of what was seen, if there is one."""

    load_id: int
    difference_g: int
    named: bool
    naming_id: int | None


class SeenKept(BaseModel):
    naming_id: int
    load_id: int | None


class NamingConfirmed(BaseModel):
    """`named`: whether wood in the load was named anew."""

    naming_id: int
    load_id: int | None
    named: bool
    difference_g: int


class StackMade(BaseModel):
    """`name`: another one than was sent, where that was taken; `clashes`: what does not fit the book, by id."""

    stack_id: int
    name: str
    clashes: list[int] = []


class StackMeasured(BaseModel):
    """`difference_g`: what the wood in the stack changed by; `clashes`: what does not fit the book, by id.

    Answers of before have no `measure_id`.
    """

    measure_id: int | None = None
    stack_id: int
    outside_m3: float
    difference_g: int
    clashes: list[int]


class StackChanged(BaseModel):
    stack_id: int


class StackEmptied(BaseModel):
    """`clashes`: what does not fit the book, by id; answers of before have none."""

    stack_id: int
    written_off_g: int
    clashes: list[int] = []


class ReadingTaken(BaseModel):
    """`clashes`: what does not fit the book, by id."""

    reading_id: int
    stack_id: int
    clashes: list[int]


class ReadingJudged(BaseModel):
    reading_id: int
    stack_id: int


class PiecesMarked(BaseModel):
    """`clashes`: what does not fit the book, by id."""

    stack_id: int
    labels: list[str]
    clashes: list[int]


class LessonsForgotten(BaseModel):
    forgotten: int


class ReasonForgotten(BaseModel):
    """`why` it was taken out; answers of before have none."""

    entry: int
    why: str = ""


class HouseholdForgotten(BaseModel):
    """`name`: what the household is called now; `tickets`: numbers of those it was taken off.

    `reasons`: numbers of entries whose reason may still name it (`forget-reason`).
    """

    household_id: int
    name: str
    tickets: list[int]
    reasons: list[int]
    reason: str


class BuyerForgotten(BaseModel):
    """`reasons`: numbers of entries whose reason may still name the buyer (`forget-reason`)."""

    ticket_id: int
    number: int
    reasons: list[int]
    reason: str


class StackReopened(BaseModel):
    stack_id: int
    brought_back_g: int


class ClashSettled(BaseModel):
    clash_id: int


class PhotoAdded(BaseModel):
    photo_id: int
    sha256: str


class PhotoRemoved(BaseModel):
    photo_id: int
    subject_kind: str
    subject_id: int


class PersonSet(BaseModel):
    person_id: int
    name: str


class WareSet(BaseModel):
    ware_id: int


class HouseholdSet(BaseModel):
    household_id: int


class OrderPlaced(BaseModel):
    order_id: int
    number: int
    state: str
    odds: float | None


class OrderCancelled(BaseModel):
    order_id: int


class TicketMade(BaseModel):
    ticket_id: int
    number: int
    total_minor: int


class YardChanged(BaseModel):
    yard_id: int
