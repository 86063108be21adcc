"""What the deeds that take something back answer, and payments as they stand."""

from __future__ import annotations

from datetime import date, datetime

from pydantic import BaseModel, ConfigDict


class PaymentOut(BaseModel):
    """`undone_at`: it was entered wrongly, and counts no more."""

    model_config = ConfigDict(from_attributes=True)

    id: int
    amount_minor: int
    method: str
    paid_on: date
    undone_at: datetime | None
    undone_for: str


class DeliveryUndone(BaseModel):
    """`order_state`: "promised" if what was promised is kept for the order again, else "asked"; null at the gate."""

    ticket_id: int
    number: int
    order_id: int | None
    order_state: str | None
    clashes: list[int]


class PaymentUndone(BaseModel):
    payment_id: int
    ticket_id: int
    owed_minor: int


class LoadUndone(BaseModel):
    """`offer_id`: the offer that is open again."""

    load_id: int
    number: int
    offer_id: int | None


class StackUndone(BaseModel):
    """`name`: under which the stack is kept now."""

    stack_id: int
    name: str
    clashes: list[int]


class MeasureUndone(BaseModel):
    """`difference_g`: what the wood in the stack changed by; `clashes`: what does not fit the book, by id."""

    measure_id: int
    stack_id: int
    difference_g: int
    clashes: list[int]


class StackMeasureOut(BaseModel):
    """`first`: it was stacked with this one; `undone_at`: it was entered wrongly, and counts no more."""

    model_config = ConfigDict(from_attributes=True)

    id: int
    happened_at: datetime
    piled: str
    outside_m3: float
    first: bool
    undone_at: datetime | None
    undone_for: str


class MovingUndone(BaseModel):
    """`number` of the entry; ids of the stacks and loads whose wood changed."""

    number: int
    stacks: list[int]
    loads: list[int]
    clashes: list[int]


class Paid(BaseModel):
    ticket_id: int
    paid_minor: int | None = None
    owed_minor: int
