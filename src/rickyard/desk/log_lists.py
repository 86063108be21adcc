"""Logs of a load measured one by one: what each holds, what is taken off, how far the whole may be off."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from rickyard.book.models import LogPiece
from rickyard.errors import InputError
from rickyard.measure import (
    TO_10_90,
    Defect,
    LogRow,
    NetVolume,
    PeeledRow,
    Spread,
    log_list_total,
    with_bark_by_species,
)
from rickyard.text import T_, Text


@dataclass(frozen=True)
class GaugedLogs:
    """Logs as they count.

    Attributes
    ----------
    rows
        With the bark that was taken off.
    nets
        Gross and net volume of each.
    by_species
        Whether the thickness of a log's bark is its species' own.
    gross_m3, net_m3
        By species id; what is left without bark is `net_m3`.
    lost_m3
        By kind of defect.
    solid_m3
        All of them, with the 10th and 90th percentile, as `measure list` says it.
    notes
        Sizes that look like another unit, and what was said of single logs.
    """

    rows: tuple[LogRow, ...]
    nets: tuple[NetVolume, ...]
    by_species: tuple[bool, ...]
    gross_m3: dict[str, float]
    net_m3: dict[str, float]
    lost_m3: dict[str, float]
    solid_m3: Spread
    notes: tuple[Text, ...]

    @property
    def sd_share(self) -> float:
        """One standard deviation of the net volume of all, the same up and down, as the book keeps it."""
        return (self.solid_m3.high - self.solid_m3.low) / 2.0 / TO_10_90 / self.solid_m3.mid


def gauge_logs(rows: Sequence[LogRow], *, over_bark: bool = False) -> GaugedLogs:
    """What logs hold; with `over_bark` the species' own bark is taken off where none is told.

    Raises InputError that names the log.
    """
    if not rows:
        raise InputError(
            "logs",
            wanted=T_("at least one log"),
            got=T_("none"),
            next_move=T_("Type, paste or upload the logs."),
        )
    for number, row in enumerate(rows, start=1):
        _net(number, row)
    done = with_bark_by_species(rows) if over_bark else list(rows)
    nets = [_net(number, row) for number, row in enumerate(done, start=1)]
    gross: dict[str, float] = defaultdict(float)
    net: dict[str, float] = defaultdict(float)
    for row, one in zip(done, nets, strict=True):
        gross[row.species_id] += one.gross.volume_m3
        net[row.species_id] += one.net_m3
    if sum(net.values()) <= 0.0:
        raise InputError(
            "logs",
            wanted=T_("at least one log with sound wood"),
            got=T_("none"),
            next_move=T_("Look at the defects: nothing is left to take in."),
        )
    total = log_list_total(done)
    return GaugedLogs(
        rows=tuple(done),
        nets=tuple(nets),
        by_species=tuple(
            told.bark_thickness_m == 0.0 and row.bark_thickness_m > 0.0
            for told, row in zip(rows, done, strict=True)
        ),
        gross_m3=dict(gross),
        net_m3=dict(net),
        lost_m3={str(kind): lost for kind, lost in total.lost_m3.items()},
        solid_m3=total.net_m3,
        notes=total.notes,
    )


def defects_as_json(defects: Sequence[Defect]) -> list[dict[str, Any]]:
    return [asdict(defect) for defect in defects]


def row_of(log: LogPiece) -> LogRow:
    """A log of the book as it was measured, with the bark that was taken off."""
    kind = PeeledRow if log.bark_by_species else LogRow
    return kind(
        species_id=log.species_id,
        length_m=log.length_m,
        mid_d_m=log.mid_d_m,
        small_d_m=log.small_d_m,
        large_d_m=log.large_d_m,
        bark_thickness_m=log.bark_thickness_m,
        sweep_m=log.sweep_m,
        defects=tuple(Defect(**defect) for defect in log.defects),
    )


def _net(number: int, row: LogRow) -> NetVolume:
    try:
        return row.net()
    except InputError as error:
        raise InputError(
            "logs",
            wanted=T_("in log {number}: {wanted}", number=number, wanted=error.wanted),
            got=error.got,
            next_move=error.next_move,
        ) from error
