"""Views of the saw and the splitter: cut sheets, splitting sheets, hours that were timed."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query

from rickyard.desk import cut_sheets, split_sheets
from rickyard.web.api import sheet_models as s
from rickyard.web.api.common import ERRORS, Limit, Number, RowId, TheDesk

router = APIRouter(prefix="/api", tags=["cut and split"], responses=ERRORS)

OfLoad = Annotated[int | None, Query(ge=1, le=2**31 - 1)]


@router.get("/cut-sheets", response_model=list[s.CutSheetOut])
def all_cut_sheets(desk: TheDesk, load_id: OfLoad = None, before: RowId = None, limit: Limit = None) -> Any:
    """Cut sheets, newest first; of one load, if it is said."""
    return cut_sheets.cut_sheets(desk, load_id=load_id, before=before, limit=limit)


@router.get("/cut-sheets/{sheet_id}", response_model=s.CutSheetPageOut)
def one_cut_sheet(desk: TheDesk, sheet_id: Number) -> Any:
    """A cut sheet: each log with its pieces and marks, what is cut of it and what was found in it."""
    return s.cut_sheet_out(cut_sheets.cut_sheet(desk, sheet_id))


@router.get("/splitting-sheets", response_model=list[s.SplittingSheetOut])
def all_splitting_sheets(
    desk: TheDesk, load_id: OfLoad = None, before: RowId = None, limit: Limit = None
) -> Any:
    """Splitting sheets, newest first; of one load, if it is said."""
    return split_sheets.splitting_sheets(desk, load_id=load_id, before=before, limit=limit)


@router.get("/splitting-sheets/{sheet_id}", response_model=s.SplittingPageOut)
def one_splitting_sheet(desk: TheDesk, sheet_id: Number) -> Any:
    """A splitting sheet: the greatest thickness, and each class of round with its pattern."""
    return s.splitting_sheet_out(split_sheets.splitting_sheet(desk, sheet_id))


@router.get("/work-times", response_model=s.WorkTimesOut)
def work_times(desk: TheDesk, before: RowId = None, limit: Limit = None) -> Any:
    """Hours and pieces a cord, published or assumed and as timed sessions moved them; the sessions, newest first."""
    learnt = split_sheets.work_learnt(desk)
    return {
        "thickness_m": learnt.thickness_m,
        "length_m": learnt.length_m,
        "steps": [
            {
                "id": line.step,
                "hours_per_cord": line.per_cord,
                "sessions": line.sessions,
                "own_share": line.own,
                "basis": line.basis,
                "source": line.source,
            }
            for line in learnt.steps
        ],
        "methods": [
            {
                "id": line.method.id,
                "published_hours_per_cord": line.method.hours_per_cord,
                "source": line.method.source,
                "hours_per_cord": line.learnt.hours.per_cord,
                "sessions": line.learnt.hours.sessions,
                "own_share": line.learnt.hours.own_share,
                "pieces_per_cord": line.pieces,
                "counts": line.learnt.counted.sessions,
            }
            for line in learnt.methods
        ],
        "pieces_per_cord": learnt.own_method.pieces,
        "sessions": split_sheets.work_sessions(desk, before=before, limit=limit),
    }
