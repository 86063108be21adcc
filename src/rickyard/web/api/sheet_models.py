"""What the API answers of cut sheets, splitting sheets and timed work. Lengths in m from the thick end, solid m³."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from pydantic import BaseModel

from rickyard.cut import marks_of
from rickyard.desk.cut_sheets import CutLogLine, CutSheetPage
from rickyard.desk.split_sheets import SplitClass, SplittingPage
from rickyard.web.api.models import Out, SpeciesOut, SpreadOut


class CutSheetMade(BaseModel):
    sheet_id: int
    number: int
    logs: int
    planned: bool


class CutSheetPlanned(BaseModel):
    sheet_id: int
    planned: bool


class TickedOff(BaseModel):
    sheet_id: int
    log: int
    done: bool


class FoundKept(BaseModel):
    sheet_id: int
    log: int
    pieces: int
    changed: bool


class SplittingSheetMade(BaseModel):
    sheet_id: int
    number: int


class SplittingSheetReckoned(BaseModel):
    sheet_id: int
    state: str
    limit_m: float | None


class WorkTimed(BaseModel):
    session_id: int


class CutSheetOut(Out):
    """One line of the list; `planned` is false while the plan is still to be reckoned."""

    id: int
    number: int
    load_id: int
    load_number: int
    made_at: datetime
    made_by: str
    note: str
    planned: bool
    logs: int
    logs_done: int
    pieces: int
    pieces_done: int
    solid_m3: float
    done_m3: float


class CutPieceOut(BaseModel):
    from_m: float
    to_m: float
    ware: str
    solid_m3: float
    done: bool


class CutMarkOut(BaseModel):
    """`side`: on which side of the mark the saw takes its wood, `far` or `near`."""

    at_m: float
    side: str


class CutFoundOut(Out):
    kind: str
    from_m: float
    to_m: float
    cut_to_m: float
    note: str
    happened_at: datetime
    person: str


class CutLogOut(BaseModel):
    number: int
    label: str
    species: SpeciesOut | None
    length_m: float
    large_d_m: float
    small_d_m: float
    pieces: list[CutPieceOut]
    marks: list[CutMarkOut]
    done: bool
    cut_at: datetime | None
    cut_by: str
    found: list[CutFoundOut]


class CutWareOut(BaseModel):
    name: str
    length_m: float
    value_per_m3: float
    wanted_m3: float | None
    min_d_m: float | None
    max_d_m: float | None
    pieces: int
    solid_m3: float


class CutHandOut(BaseModel):
    """The same logs at one length from the thick end on, that of `ware`; and each log at its best length."""

    ware: str
    value: float
    solid_m3: float
    each_log_value: float
    each_log_solid_m3: float


class CutSheetPageOut(BaseModel):
    """A sheet; `wares`, `value` and `bound` are empty until the plan is reckoned.

    Values are net of work, yard space and waiting, as offers are reckoned; `net` and `gross` have their ranges, and
    are empty where no more was told than a value.
    """

    sheet: CutSheetOut
    logs: list[CutLogOut]
    wares: list[CutWareOut]
    kerf_m: float | None
    trim_m: float | None
    value: float | None
    bound: float | None
    net: SpreadOut | None
    gross: SpreadOut | None
    by_hand: CutHandOut | None
    method: str
    notes: list[str]


class SplittingSheetOut(Out):
    """One line of the list. `state`: waiting, found, always or never; `limit_m` is the greatest thickness."""

    id: int
    number: int
    load_id: int
    load_number: int
    species: SpeciesOut
    made_at: datetime
    made_by: str
    wanted_by: date
    odds: float
    state: str
    limit_m: float | None
    classes: int


class SplitClassOut(BaseModel):
    """A class of round by its thickest; `problem` says why nothing can be split."""

    diameter_m: float
    rounds: int | None
    solid_m3: float | None
    pattern: str
    pieces: int
    thickness_mean_m: float | None
    thickness_max_m: float | None
    problem: str


class SplittingPageOut(BaseModel):
    sheet: SplittingSheetOut
    piece_length_m: float
    stacked_on: date
    target_mc_wet: float
    cover: str
    exposure: str
    firebox_m: float | None
    hand_m: float | None
    limit_odds: float | None
    model: str
    classes: list[SplitClassOut]
    thickness_m: float | None
    first: list[str]
    pieces_per_cord: SpreadOut | None
    hours_per_cord: SpreadOut | None


class MethodOut(BaseModel):
    """For pieces of the size of `WorkTimesOut`; `counts` are sessions in which pieces were counted."""

    id: str
    published_hours_per_cord: float
    source: str
    hours_per_cord: SpreadOut
    sessions: int
    own_share: float
    pieces_per_cord: SpreadOut
    counts: int


class StepOut(BaseModel):
    """Hours of a step; `own_share` is the yard's say in it, by so many `sessions`, or by its own figure without any."""

    id: str
    hours_per_cord: SpreadOut
    sessions: int
    own_share: float
    basis: str
    source: str


class TimedOut(Out):
    id: int
    worked_on: date
    step: str
    method: str
    cords: float
    solid_m3: float | None
    hours: float
    pieces: int | None
    thickness_m: float | None
    species: SpeciesOut | None
    sheet_id: int | None
    person: str
    note: str


class WorkTimesOut(BaseModel):
    """Hours of one person for a cord of 128 ft³, published and as the yard's own sessions have moved them.

    `steps` are of pieces as thick as the yard makes them; `methods` of pieces of `thickness_m` and `length_m`, and
    `pieces_per_cord` is of such, by the method that the yard's costs name.
    """

    thickness_m: float
    length_m: float
    steps: list[StepOut]
    methods: list[MethodOut]
    pieces_per_cord: SpreadOut
    sessions: list[TimedOut]


def cut_sheet_out(page: CutSheetPage) -> dict[str, Any]:
    plan, worth = page.plan, page.worth
    wares = [] if plan is None else list(enumerate(plan.wares))
    return {
        "sheet": page.card,
        "logs": [_log(page, line) for line in page.lines],
        "wares": [
            {
                "name": ware.name,
                "length_m": ware.length_m,
                "value_per_m3": ware.value_per_m3,
                "wanted_m3": ware.wanted_m3,
                "min_d_m": ware.min_d_m,
                "max_d_m": ware.max_d_m,
                "pieces": plan.pieces(place),
                "solid_m3": plan.solid_m3[place],
            }
            for place, ware in wares
            if plan is not None
        ],
        "kerf_m": None if plan is None else plan.saw.kerf_m,
        "trim_m": None if plan is None else plan.saw.trim_m,
        "value": None if plan is None else plan.value,
        "bound": None if plan is None else plan.bound,
        "net": None if worth is None else worth.net,
        "gross": None if worth is None else worth.gross,
        "by_hand": None
        if plan is None or worth is None
        else {
            "ware": plan.wares[worth.hand.ware].name,
            "value": worth.hand.value,
            "solid_m3": worth.hand.solid_m3,
            "each_log_value": worth.hand.each_value,
            "each_log_solid_m3": worth.hand.each_solid_m3,
        },
        "method": "" if plan is None else plan.method,
        "notes": [str(note) for note in page.notes],
    }


def _log(page: CutSheetPage, line: CutLogLine) -> dict[str, Any]:
    plan, log = page.plan, line.plan.log
    marks = () if plan is None else marks_of(line.plan, plan.saw)
    return {
        "number": line.number,
        "label": line.label,
        "species": line.species,
        "length_m": log.length_m,
        "large_d_m": log.large_d_m,
        "small_d_m": log.small_d_m,
        "pieces": [
            {
                "from_m": cut.from_m,
                "to_m": cut.to_m,
                "ware": "" if plan is None else plan.wares[cut.ware].name,
                "solid_m3": cut.solid_m3,
                "done": done,
            }
            for cut, done in zip(line.plan.cuts, line.pieces_done, strict=True)
        ],
        "marks": [{"at_m": mark.at_m, "side": mark.side} for mark in marks],
        "done": line.done,
        "cut_at": line.cut_at,
        "cut_by": line.cut_by,
        "found": line.found,
    }


def splitting_sheet_out(page: SplittingPage) -> dict[str, Any]:
    return {
        "sheet": page.card,
        "piece_length_m": page.piece_length_m,
        "stacked_on": page.stacked_on,
        "target_mc_wet": page.target_mc_wet,
        "cover": page.cover,
        "exposure": page.exposure,
        "firebox_m": page.firebox_m,
        "hand_m": page.hand_m,
        "limit_odds": page.limit_odds,
        "model": page.model,
        "classes": [_class(one) for one in page.classes],
        "thickness_m": page.thickness_m,
        "first": [str(text) for text in page.first],
        "pieces_per_cord": page.work.pieces if page.work else None,
        "hours_per_cord": page.work.hours if page.work else None,
    }


def _class(one: SplitClass) -> dict[str, Any]:
    plan = one.plan
    return {
        "diameter_m": one.diameter_m,
        "rounds": one.rounds,
        "solid_m3": one.solid_m3,
        "pattern": "" if plan is None else plan.pattern.id,
        "pieces": 0 if plan is None else len(plan.pieces),
        "thickness_mean_m": None if plan is None else plan.thickness_mean_m,
        "thickness_max_m": None if plan is None else plan.thickness_max_m,
        "problem": one.problem,
    }
