"""What deeds and views of measuring answer in the API."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from pydantic import BaseModel

from rickyard.web.api.models import Out, SpreadOut


class MeasureNoted(BaseModel):
    """Solid wood without bark, green, by this measure."""

    measure_id: int
    load_id: int
    solid_m3: float


class MeasureSetAside(BaseModel):
    measure_id: int
    load_id: int


class MeasuresFollowed(BaseModel):
    """`difference_g`: what the journal's wood changed by, oven-dry without bark."""

    load_id: int
    solid_m3: float
    difference_g: int


class MeasureLineOut(Out):
    id: int | None
    kind: str
    solid_m3: SpreadOut
    weight: float
    happened_at: datetime | None
    person: str
    note: str
    set_aside: bool
    told: dict[str, Any]


class ReconciledOut(Out):
    solid_m3: SpreadOut
    agree: bool
    apart: float


class LoadMeasuresOut(Out):
    """All measures of a load; `together` is their one estimate, `booked_m3` what the journal counts the load as."""

    lines: tuple[MeasureLineOut, ...]
    together: ReconciledOut | None
    booked_m3: float
    may_follow: bool


class StackMeasuredByPhoto(BaseModel):
    """`area_m2` of the face; `clashes`: ids of what does not fit the book."""

    stack_id: int
    measure_id: int
    area_m2: float
    outside_m3: float
    difference_g: int
    clashes: list[int]
