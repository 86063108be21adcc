"""How this yard stacks: the share of wood in its stacks, learnt from loads that went from measured logs wholly into
measured stacks.

Loads and stacks that hang together (a load in two stacks, a stack of two loads) are one pair. A pair counts only
when all its loads were taken in log by log and nothing of them went another way. What the journal already holds is
not touched; only new estimates are made with what was learnt.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session

from rickyard.book import not_taken_back
from rickyard.book.models import Deed, Entry, Load, LogPiece, Posting, Spot, Stack, StackMeasure
from rickyard.desk.context import Desk, Stage
from rickyard.desk.expectations import kind_of_volumes
from rickyard.desk.loads import first_measures
from rickyard.desk.stacks import WOOD_FORMS
from rickyard.measure import (
    LoadPair,
    Spread,
    YardFactor,
    learn_yard_factor,
    solid_share,
    stack_measure,
)
from rickyard.text import Text
from rickyard.wood import Species, get_species

# Of the wood that came in, the share that must have gone into stacks. Rounding takes grams.
WHOLLY = 0.995
# Pieces of a pair whose lengths differ by more than this share are no one kind of stack.
SAME_LENGTH = 0.15


@dataclass(frozen=True)
class PairLine:
    """Loads and stacks that were measured as logs and again as stacks.

    `share` is the wood in the stacks by the logs, after kerf and waste; `published` what others found for such
    pieces; `aside`: it lies too far off the others to be believed.
    """

    loads: tuple[tuple[int, int], ...]
    stacks: tuple[tuple[int, str], ...]
    pair: LoadPair
    kind: Species | None
    share: float
    published: Spread
    aside: bool


@dataclass(frozen=True)
class StackingPage:
    """What the yard's stacks have taught. `kinds`: by kind of wood; None is a mix of woods."""

    factor: YardFactor
    pairs: tuple[PairLine, ...]
    kinds: tuple[tuple[Species | None, Spread, int], ...]
    example: tuple[Spread, Spread]
    notes: tuple[Text, ...]


# Deeds that leave loads, stacks and the measures of the stacking as they were, and so what these teach.
_LEAVE_IT = (
    "add_reading",
    "cancel_order",
    "deliver",
    "empty_stack",
    "measure_stack",
    "pay",
    "place_order",
    "promise_order",
    "sell_at_gate",
    "set_household",
    "time_work",
)
# What these change of it stands in the journal: wood that left a load that was measured log by log.
_IN_JOURNAL = ("opening_stack", "stack_up", "take_in_logs", "take_in_rough")
# The last factor of each yard, with the last deed that may have changed it and the last posting that has: every change
# of a book is a deed, and postings stay as they are.
_LATEST: dict[tuple[str, int], tuple[tuple[str, int], YardFactor]] = {}


def yard_factor(desk: Desk) -> YardFactor:
    """What the yard's loads have taught of its stacks; the published shares while there are none."""
    with desk.book.read() as session:
        return _factor_kept(session, desk.yard_id)


def factor_for(stage: Stage) -> YardFactor:
    """As `yard_factor`, as a deed sees the book; read anew only where the deed itself may have changed it."""
    if stage.deed.kind in _LEAVE_IT:
        return _factor_kept(stage.session, stage.yard.id)
    return factor_in(stage.session, stage.yard.id)


def factor_before(stage: Stage) -> YardFactor:
    """As `yard_factor`, as the book was before this deed, which has moved nothing yet that teaches."""
    return _factor_kept(stage.session, stage.yard.id, before=stage.deed.id)


def _factor_kept(session: Session, yard_id: int, before: int | None = None) -> YardFactor:
    newest = _newest(session, yard_id, before)
    where = (str(session.connection().engine.url), yard_id)
    known = _LATEST.get(where)
    if known is not None and known[0] == newest:
        return known[1]
    factor = factor_in(session, yard_id)
    _LATEST[where] = (newest, factor)
    return factor


def factor_in(session: Session, yard_id: int) -> YardFactor:
    """As `yard_factor`, as one session (a deed's own transaction, say) sees the book."""
    return _learnt(tuple(line.pair for line in _pairs(session, yard_id)))


def least_share(factor: YardFactor, piled: str, form: str, piece_length_m: float, kind: str) -> float:
    """The least share of wood that a stack may hold before it is doubted.

    What is learnt makes estimates narrower; it must not make an odd stack impossible.
    """
    own = factor.share(piled, form, piece_length_m, kind)
    return min(own.low, solid_share(piled, form, piece_length_m).low)


def stacking_page(desk: Desk, *, piece_length_m: float = 0.406) -> StackingPage:
    """What was learnt, from which loads, beside what is published."""
    with desk.book.read() as session:
        lines = _pairs(session, desk.yard_id)
    factor = _learnt(tuple(line.pair for line in lines))
    counts: dict[str, int] = defaultdict(int)
    for line in lines:
        if line.pair.name not in factor.set_aside:
            counts[line.pair.kind] += 1
    woods = {line.pair.kind: line.kind for line in lines}
    return StackingPage(
        factor=factor,
        pairs=tuple(replace(line, aside=line.pair.name in factor.set_aside) for line in lines),
        kinds=tuple((woods[kind], spread, counts[kind]) for kind, spread in factor.kinds.items()),
        example=(
            factor.share("ranked", "split", piece_length_m),
            solid_share("ranked", "split", piece_length_m),
        ),
        notes=factor.notes,
    )


@lru_cache(maxsize=16)
def _learnt(pairs: tuple[LoadPair, ...]) -> YardFactor:
    return learn_yard_factor(pairs)


def _newest(session: Session, yard_id: int, before: int | None) -> tuple[str, int]:
    """The key of the last deed that may have changed what the yard's stacks teach, and the id of the last posting that
    has; of the deeds those before one, if said."""
    query = select(Deed.client_key).where(
        Deed.yard_id == yard_id, Deed.kind.not_in((*_LEAVE_IT, *_IN_JOURNAL))
    )
    if before is not None:
        query = query.where(Deed.id < before)
    deed = session.scalar(query.order_by(Deed.id.desc()).limit(1)) or ""
    return deed, session.scalar(_LAST_POSTING, {"yard_id": yard_id}) or 0


_LAST_POSTING = (
    select(func.max(Posting.id))
    .join(Load, Load.spot_id == Posting.spot_id)
    .where(Load.yard_id == bindparam("yard_id"), Load.detail == "logs", Posting.mass_g < 0)
)
_SCALED = select(Load.spot_id).where(Load.yard_id == bindparam("yard_id"), Load.detail == "logs")
_FROM_SCALED = (
    select(Posting.entry_id)
    .join(Load, Load.spot_id == Posting.spot_id)
    .where(Load.yard_id == bindparam("yard_id"), Load.detail == "logs", Posting.mass_g < 0)
)
# Made once: every deed that stacks or sells asks. Of a yard that measures few loads log by log, the loads lead to the
# few entries that count, and the rest of ten years is not read.
_CUT = (
    select(Entry.id, Entry.deed_id, Posting.spot_id, Spot.kind, Posting.form, Posting.mass_g)
    .join(Entry, Entry.id == Posting.entry_id)
    .join(Spot, Spot.id == Posting.spot_id)
    .where(Entry.id.in_(_FROM_SCALED), Entry.kind == "stack", not_taken_back())
    .order_by(Entry.id, Posting.id)
)


@dataclass
class _Group:
    """Loads and stacks that hang together, by their spots; what was cut from the loads and what of it was lost [g]."""

    loads: set[int]
    stacks: dict[int, int | None]
    taken_g: dict[int, int]
    lost_g: int = 0


def _pairs(session: Session, yard_id: int) -> list[PairLine]:
    """Pairs are few beside all loads and stacks of ten years: those that count are found by the journal first."""
    scaled = set(session.scalars(_SCALED, {"yard_id": yard_id}))
    if not scaled:
        return []
    groups = [group for group in _groups(session, yard_id) if group.loads <= scaled]
    if not groups:
        return []
    came = _came_g(session, set().union(*(group.loads for group in groups)))
    whole = [
        group
        for group in groups
        if all(group.taken_g[spot] >= WHOLLY * came.get(spot, 0) for spot in group.loads)
    ]
    if not whole:
        return []
    found = _Found.of(session, yard_id, whole)
    lines = [_line(found, group) for group in whole]
    return [line for line in lines if line is not None]


@dataclass
class _Found:
    """What groups are made of, read at once: by spot, by load, and measures by stack and deed."""

    loads: dict[int, Load]
    stacks: dict[int, Stack]
    solid: dict[int, Spread]
    volumes: dict[int, dict[str, float]]
    measures: dict[tuple[int, int | None], StackMeasure]

    @classmethod
    def of(cls, session: Session, yard_id: int, groups: list[_Group]) -> _Found:
        of_loads = {spot for group in groups for spot in group.loads}
        of_stacks = {spot for group in groups for spot in group.stacks}
        loads = session.scalars(select(Load).where(Load.spot_id.in_(of_loads))).all()
        stacks = session.scalars(select(Stack).where(Stack.spot_id.in_(of_stacks))).all()
        volumes: dict[int, dict[str, float]] = defaultdict(dict)
        for load_id, species_id, volume in session.execute(
            select(LogPiece.load_id, LogPiece.species_id, func.sum(LogPiece.volume_m3))
            .where(LogPiece.load_id.in_([load.id for load in loads]))
            .group_by(LogPiece.load_id, LogPiece.species_id)
            .order_by(LogPiece.load_id, LogPiece.species_id)
        ):
            volumes[load_id][species_id] = float(volume)
        measures = session.scalars(
            select(StackMeasure)
            .where(
                StackMeasure.stack_id.in_([stack.id for stack in stacks]),
                StackMeasure.deed_id.in_({deed for group in groups for deed in group.stacks.values()}),
            )
            .order_by(StackMeasure.id.desc())
        )
        return cls(
            {load.spot_id: load for load in loads},
            {stack.spot_id: stack for stack in stacks},
            first_measures(session, yard_id, loads),
            volumes,
            # Of several by one deed, the first.
            {(measure.stack_id, measure.deed_id): measure for measure in measures},
        )


def _groups(session: Session, yard_id: int) -> list[_Group]:
    """What was cut and stacked, joined wherever a load is common; only what took wood of loads measured log by log."""
    rows = session.execute(_CUT, {"yard_id": yard_id})
    entries: dict[int, _Group] = {}
    for entry_id, deed_id, spot_id, spot_kind, form, mass_g in rows:
        group = entries.setdefault(entry_id, _Group(set(), {}, defaultdict(int)))
        if spot_kind == "stack":
            group.stacks[spot_id] = deed_id
        elif form == "log" and mass_g < 0:
            group.loads.add(spot_id)
            group.taken_g[spot_id] -= mass_g
        elif form in ("kerf", "waste"):
            group.lost_g += mass_g
    joined: list[_Group] = []
    for group in entries.values():
        for other in [item for item in joined if item.loads & group.loads]:
            joined.remove(other)
            group.loads |= other.loads
            group.stacks |= other.stacks
            group.lost_g += other.lost_g
            for spot, grams in other.taken_g.items():
                group.taken_g[spot] += grams
        joined.append(group)
    return joined


def _came_g(session: Session, spots: Iterable[int]) -> dict[int, int]:
    """Wood that each load had in all: what came in, was named and measured again [g]."""
    rows = session.execute(
        select(Posting.spot_id, func.sum(Posting.mass_g))
        .join(Entry, Entry.id == Posting.entry_id)
        .where(
            Posting.spot_id.in_(list(spots)),
            Posting.form.in_(WOOD_FORMS),
            Entry.kind.in_(("take_in", "name", "remeasure")),
            not_taken_back(),
        )
        .group_by(Posting.spot_id)
    )
    return {spot_id: int(grams) for spot_id, grams in rows}


def _line(found: _Found, group: _Group) -> PairLine | None:
    """A pair, if every stack was measured when it was stacked and all are of one kind of pieces."""
    loads = [found.loads[spot] for spot in sorted(group.loads)]
    lost_share = group.lost_g / sum(group.taken_g.values())
    measured: list[tuple[Stack, StackMeasure]] = []
    for spot, deed_id in sorted(group.stacks.items()):
        stack = found.stacks[spot]
        first = found.measures.get((stack.id, deed_id))
        if first is None:
            return None
        measured.append((stack, first))
    piled, form = measured[0][1].piled, measured[0][0].form
    lengths = [stack.piece_length_m for stack, _ in measured]
    if any((item.piled, stack.form) != (piled, form) for stack, item in measured) or (
        max(lengths) > (1.0 + SAME_LENGTH) * min(lengths)
    ):
        return None
    solid = _added([found.solid[load.id] for load in loads])
    outside = _added([_outside(stack, item) for stack, item in measured])
    length = sum(stack.piece_length_m * item.outside_m3 for stack, item in measured) / outside.mid
    volumes: dict[str, float] = defaultdict(float)
    for load in loads:
        for species_id, volume in found.volumes[load.id].items():
            volumes[species_id] += volume
    kind, wood = kind_of_volumes({get_species(name): volume for name, volume in volumes.items()})
    pair = LoadPair(
        solid,
        outside,
        piled,
        form,
        length,
        lost_share=lost_share,
        kind=kind,
        name=", ".join(str(load.number) for load in loads),
    )
    return PairLine(
        loads=tuple((load.id, load.number) for load in loads),
        stacks=tuple((stack.id, stack.name) for stack, _ in measured),
        pair=pair,
        kind=wood,
        share=solid.mid * (1.0 - lost_share) / outside.mid,
        published=solid_share(piled, form, length),
        aside=False,
    )


def _outside(stack: Stack, measure: StackMeasure) -> Spread:
    spread = stack_measure(
        measure.length_m, measure.heights_m, stack.piece_length_m, piled=measure.piled, rows=measure.rows
    ).spread_m3
    return spread.scaled(measure.outside_m3 / spread.mid)


def _added(parts: list[Spread]) -> Spread:
    """Figures measured apart, added: what they are off by is taken as common to all, which is on the safe side."""
    return Spread(
        sum(part.low for part in parts), sum(part.mid for part in parts), sum(part.high for part in parts)
    )
