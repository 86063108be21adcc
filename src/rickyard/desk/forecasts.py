"""When each stack is dry: which forecasts are stale, how one is made, and what it answers.

A forecast is kept with the fingerprint of everything it was made from. When that changes (a reading, a
measurement of the shares, another cover, a new model) the kept one is stale and the worker makes another;
pages never wait for it and say what they show.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from typing import Any

import numpy as np
from sqlalchemy import func, select
from sqlalchemy.orm import Session, defer

from rickyard import season, weather
from rickyard.book import stock_by_spot
from rickyard.book.models import Promise, Stack, StackForecast, Yard
from rickyard.desk.context import Desk, local_day
from rickyard.desk.fingerprints import fingerprints
from rickyard.desk.forecast_inputs import ForecastInputs, inputs_of, readings_for, with_all_it_hangs_on
from rickyard.desk.kept_forecasts import Kept, Memory, memory_of
from rickyard.desk.learning import Teaching, keep_lessons, lessons_of
from rickyard.desk.stacks import StackCard, card_of
from rickyard.desk.texts import text_from_json, text_to_json
from rickyard.text import Text
from rickyard.wood import Species, db_from_wet, get_species


@dataclass(frozen=True)
class PartForecast:
    """One species of a stack. Days are None beyond the horizon."""

    species: Species
    share: float
    ready_p10: date | None
    ready_p50: date | None
    ready_p90: date | None
    mc_wet_today: float


@dataclass(frozen=True)
class LayerOutlook:
    """The top, middle or bottom of a stack: moisture today (10th, 50th, 90th percentile of total mass), days ready."""

    name: str
    today: tuple[float, float, float]
    ready_p10: date | None
    ready_p50: date | None
    ready_p90: date | None


@dataclass(frozen=True)
class StackOutlook:
    """What is known of a stack's drying. `mc_db` has shape [days, members]; `dates[i]` belongs to row i."""

    stack_id: int
    state: str
    stale: bool
    error: str
    made_at: datetime | None
    model: str
    target_mc_wet: float
    dates: tuple[date, ...]
    p10: tuple[float, ...]
    p50: tuple[float, ...]
    p90: tuple[float, ...]
    ready_p10: date | None
    ready_p50: date | None
    ready_p90: date | None
    odds: tuple[tuple[date, float], ...]
    parts: tuple[PartForecast, ...]
    slowest: Species | None
    warnings: tuple[Text, ...]
    mc_db: np.ndarray
    #: Readings (by id) that stand far from everything else.
    doubted: tuple[int, ...] = ()
    layers: tuple[LayerOutlook, ...] = ()
    #: Nothing is to be made: what is kept, be it that it failed, is of the stack as it is.
    settled: bool = False

    @property
    def known(self) -> bool:
        return bool(self.dates)

    def members_dry_on(self, day: date, mc_wet: float) -> np.ndarray:
        """For each member, whether the stack's mean is at or below `mc_wet` on that day (bool [members]).

        Before the first day the wood is as stacked; after the last day the last one holds.
        """
        row = min(max((day - self.dates[0]).days, 0), len(self.dates) - 1)
        return np.asarray(self.mc_db[row] <= db_from_wet(mc_wet))

    def odds_on(self, day: date, mc_wet: float) -> float | None:
        """Share of members at or below `mc_wet` on that day; None while there is no forecast."""
        return float(self.members_dry_on(day, mc_wet).mean()) if self.known else None

    def moisture_on(self, day: date) -> tuple[float, float, float] | None:
        """10th, 50th and 90th percentile of the moisture (of total mass) on that day."""
        if not self.known:
            return None
        row = min(max((day - self.dates[0]).days, 0), len(self.dates) - 1)
        return self.p10[row], self.p50[row], self.p90[row]


@dataclass(frozen=True)
class Progress:
    """How far the worker is: forecasts up to date, and all that are wanted."""

    done: int
    wanted: int
    failed: int


def wanted(desk: Desk) -> list[tuple[ForecastInputs, bool]]:
    """Inputs of every standing stack's forecast, and whether the kept one is up to date.

    In the order in which they are wanted: stacks whose readings have yet to teach, stacks with promises, the newest.
    """
    with desk.book.read() as session:
        yard = desk.yard(session)
        return _wanted(session, yard, local_day(yard, desk.now()))


def progress(desk: Desk) -> Progress:
    with desk.book.read() as session:
        yard = desk.yard(session)
        pairs = _wanted(session, yard, local_day(yard, desk.now()))
        failed = session.scalars(
            select(StackForecast.id).where(StackForecast.yard_id == yard.id, StackForecast.state == "failed")
        ).all()
        return Progress(sum(fresh for _, fresh in pairs), len(pairs), len(failed))


def progress_of(desk: Desk, cards: Sequence[StackCard], looks: Mapping[int, StackOutlook]) -> Progress:
    """As `progress`, where all standing stacks and their outlooks are at hand."""
    wanted = [looks[card.id] for card in cards if card.shares]
    with desk.book.read() as session:
        failed = select(func.count()).select_from(StackForecast).where(StackForecast.state == "failed")
        count = session.scalar(failed.where(StackForecast.yard_id == desk.yard_id)) or 0
    return Progress(sum(look.settled for look in wanted), len(wanted), count)


def make(inputs: ForecastInputs) -> tuple[dict[str, Any], bytes]:
    """Computes a forecast: a summary as plain JSON, and the members' moistures packed. Pure; takes seconds."""
    sky = inputs.sky or weather.Sky(weather.find_place(inputs.place))
    start: date = inputs.pieces["stacked_on"]
    days = (inputs.until - start).days + 1
    air = weather.air_for(sky, start, days, members=inputs.members, seed=inputs.seed)
    parts: list[tuple[float, season.Forecast]] = []
    for species_id, share in inputs.shares:
        parts.append(
            (
                share,
                season.forecast(
                    season.Pieces(species_id=species_id, **inputs.pieces),
                    air,
                    members=inputs.members,
                    seed=inputs.seed,
                    readings=readings_for(inputs, species_id),
                    until=inputs.until,
                    stack_key=str(inputs.stack_id),
                    row=inputs.row,
                    lessons=inputs.lessons,
                    teach=inputs.teach,
                ),
            )
        )
    whole = season.mix(parts)
    ready = whole.ready(inputs.target_mc_wet)
    summary = {
        "dates": [whole.dates[0].isoformat(), len(whole.dates)],
        "p10": _rounded(whole.p10),
        "p50": _rounded(whole.p50),
        "p90": _rounded(whole.p90),
        "ready": [_iso(ready.p10), _iso(ready.p50), _iso(ready.p90)],
        "odds": [[day.isoformat(), round(float(odds), 4)] for day, odds in ready.odds],
        "parts": [
            {
                "species_id": species_id,
                "share": share,
                "ready": [_iso(r) for r in _ready_days(part, inputs.target_mc_wet)],
                "p50": _rounded(part.p50),
            }
            for (species_id, _), (share, part) in zip(inputs.shares, parts, strict=True)
        ],
        "layers": _layers(whole, inputs.target_mc_wet),
        "warnings": [text_to_json(text) for text in (*whole.warnings, *weather.sky_notes(sky, start, days))],
        "doubted": sorted({int(r.ref) for _, part in parts for r in part.doubted if r.ref}),
        "lessons": [asdict(part.lesson.weighed(share)) for share, part in parts if part.lesson is not None],
    }
    packed = io.BytesIO()
    np.savez_compressed(packed, mc_db=np.round(whole.mc_db * 10000).astype(np.uint16))
    return summary, packed.getvalue()


def keep(desk: Desk, inputs: ForecastInputs, summary: dict[str, Any], members_mc: bytes) -> None:
    """Keeps a forecast in place of the stack's earlier one."""
    with desk.book.write(desk.yard_id) as session:
        row = _row_for(session, desk.yard_id, inputs.stack_id)
        row.fingerprint = inputs.fingerprint
        row.state, row.error = "done", ""
        row.model, row.made_at = inputs.model, desk.now()
        row.summary, row.members_mc = summary, members_mc
        memory_of(desk.book).forget(inputs.stack_id)
        if inputs.teach or not inputs.readings:
            told = summary.get("lessons", ())
            keep_lessons(session, desk.yard_id, inputs.stack_id, inputs.lesson_fingerprint, told, desk.now())


def keep_failure(desk: Desk, inputs: ForecastInputs, error: str) -> None:
    """Notes that a forecast could not be made; it is tried again only when its inputs change."""
    with desk.book.write(desk.yard_id) as session:
        row = _row_for(session, desk.yard_id, inputs.stack_id)
        row.fingerprint, row.state, row.error = inputs.fingerprint, "failed", error[:500]


def refresh(desk: Desk, *, limit: int | None = None) -> int:
    """Makes stale forecasts here and now, at most `limit`; gives how many. The worker does this in the background."""
    stale = [inputs for inputs, fresh in wanted(desk) if not fresh]
    for inputs in stale[:limit]:
        keep(desk, inputs, *make(inputs))
    return len(stale[:limit])


def outlook(desk: Desk, stack_id: int) -> StackOutlook:
    """The outlook of one stack; empty (`known` is False) until its first forecast is made."""
    return outlooks(desk, [stack_id])[stack_id]


def outlooks(desk: Desk, stack_ids: Sequence[int] | None = None) -> dict[int, StackOutlook]:
    """Outlooks of these stacks, or of all standing ones."""
    if stack_ids is not None and not stack_ids:
        return {}
    with desk.book.read() as session:
        yard = desk.yard(session)
        return _outlooks(session, yard, local_day(yard, desk.now()), stack_ids, memory_of(desk.book))


def _outlooks(
    session: Session, yard: Yard, day: date, stack_ids: Sequence[int] | None, memory: Memory
) -> dict[int, StackOutlook]:
    wanted = [
        Stack.yard_id == yard.id,
        Stack.emptied_on.is_(None) if stack_ids is None else Stack.id.in_(stack_ids),
    ]
    rows = {
        row.stack_id: row
        for row in session.scalars(
            select(StackForecast)
            .where(StackForecast.stack_id.in_(select(Stack.id).where(*wanted)))
            .options(defer(StackForecast.summary), defer(StackForecast.members_mc))
        )
    }
    kept = memory.recall(session, rows.values())
    targets = dict(session.execute(select(Stack.id, Stack.target_mc_wet).where(*wanted)).all())
    prints = fingerprints(session, yard, day, list(targets), memory.fingerprints)
    found: dict[int, StackOutlook] = {}
    for stack_id, target_mc_wet in targets.items():
        row, fingerprint = rows.get(stack_id), prints[stack_id]
        if fingerprint is None:
            continue
        stale = bool(fingerprint) and (row is None or row.fingerprint != fingerprint)
        found[stack_id] = _outlook(stack_id, target_mc_wet, row, kept.get(stack_id), stale=stale, today=day)
    return found


def _wanted(session: Session, yard: Yard, day: date) -> list[tuple[ForecastInputs, bool]]:
    standing = select(Stack.spot_id).where(Stack.yard_id == yard.id, Stack.emptied_on.is_(None))
    held = stock_by_spot(session, yard.id, spots=standing)
    taught = Teaching(lessons_of(session, yard.id))
    kept = dict(
        session.execute(
            select(StackForecast.stack_id, StackForecast.fingerprint).where(
                StackForecast.yard_id == yard.id, StackForecast.state.in_(("done", "failed"))
            )
        ).all()
    )
    pairs = []
    query = (
        select(Stack)
        .where(Stack.yard_id == yard.id, Stack.emptied_on.is_(None))
        .order_by(Stack.stacked_on.desc())
    )
    for stack in session.scalars(with_all_it_hangs_on(query)):
        if not stack.measures:
            continue
        card = card_of(stack, held.get(stack.spot_id, {}), 0.0)
        if card.shares:
            inputs = inputs_of(yard, stack, card, day, taught)
            pairs.append((inputs, kept.get(stack.id) == inputs.fingerprint))
    promised = set(
        session.scalars(select(Promise.stack_id).where(Promise.yard_id == yard.id, Promise.state == "open"))
    )
    # What a stack teaches makes others stale: made last, it would have them made twice.
    return sorted(pairs, key=lambda pair: (not pair[0].teach, pair[0].stack_id not in promised))


def _ready_days(part: season.Forecast, target_mc_wet: float) -> tuple[date | None, date | None, date | None]:
    ready = part.ready(target_mc_wet)
    return ready.p10, ready.p50, ready.p90


def _row_for(session: Session, yard_id: int, stack_id: int) -> StackForecast:
    row = session.scalar(select(StackForecast).where(StackForecast.stack_id == stack_id))
    if row is None:
        row = StackForecast(yard_id=yard_id, stack_id=stack_id, fingerprint="", state="waiting", summary={})
        session.add(row)
    return row


def _outlook(
    stack_id: int,
    target_mc_wet: float,
    row: StackForecast | None,
    kept: Kept | None,
    *,
    stale: bool,
    today: date,
) -> StackOutlook:
    if row is None or row.made_at is None or kept is None:
        return StackOutlook(
            stack_id=stack_id,
            state="waiting" if row is None else row.state,
            stale=True,
            error="" if row is None else row.error,
            made_at=None,
            model="",
            target_mc_wet=target_mc_wet,
            dates=(),
            p10=(),
            p50=(),
            p90=(),
            ready_p10=None,
            ready_p50=None,
            ready_p90=None,
            odds=(),
            parts=(),
            slowest=None,
            warnings=(),
            mc_db=np.zeros((0, 0)),
            settled=not stale,
        )
    summary, dates = kept.summary, kept.dates
    first, count = dates[0], len(dates)
    row_today = min(max((today - first).days, 0), count - 1)
    parts = tuple(
        PartForecast(
            species=get_species(part["species_id"]),
            share=part["share"],
            ready_p10=_day(part["ready"][0]),
            ready_p50=_day(part["ready"][1]),
            ready_p90=_day(part["ready"][2]),
            mc_wet_today=part["p50"][row_today],
        )
        for part in summary["parts"]
    )
    ready = [_day(text) for text in summary["ready"]]
    return StackOutlook(
        stack_id=stack_id,
        state=row.state,
        stale=stale,
        error=row.error,
        made_at=row.made_at,
        model=row.model,
        target_mc_wet=target_mc_wet,
        dates=dates,
        p10=kept.p10,
        p50=kept.p50,
        p90=kept.p90,
        ready_p10=ready[0],
        ready_p50=ready[1],
        ready_p90=ready[2],
        odds=kept.odds,
        parts=parts,
        slowest=max(parts, key=lambda part: part.ready_p50 or date.max).species if parts else None,
        warnings=tuple(text_from_json(item) for item in summary["warnings"]),
        mc_db=kept.mc_db,
        doubted=tuple(summary.get("doubted", ())),
        layers=_layers_today(summary.get("layers", ()), row_today),
        settled=not stale,
    )


def _layers(whole: season.Forecast, target_mc_wet: float) -> list[dict[str, Any]]:
    """Top, middle and bottom, by the week; nothing where the model knows no layers."""
    mc_db = whole.layers_db
    if mc_db is None:
        return []
    found = []
    for number, name in enumerate(season.LAYERS):
        # A forecast of the layer alone, for its dates.
        ready = replace(whole, mc_db=mc_db[:, number], parts=()).ready(target_mc_wet)
        weeks = np.percentile(mc_db[::7, number].astype(np.float64), (10, 50, 90), axis=1)
        found.append(
            {
                "name": name,
                "ready": [_iso(ready.p10), _iso(ready.p50), _iso(ready.p90)],
                "weeks": [_rounded(values / (1.0 + values)) for values in weeks],
            }
        )
    return found


def _layers_today(kept: Any, row_today: int) -> tuple[LayerOutlook, ...]:
    return tuple(
        LayerOutlook(
            layer["name"],
            (low, mid, high),
            *(_day(text) for text in layer["ready"]),
        )
        for layer in kept
        for low, mid, high in [
            [values[min(round(row_today / 7), len(values) - 1)] for values in layer["weeks"]]
        ]
    )


def _rounded(values: Any) -> list[float]:
    return [round(float(value), 4) for value in values]


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)
