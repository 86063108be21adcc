"""Inside a piece: where the water is, cut across the middle and along the axis.

The mean of a piece hides its core: the last tenth of the water sits where no pin reaches.
One typical member is drawn, the others give the spread.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from rickyard.errors import InputError
from rickyard.season.ensemble import member_constants, member_hours
from rickyard.season.forecast import air_hours, forecast
from rickyard.season.models import AirHours, FiniteVolumes, MemberConstants, PieceShape
from rickyard.season.physics import Physics, zoned
from rickyard.season.pieces import Pieces
from rickyard.season.readings import Reading
from rickyard.season.screening import screening_model
from rickyard.text import T_
from rickyard.wood import get_species

if TYPE_CHECKING:
    from rickyard.weather import HourlyAir

Floats = NDArray[np.float64]

#: Members run for the spread; a multiple of eight is what the solver takes at once.
MEMBERS = 16
WETTEST = 0.10


@dataclass(frozen=True)
class Section:
    """One day inside the typical piece.

    `across` [x, y] is the cut through the middle of the length, `along` [x, z] that through the middle of the
    width: moistures of total mass of cells between the edges `x_m`, `y_m`, `z_m` [m], the whole piece.
    `mean`, `core`, `face` and `wettest` (the wettest tenth of the volume) are 10th, 50th and 90th percentile
    over the members [water / total mass]; `face` is that of the bare faces.
    """

    on: date
    x_m: tuple[float, ...]
    y_m: tuple[float, ...]
    z_m: tuple[float, ...]
    across: Floats
    along: Floats
    mean: tuple[float, float, float]
    core: tuple[float, float, float]
    face: tuple[float, float, float]
    wettest: tuple[float, float, float]


@dataclass(frozen=True)
class Sections:
    """The days asked for; `bark`: `none`, `one` (the face at y = 0), `half` (all but the face at the
    other end of y) or `all` round."""

    days: tuple[Section, ...]
    bark: str
    round: bool
    species_id: str
    members: int
    model: str


def sections(
    pieces: Pieces,
    air: HourlyAir,
    days: Sequence[date],
    *,
    seed: int = 0,
    readings: Sequence[Reading] = (),
    stack_key: str = "",
    more: Mapping[str, Any] | None = None,
) -> Sections:
    """The inside of the typical piece on each of the days.

    Parameters
    ----------
    pieces
        What dries.
    air
        Hours of the sky from the stacking to the last of `days`.
    days
        From the day of stacking on, in any order.
    seed, readings, stack_key
        As in `forecast`.
    more
        Further arguments of `forecast`.

    Raises
    ------
    InputError
        If there is no day, or one lies before the stacking.
    """
    wanted = sorted(set(days))
    if not wanted or wanted[0] < pieces.stacked_on:
        raise InputError(
            "on",
            wanted=T_("a day from {day} on, when the wood was stacked", day=pieces.stacked_on.isoformat()),
            got=wanted[0].isoformat() if wanted else "-",
            next_move=T_("Give a later day."),
        )
    species = get_species(pieces.species_id)
    last = max(wanted[-1], *(reading.on for reading in readings), pieces.stacked_on + timedelta(days=1))
    path = forecast(
        pieces,
        air,
        members=MEMBERS,
        seed=seed,
        readings=readings,
        until=last,
        stack_key=stack_key,
        model=screening_model(),
        layers=False,
        **(more or {}),
    )
    if path.ensemble is None:
        raise ValueError("an unmixed forecast without its members")
    constants = member_constants(pieces, species, path.ensemble)
    hours = member_hours(pieces, path.ensemble, air_hours(pieces, air, MEMBERS, last)[0])
    model = FiniteVolumes()
    shape = zoned(pieces.shape, species, Physics())
    rows = [(day - pieces.stacked_on).days for day in wanted]
    axes = model.cells(shape)
    fields = moisture_fields(model, shape, constants, hours, rows)
    # The member nearest the middle on all the days is drawn.
    share = _volumes(axes)
    means = np.stack([(field * share[..., None]).sum(axis=(0, 1, 2)) for field in fields])
    ranks = np.abs(means - np.median(means, axis=1, keepdims=True)).sum(axis=0)
    typical = int(np.argmin(ranks))
    bark = {0: "none", 1: "one", 3: "half"}.get(shape.bark_faces, "all")
    return Sections(
        days=tuple(
            _section(day, field, axes, share, shape, typical)
            for day, field in zip(wanted, fields, strict=True)
        ),
        bark=bark,
        round=pieces.form == "round",
        species_id=species.id,
        members=MEMBERS,
        model=model.name,
    )


def moisture_fields(
    model: FiniteVolumes,
    shape: PieceShape,
    constants: MemberConstants,
    air: AirHours,
    days: Sequence[int],
) -> list[Floats]:
    """Moisture of every cell [x, y, z, members] at the beginning of each of `days` (rising)."""
    return [np.asarray(model.field(shape, constants, air, day).mc_db, dtype=np.float64) for day in days]


def _volumes(axes: tuple[NDArray[np.floating], ...]) -> Floats:
    """Share of each cell in the piece's volume."""
    x, y, z = (np.asarray(axis, dtype=np.float64) for axis in axes)
    volume = x[:, None, None] * y[None, :, None] * z[None, None, :]
    return np.asarray(volume / volume.sum())


def _section(
    day: date,
    field: Floats,
    axes: tuple[NDArray[np.floating], ...],
    share: Floats,
    shape: PieceShape,
    typical: int,
) -> Section:
    half_y = shape.bark_faces not in (1, 3)
    # Cells need not be alike on the side of the bark and on the other.
    middle = 0 if half_y else int(np.searchsorted(np.cumsum(axes[1]), 0.5 * np.sum(axes[1])))
    across = field[:, :, 0, typical]
    along = field[:, middle, :, typical]
    if half_y:
        across = np.concatenate([across[:, ::-1], across], axis=1)
    across = np.concatenate([across[::-1], across], axis=0)
    along = np.concatenate([along[:, ::-1], along], axis=1)
    along = np.concatenate([along[::-1], along], axis=0)
    flat = field.reshape(-1, field.shape[-1])
    weights = share.reshape(-1)
    mean = (flat * weights[:, None]).sum(axis=0)
    return Section(
        on=day,
        x_m=_edges(axes[0], half=True),
        y_m=_edges(axes[1], half=half_y),
        z_m=_edges(axes[2], half=True),
        across=_wet(across),
        along=_wet(along),
        mean=_spread(mean),
        core=_spread(field[0, middle, 0]),
        face=_spread(field[-1, middle, 0]),
        wettest=_spread(_wettest(flat, weights)),
    )


def _wettest(flat: Floats, weights: Floats) -> Floats:
    """Mean moisture of the wettest tenth of the volume, by member."""
    order = np.argsort(-flat, axis=0)
    ranked = np.take_along_axis(flat, order, axis=0)
    volume = np.cumsum(weights[order], axis=0)
    part = np.diff(np.minimum(volume, WETTEST), axis=0, prepend=0.0)
    return np.asarray((ranked * part).sum(axis=0) / WETTEST)


def _edges(axis: NDArray[np.floating], *, half: bool) -> tuple[float, ...]:
    whole = np.concatenate([axis[::-1], axis]) if half else axis
    return (0.0, *(float(edge) for edge in np.cumsum(whole)))


def _wet(mc_db: Floats) -> Floats:
    return np.asarray(mc_db / (1.0 + mc_db))


def _spread(mc_db: Floats) -> tuple[float, float, float]:
    low, mid, high = np.percentile(_wet(mc_db), (10, 50, 90))
    return float(low), float(mid), float(high)


def section_days(
    first: date, today: date, ready_last: date | None, horizon: date, most: int = 14
) -> list[date]:
    """Days worth a picture: today, and the first of each month from the stacking to some time after it is dry."""
    until = min(horizon, max(today, ready_last or horizon) + timedelta(days=31))
    months = []
    month = (first.replace(day=1) + timedelta(days=32)).replace(day=1)
    while month <= until:
        months.append(month)
        month = (month + timedelta(days=32)).replace(day=1)
    step = max(1, -(-len(months) // max(1, most - 1)))
    now = min(max(today, first), horizon)
    # A picture a few days from today's says nothing of its own.
    return sorted({now, *(day for day in months[::step] if abs((day - now).days) > 6)})
