"""What the deeds of wood that goes its way answer."""

from __future__ import annotations

from pydantic import BaseModel


class WoodPut(BaseModel):
    """Grams are oven-dry; `closed` are stacks that are empty now, `clashes` what does not fit the book."""

    stack_id: int
    mass_g: int
    closed: list[int]
    clashes: list[int]


class StackDivided(BaseModel):
    stack_id: int
    name: str
    mass_g: int
    clashes: list[int]


class StackSplit(BaseModel):
    stack_id: int
    name: str
    mass_g: int
    closed: list[int]
    clashes: list[int]


class LoadRejected(BaseModel):
    load_id: int
    mass_g: int
    clashes: list[int] = []


class WoodTaken(BaseModel):
    stack_id: int | None
    load_id: int | None
    mass_g: int
    closed: list[int]
    clashes: list[int]


class WoodReturned(BaseModel):
    ticket_id: int
    stack_id: int
    mass_g: int
    clashes: list[int]
