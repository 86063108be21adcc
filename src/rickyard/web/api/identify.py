"""What the command `identify` computes, under the same keys."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel

from rickyard.desk.context import Desk
from rickyard.desk.seen import UNTAUGHT, taught
from rickyard.identify import Prior, checked_situations, posterior, read_answer, report, the_key
from rickyard.web.api.bodies import PlainText
from rickyard.web.api.common import ERRORS

router = APIRouter(prefix="/api", tags=["computations"], responses={422: ERRORS[422]})


class RankOut(BaseModel):
    id: str
    key_id: str
    scientific: str
    common_en: str
    probability: float


class GroupOut(BaseModel):
    group: str
    probability: float


class VerdictOut(BaseModel):
    """`wood` is what the house may reckon with: an id of the species table, of a wider name if need be."""

    level: Literal["species", "group", "undecided"]
    name: str
    probability: float
    species: list[str]
    wood: str
    advice: str
    stop: bool


class LookOut(BaseModel):
    character: str
    question: str
    gain_bits: float
    how_to_look: str
    states: dict[str, str]
    settles_look_alikes: bool


class LookAgainOut(BaseModel):
    character: str
    why: str


class ContradictionOut(BaseModel):
    characters: list[str]
    why: str


class IdentifyOut(BaseModel):
    """`ranking` holds every species; with `not_listed` it sums to 1."""

    ranking: list[RankOut]
    not_listed: float
    groups: list[GroupOut]
    verdict: VerdictOut
    look_next: list[LookOut]
    look_again: list[LookAgainOut]
    contradictions: list[ContradictionOut]
    note: str


@router.get("/identify", response_model=IdentifyOut)
def identify(
    request: Request,
    answer: Annotated[
        list[PlainText],
        Query(max_length=200, description="CHARACTER=STATE, states parted by |, with ? or ??"),
    ] = [],  # noqa: B006 - FastAPI copies it
    situation: Annotated[
        list[PlainText], Query(max_length=10, description="leaf, winter, log, split, lens")
    ] = [],  # noqa: B006
    region: PlainText | None = None,
    street_tree: bool = False,
    yard: Annotated[bool, Query(description="with what this yard's confirmed trees have taught")] = False,
) -> Any:
    """Which tree is it, from whatever can be seen."""
    key = the_key()
    present = checked_situations(situation)
    desk: Desk | None = request.app.state.desk() if yard else None
    known = taught(desk) if desk else UNTAUGHT
    prior = Prior(region=region, counts=known.counts, street=street_tree)
    post = posterior(key, [read_answer(key, text) for text in answer], prior, exponent=known.exponent)
    return report(post, present)
