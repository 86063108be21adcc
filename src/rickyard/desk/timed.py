"""Work that was timed, as `cut.hours` takes it: with the cords it was and the pieces that its size says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Protocol

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book.models import SplittingSheet, WorkSession
from rickyard.cut import Rounds, cord_of, expected_pieces
from rickyard.cut import Session as Timed
from rickyard.cut.hours import SPLITTING
from rickyard.measure import CORD_M3, solid_share


class _Told(Protocol):
    """What a row of timed work says, as an object of the book or as columns of it."""

    @property
    def step(self) -> str: ...
    @property
    def method(self) -> str: ...
    @property
    def hours(self) -> float: ...
    @property
    def cords(self) -> float | None: ...
    @property
    def solid_m3(self) -> float | None: ...
    @property
    def pieces(self) -> int | None: ...
    @property
    def piece_length_m(self) -> float: ...
    @property
    def thickness_m(self) -> float | None: ...
    @property
    def sheet_id(self) -> int | None: ...


# Ten years of it are read for every offer: as columns, for objects take several times as long.
_TOLD = select(
    WorkSession.step,
    WorkSession.method,
    WorkSession.hours,
    WorkSession.cords,
    WorkSession.solid_m3,
    WorkSession.pieces,
    WorkSession.piece_length_m,
    WorkSession.thickness_m,
    WorkSession.sheet_id,
).order_by(WorkSession.id)


def timed_of(row: _Told, sheet: SplittingSheet | None = None) -> Timed:
    """Work as `cut.hours` takes it: solid wood as the ranked cords that the published content makes of it.

    `sheet`: that it was done by, which says how thick the pieces were where nobody did.
    """
    told = _timed(
        row.step,
        row.method,
        row.hours,
        row.cords,
        row.solid_m3,
        row.pieces,
        row.piece_length_m,
        row.thickness_m,
    )
    if row.step != SPLITTING or row.thickness_m is not None or sheet is None:
        return told
    made = rounds_split(sheet)
    by_size = (cord_of(made, row.piece_length_m).split_pieces or None) if made else None
    return replace(told, by_size=by_size)


@lru_cache(maxsize=8192)
def _timed(
    step: str,
    method: str,
    hours: float,
    cords: float | None,
    solid_m3: float | None,
    pieces: int | None,
    piece_length_m: float,
    thickness_m: float | None,
) -> Timed:
    """Of what was told once the same is made every time: pages ask for the work of ten years."""
    if cords is None:
        assert solid_m3 is not None
        cords = solid_m3 / solid_share("ranked", "split", piece_length_m).mid / CORD_M3
    by_size = None
    if step == SPLITTING and thickness_m is not None:
        by_size = expected_pieces(thickness_m, piece_length_m)
    return Timed(method, cords, hours, pieces, step, piece_length_m, by_size)


def timed_sessions(session: Session, yard_id: int) -> list[Timed]:
    rows = session.execute(_TOLD.where(WorkSession.yard_id == yard_id)).all()
    by_sheet: Sequence[_Told] = [row for row in rows if row[-1] is not None]
    sheets = sheets_of(session, by_sheet)
    # By their places: ten years of rows are asked for by name only where a sheet has something to say.
    return [
        _timed(*row[:-1]) if row[-1] is None else timed_of(row, sheets.get(row.sheet_id or 0)) for row in rows
    ]


def sheets_of(session: Session, rows: Sequence[_Told]) -> dict[int, SplittingSheet]:
    """The splitting sheets that work was done by."""
    wanted = {row.sheet_id for row in rows if row.sheet_id is not None}
    found = session.scalars(select(SplittingSheet).where(SplittingSheet.id.in_(wanted)))
    return {sheet.id: sheet for sheet in found}


def rounds_split(sheet: SplittingSheet) -> list[Rounds]:
    """The classes of a sheet that can be split or left whole, with what becomes of each; those that nobody measured
    count alike. None while the limit is reckoned."""
    return [
        Rounds(float(one["diameter_m"]), int(pattern["pieces"]), float(one["solid_m3"] or 1.0))
        for one, pattern in zip(sheet.rounds, sheet.patterns, strict=False)
        if "problem" not in pattern
    ]
