"""What if it were split finer, stacked elsewhere, covered, begun earlier: the same members, one thing changed.

Every member keeps its weather, its wood and its errors, so that the difference between two forecasts is the
change alone.
For a stack that stands already, the change is made on a given day: each member starts again with the mean
moisture it has by then, taken as even inside the piece, changed or not.
What differs between the two is added to the stack's own forecast.
A piece that is wet inside and dry outside lags behind an even one; a cut lays part of its core bare, so half of
that lag is left to pieces that are split or sawn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from rickyard.errors import InputError
from rickyard.season.forecast import Forecast, forecast, mix
from rickyard.season.labour import Labour, splitting
from rickyard.season.pieces import LENGTH_M, THICKNESS_M, Pieces
from rickyard.season.readings import Reading
from rickyard.season.screening import MEMBERS, screening_model
from rickyard.text import T_, Text

if TYPE_CHECKING:
    from rickyard.season.models import DryingModel
    from rickyard.weather import HourlyAir

Floats = NDArray[np.float64]

#: What "finer", "coarser" and "shorter" multiply, and how far a start is moved.
FINER, HALVED, COARSER, SHORTER = 2 / 3, 1 / 2, 3 / 2, 3 / 4
MONTH_DAYS = 30
#: What long logs are sawn to before they are split [m].
STOVE_LENGTH_M = 0.41
#: Fields of a change that cuts pieces, and how much of the lag of the wet core the cut leaves; assumed.
CUTS = {"thickness_m", "length_m", "form"}
CORE_LAID_BARE = 0.5
WINDIER = {"sheltered": "normal", "normal": "windy"}
STILLER = {"normal": "sheltered", "windy": "normal"}


@dataclass(frozen=True)
class Change:
    """One thing done otherwise: fields of `Pieces` and their new values; `id` names it."""

    id: str
    fields: Mapping[str, Any] = field(default_factory=dict)

    def of(self, pieces: Pieces) -> Pieces:
        """The pieces with the change; a width goes with the thickness."""
        fields = dict(self.fields)
        if "thickness_m" in fields and pieces.width_m is not None and "width_m" not in fields:
            fields["width_m"] = pieces.width_m * fields["thickness_m"] / pieces.thickness_m
        return replace(pieces, **fields)


AS_IT_IS = Change("as_it_is")


@dataclass(frozen=True)
class Outcome:
    """What a change brings.

    `p10`, `p50`, `p90`: days by which a tenth, half, nine tenths of the members are dry; None beyond the horizon.
    `sooner_days`: 10th, 50th and 90th percentile over the members of how much sooner each is dry [d], less than
    zero for later; `open_ended` if some are dry in one case only, so that their difference is at least so much.
    `odds_by`, `odds_later`: odds of being dry by the day asked for, and a month after it; None if none was.
    """

    change: Change
    pieces: Pieces
    p10: date | None
    p50: date | None
    p90: date | None
    sooner_days: tuple[int, int, int]
    open_ended: bool
    odds_by: float | None
    odds_later: float | None
    labour: Labour | None
    ready_day: tuple[int, ...]


@dataclass(frozen=True)
class WhatIf:
    """All outcomes, the first of them with nothing changed; `model` ran them with `members` members."""

    outcomes: tuple[Outcome, ...]
    target_mc_wet: float
    by: date | None
    first: date
    horizon: date
    model: str
    members: int
    warnings: tuple[Text, ...]


def usual_changes(pieces: Pieces, *, standing: bool, not_before: date | None = None) -> list[Change]:
    """What a yard may do otherwise with these pieces; for a stack that stands, what can still be done.

    Nothing is stacked before `not_before`.
    """
    found: list[Change] = []

    def sized(id_: str, name: str, factor: float, limits: tuple[float, float]) -> None:
        value = round(getattr(pieces, name) * factor, 3)
        if limits[0] <= value <= limits[1]:
            found.append(Change(id_, {name: value}))

    if pieces.form in ("round", "log", "half"):
        halved = round(pieces.thickness_m / 2, 3)
        sawn = {"length_m": STOVE_LENGTH_M} if pieces.length_m > 2 * STOVE_LENGTH_M else {}
        found.append(Change("split", {"form": "split", "thickness_m": halved, **sawn}))
    else:
        sized("finer", "thickness_m", FINER, THICKNESS_M)
        sized("halved", "thickness_m", HALVED, THICKNESS_M)
        if not standing:
            sized("coarser", "thickness_m", COARSER, THICKNESS_M)
    sized("shorter", "length_m", SHORTER, LENGTH_M)
    covers = {"none": ("top", "shed"), "top": ("shed",) if standing else ("none", "shed"), "shed": ()}
    found += [Change(f"cover_{cover}", {"cover": cover}) for cover in covers[pieces.cover]]
    if pieces.exposure in WINDIER:
        found.append(Change("windier", {"exposure": WINDIER[pieces.exposure]}))
    if pieces.exposure in STILLER:
        found.append(Change("stiller", {"exposure": STILLER[pieces.exposure]}))
    if not standing:
        month = timedelta(days=MONTH_DAYS)
        if not_before is None or pieces.stacked_on - month >= not_before:
            found.append(Change("earlier", {"stacked_on": pieces.stacked_on - month}))
        found.append(Change("later", {"stacked_on": pieces.stacked_on + month}))
    return found


def what_if(
    parts: Sequence[tuple[float, Pieces]],
    changes: Sequence[Change],
    air: HourlyAir,
    *,
    target_mc_wet: float = 0.20,
    until: date,
    by: date | None = None,
    today: date | None = None,
    readings: Sequence[Sequence[Reading]] = (),
    members: int = MEMBERS,
    seed: int = 0,
    stack_key: str = "",
    model: DryingModel | None = None,
    more: Mapping[str, Any] | None = None,
) -> WhatIf:
    """The stack as it is and with each change.

    Parameters
    ----------
    parts
        Shares of oven-dry mass and pieces of each species of the stack; one for an unmixed one.
    changes
        What is done otherwise, one at a time.
    air
        Hours of the sky, from the earliest stacking to `until`.
    target_mc_wet
        What counts as dry [water / total mass].
    until
        The last day looked at, the same for all.
    by
        A day by which it should be dry.
    today
        For a stack that stands: the day the change is made. None: everything is so from the stacking on.
    readings
        Measurements, for each part.
    members, seed, stack_key, model
        As in `forecast`; no model: the quick one.
    more
        Further arguments of `forecast`, the same for all.

    Raises
    ------
    InputError
        As `forecast`, and if `today` does not lie between the stacking and `until`.
    """
    model = screening_model() if model is None else model
    first = min([pieces.stacked_on for _, pieces in parts])
    if today is not None and not first <= today < until:
        raise InputError(
            "today",
            wanted=T_("a day from {first} to {last}", first=first.isoformat(), last=until.isoformat()),
            got=today.isoformat(),
            next_move=T_("Ask from a day on which the stack stands."),
        )

    def run(of: Sequence[tuple[float, Pieces]], start: Forecast | None, row: int) -> Forecast:
        made = []
        before = [start] if start is not None and not start.parts else []
        before = before or [part for _, part in (start.parts if start is not None else ())]
        for number, (share, pieces) in enumerate(of):
            ensemble = before[number].ensemble if before else None
            if ensemble is not None:
                ensemble = replace(ensemble, start_db=before[number].mc_db[row].astype(np.float64))
            made.append(
                (
                    share,
                    forecast(
                        pieces,
                        air,
                        members=members,
                        seed=seed,
                        readings=readings[number] if readings and not before else (),
                        until=until,
                        stack_key=stack_key,
                        model=model,
                        ensemble=ensemble,
                        drawn_as=parts[number][1],
                        layers=False,
                        **(more or {}),
                    ),
                )
            )
        return mix(made)

    base = run(parts, None, 0)
    own = _days(base, first, target_mc_wet)
    again, row = own, 0
    if today is not None:
        row = (today - first).days
        own = np.maximum(own, row)
        again = _days(run(_from(parts, today, base, row), base, row), first, target_mc_wet)
    outcomes = [_outcome(AS_IT_IS, parts[0][1], parts[0][1], own, own, first, until, by)]
    for change in changes:
        changed = [(share, change.of(pieces)) for share, pieces in parts]
        if today is None:
            days = _days(run(changed, None, 0), first, target_mc_wet)
        else:
            other = _days(run(_from(changed, today, base, row), base, row), first, target_mc_wet)
            # Where only one of them is dry in time, its own day counts.
            both = np.isfinite(own) & np.isfinite(again) & np.isfinite(other)
            lag = np.where(both, own, 0.0) - np.where(both, again, 0.0)
            share = CORE_LAID_BARE if CUTS & set(change.fields) else 1.0
            days = np.where(both, np.maximum(np.floor(other + share * lag), row), other)
        outcomes.append(_outcome(change, changed[0][1], parts[0][1], days, own, first, until, by))
    return WhatIf(
        outcomes=tuple(outcomes),
        target_mc_wet=target_mc_wet,
        by=by,
        first=first,
        horizon=until,
        model=model.name,
        members=members,
        warnings=base.warnings,
    )


def _from(
    parts: Sequence[tuple[float, Pieces]], today: date, base: Forecast, row: int
) -> list[tuple[float, Pieces]]:
    """The pieces begun again on a day; the moisture is only that of the warnings, members bring their own."""
    runs = [part for _, part in base.parts] or [base]
    return [
        (
            share,
            replace(pieces, stacked_on=today, start_mc_db=max(0.05, float(np.median(part.mc_db[row])))),
        )
        for (share, pieces), part in zip(parts, runs, strict=True)
    ]


def _days(made: Forecast, first: date, target_mc_wet: float) -> Floats:
    """Day on which each member is dry, counted from `first`; infinite beyond the horizon."""
    days = made.ready_day(target_mc_wet).astype(np.float64)
    return np.where(days < 0, np.inf, days + (made.dates[0] - first).days)


def _outcome(
    change: Change,
    changed: Pieces,
    pieces: Pieces,
    days: Floats,
    own: Floats,
    first: date,
    until: date,
    by: date | None,
) -> Outcome:
    horizon = (until - first).days + 1
    open_ended = bool((np.isfinite(days) != np.isfinite(own)).any())
    sooner = np.minimum(own, horizon) - np.minimum(days, horizon)
    low, mid, high = np.quantile(sooner, (0.1, 0.5, 0.9), method="nearest")

    def reached(share: float) -> date | None:
        day = float(np.sort(days)[max(0, int(np.ceil(share * len(days) - 1e-9)) - 1)])
        return first + timedelta(days=int(day)) if np.isfinite(day) else None

    def odds(day: date | None) -> float | None:
        return None if day is None else float(np.mean(days <= (day - first).days))

    return Outcome(
        change=change,
        pieces=changed,
        p10=reached(0.1),
        p50=reached(0.5),
        p90=reached(0.9),
        sooner_days=(round(low), round(mid), round(high)),
        open_ended=open_ended,
        odds_by=odds(by),
        odds_later=None if by is None else odds(by + timedelta(days=MONTH_DAYS)),
        labour=None if change is AS_IT_IS else splitting(pieces, changed),
        ready_day=tuple(int(day) if np.isfinite(day) else -1 for day in days),
    )
