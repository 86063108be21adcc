"""What the API answers of lists taken in."""

from __future__ import annotations

from pydantic import BaseModel


class ListTaken(BaseModel):
    """How many lines were new, changed something or said what the book says; ids of what is new or changed."""

    kind: str
    new: int
    changed: int
    same: int
    ids: list[int]
