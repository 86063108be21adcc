"""Measured logs as the cutting plan takes them: ends without bark, and what in them may be in no piece.

No piece holds a defect, whatever it is and however small. Of a rotten or hollow core a list may say how wide it is:
where it takes less than half the cut, whoever makes a sheet may choose that pieces hold it all the same, for firewood
with a small dark heart is sold (common practice, no source). It is then taken off the pieces' wood.
"""

from __future__ import annotations

from dataclasses import replace

from rickyard.cut.logs import CutLog, Defect
from rickyard.measure import Defect as MeasuredDefect
from rickyard.measure import LogRow, swept_length_m

ROTTEN_SHARE = 0.5
"""A stretch of a log with so much of its cut gone makes no piece in any case: a judgement."""

CORES = ("hollow", "rot")


def cut_log(row: LogRow, log_id: str = "", *, small_cores: bool = False) -> CutLog:
    """A log with its defects. One without both ends measured is as thick all along as where it was measured, which
    keeps its volume; a bent one is as long as a tape laid along it says, as its defects are measured. With
    `small_cores` pieces may hold them.
    """
    thick, thin = _ends(row)
    length = swept_length_m(row.length_m, row.sweep_m) if row.sweep_m else row.length_m
    barred = tuple(
        Defect(one.from_m, min(one.to_m, length), one.kind)
        for one in row.defects
        if not (small_cores and _is_small_core(row, one))
    )
    return CutLog(log_id, length, thick, thin, barred, row.species_id)


def sound_share(row: LogRow) -> float:
    """Share of the log that is sound wood beside its small cores: what pieces that hold them have of it."""
    cores = tuple(one for one in row.defects if _is_small_core(row, one))
    if not cores:
        return 1.0
    found = replace(row, defects=cores).net()
    return found.net_m3 / found.gross.volume_m3


def _ends(row: LogRow) -> tuple[float, float]:
    skin = 2.0 * row.bark_thickness_m
    if row.small_d_m is None or row.large_d_m is None:
        # A list has both ends of a log or the middle.
        assert row.mid_d_m is not None
        return row.mid_d_m - skin, row.mid_d_m - skin
    return row.large_d_m - skin, row.small_d_m - skin


def _is_small_core(row: LogRow, defect: MeasuredDefect) -> bool:
    """Whether it is a core that pieces may hold if somebody chooses so."""
    return defect.kind in CORES and _gone(row, defect) < ROTTEN_SHARE


def _gone(row: LogRow, defect: MeasuredDefect) -> float:
    """Share of the cut that a hollow or rot takes, at the middle of the log."""
    if defect.share is not None:
        return defect.share
    if defect.diameter_m is None:
        return 1.0
    thick, thin = _ends(row)
    return min(1.0, (2.0 * defect.diameter_m / (thick + thin)) ** 2)
