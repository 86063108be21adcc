"""Stacks, heaps and bins as they stand: cards, pages, the journal of their wood."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any

from sqlalchemy import Row, Select, bindparam, func, select
from sqlalchemy.orm import Session

from rickyard.book import StockKey, stock, stock_by_spot
from rickyard.book.models import Entry, Lot, PhotoGauging, Posting, Promise, Stack, StackMeasure, Undoing
from rickyard.desk.clashes import ClashLine, clashes_in
from rickyard.desk.context import Desk, Stage
from rickyard.desk.paging import after_row, contains, spellings
from rickyard.desk.wood_in import Harvest
from rickyard.errors import InputError
from rickyard.measure import Spread, solid_share
from rickyard.text import T_, Text
from rickyard.wood import Species, get_species

WOOD_FORMS = ("log", "round", "split", "kindling")
# Wood that went its way by an entry that can be taken back by itself (`desk.undoing`).
WENT = ("merge", "fill", "reject", "own_use", "decay", "lost", "return")

# What a card says of a stack as the book has it, and what it needs of a measure.
_AS_IN_BOOK = (
    "id",
    "name",
    "kind",
    "form",
    "piece_length_m",
    "thickness_m",
    "bark",
    "cover",
    "exposure",
    "ground",
    "stacked_on",
    "start_mc_wet",
    "target_mc_wet",
    "row_label",
    "x_m",
    "y_m",
)
_AS_MEASURED = ("piled", "length_m", "heights_m", "rows", "outside_m3", "mass_g")


@dataclass(frozen=True)
class StackCard:
    """A stack in one glance."""

    id: int
    name: str
    kind: str
    form: str
    piece_length_m: float
    thickness_m: float
    bark: bool
    cover: str
    exposure: str
    ground: str
    stacked_on: date
    start_mc_wet: float | None
    target_mc_wet: float
    row_label: str
    x_m: float | None
    y_m: float | None
    piled: str
    length_m: float
    height_m: float
    rows: int
    depth_m: float
    emptied_on: date | None
    shares: tuple[tuple[Species, float], ...]
    oven_dry_kg: float
    outside_m3: float
    ranked_m3: float
    promised_m3: float

    @property
    def free_m3(self) -> float:
        """Ranked volume that nobody has been promised."""
        return max(0.0, self.ranked_m3 - self.promised_m3)

    @property
    def fingerprint_shares(self) -> tuple[tuple[str, float], ...]:
        return tuple((species.id, round(share, 2)) for species, share in self.shares)


@dataclass(frozen=True)
class JournalLine:
    """One entry of the journal as seen from a stack or load: what went in or out, oven-dry."""

    number: int
    happened_at: datetime
    kind: str
    reason: str
    mass_kg: float
    species: tuple[Species, ...]
    undone: bool

    @property
    def may_be_undone(self) -> bool:
        return self.kind in WENT and not self.undone


@dataclass(frozen=True)
class MeasureLine:
    """The outside of a stack as it was measured. `first`: with the stacking.

    `undone_at`: when the measure was taken back, if it was.
    """

    id: int
    happened_at: datetime
    piled: str
    outside_m3: float
    first: bool
    undone_at: datetime | None
    undone_for: str


@dataclass(frozen=True)
class StackPage:
    """`by_photo`: the newest measure's outside volume with its range, if it was made from a photo [m³].

    `undone_at`: when its stacking was taken back, if it was.
    """

    card: StackCard
    note: str
    harvests: tuple[tuple[Harvest, float], ...]
    measures: tuple[MeasureLine, ...]
    by_photo: Spread | None
    journal: tuple[JournalLine, ...]
    warnings: tuple[Text, ...]
    clashes: tuple[ClashLine, ...]
    undone_at: datetime | None
    undone_for: str


def stacks(
    desk: Desk,
    *,
    standing_only: bool = True,
    search: str = "",
    after: int | None = None,
    limit: int | None = None,
) -> list[StackCard]:
    """All stacks with what stands in them and what of it is promised, by name.

    Those after the stack `after` in that order, at most `limit`, if said. `search` is part of the name, row or note.
    """
    with desk.book.read() as session:
        ids: list[int] | None = None
        if search.strip() or after is not None or limit is not None:
            # One without a measure is in no list.
            query = select(Stack.id).where(Stack.yard_id == desk.yard_id, Stack.measures.any())
            if standing_only:
                query = query.where(Stack.emptied_on.is_(None))
            if search.strip():
                query = query.where(contains(search, Stack.name, Stack.row_label, Stack.note))
            query = after_row(query, Stack, after, Stack.name, Stack.id, descending=False).limit(limit)
            ids = list(session.scalars(query))
        return cards_in(session, desk.yard_id, standing_only=standing_only, stack_ids=ids)


def cards_in(
    session: Session, yard_id: int, *, standing_only: bool = True, stack_ids: Sequence[int] | None = None
) -> list[StackCard]:
    """As `stacks`, as one session (a deed's own transaction, say) sees them; of these, if said."""
    named = stack_ids is not None
    values = {"yard_id": yard_id} | ({"ids": stack_ids} if named else {})
    rows = session.execute(_cards_query(standing_only, named), values)
    # Of several measures of a stack the newest, which comes last.
    newest = {row.id: row for row in rows}
    spots: Select[int] | list[int]
    if named:
        spots = [row.spot_id for row in newest.values()]
    else:
        spots = select(Stack.spot_id).where(Stack.yard_id == yard_id)
        if standing_only:
            spots = spots.where(Stack.emptied_on.is_(None))
    held = stock_by_spot(session, yard_id, spots=spots)
    promised = _promised(session, yard_id, stack_ids)
    return [_card(row, row, held.get(row.spot_id, {}), promised.get(row.id, 0.0)) for row in newest.values()]


@cache
def _cards_query(standing_only: bool, named: bool) -> Select[*tuple[Any, ...]]:
    """Columns of stacks beside those of each of their measures: as objects they would take several times as long."""
    query = (
        select(*(getattr(Stack, name) for name in ("spot_id", "emptied_on", *_AS_IN_BOOK)))
        .add_columns(*(getattr(StackMeasure, name) for name in _AS_MEASURED))
        .join(StackMeasure, StackMeasure.stack_id == Stack.id)
        .where(Stack.yard_id == bindparam("yard_id"), StackMeasure.counts())
        .order_by(Stack.name, StackMeasure.happened_at, StackMeasure.id)
    )
    if standing_only:
        query = query.where(Stack.emptied_on.is_(None))
    if named:
        query = query.where(Stack.id.in_(bindparam("ids", expanding=True)))
    return query


def stack_page(desk: Desk, stack_id: int) -> StackPage:
    with desk.book.read() as session:
        stack = session.get(Stack, stack_id)
        if stack is None or stack.yard_id != desk.yard_id:
            raise unknown_stack(stack_id)
        held = stock(session, stack.spot_id)
        card = card_of(stack, held, _promised(session, desk.yard_id, [stack.id]).get(stack.id, 0.0))
        warnings: list[Text] = []
        if card.promised_m3 > card.ranked_m3 + 0.01:
            warnings.append(T_("More is promised from this stack than stands in it."))
        if any(grams < -1000 for grams in held.values()):
            warnings.append(T_("The book took more out of this stack than it held. Measure it again."))
        undoing = session.scalar(select(Undoing).where(Undoing.stack_id == stack.id))
        return StackPage(
            card=card,
            note=stack.note,
            harvests=harvests_of(session, held),
            measures=_measures(session, stack.id),
            by_photo=_by_photo(session, stack),
            journal=journal_of(session, stack.spot_id),
            warnings=tuple(warnings),
            clashes=tuple(clashes_in(session, desk.yard_id, open_only=False, stack_id=stack.id)),
            undone_at=undoing.undone_at if undoing else None,
            undone_for=undoing.reason if undoing else "",
        )


def stack_card(desk: Desk, stack_id: int) -> StackCard:
    """One stack in one glance, standing or not."""
    with desk.book.read() as session:
        found = cards_in(session, desk.yard_id, standing_only=False, stack_ids=[stack_id])
    if not found:
        raise unknown_stack(stack_id)
    return found[0]


def standing_names(desk: Desk) -> list[tuple[int, str, str]]:
    """Id, name and kind of every standing stack, by name, to choose from."""
    with desk.book.read() as session:
        query = select(Stack.id, Stack.name, Stack.kind).where(
            Stack.yard_id == desk.yard_id, Stack.emptied_on.is_(None), Stack.measures.any()
        )
        return [(number, name, kind) for number, name, kind in session.execute(query.order_by(Stack.name))]


def stack_named(desk: Desk, name: str, field: str = "stack") -> int:
    """The id of the stack that bears this name, whatever its capitals; InputError for `field` if there is none."""
    with desk.book.read() as session:
        query = select(Stack.id, Stack.name).where(
            Stack.yard_id == desk.yard_id, func.lower(Stack.name).in_(spellings(name))
        )
        found = sorted(session.execute(query), key=lambda row: (row[1] != name.strip(), row[0]))
    if not found:
        raise InputError(
            field,
            wanted=T_("the name of a stack of this yard"),
            got=name,
            next_move=T_("Type it as it stands on the stack's board, or choose it from the list of stacks."),
        )
    return int(found[0][0])


def _measures(session: Session, stack_id: int) -> tuple[MeasureLine, ...]:
    """All measures of a stack, those that were taken back too, in order of time."""
    rows = session.execute(
        select(StackMeasure, Undoing)
        .outerjoin(Undoing, Undoing.measure_id == StackMeasure.id)
        .where(StackMeasure.stack_id == stack_id)
        .order_by(StackMeasure.happened_at, StackMeasure.id)
    ).all()
    first = min(row.id for row, _ in rows)
    return tuple(
        MeasureLine(
            id=row.id,
            happened_at=row.happened_at,
            piled=row.piled,
            outside_m3=row.outside_m3,
            first=row.id == first,
            undone_at=undoing.undone_at if undoing else None,
            undone_for=undoing.reason if undoing else "",
        )
        for row, undoing in rows
    )


def _by_photo(session: Session, stack: Stack) -> Spread | None:
    """Outside volume as the newest measure has it, if that was made from a photo, as far as its face goes [m³]."""
    last = stack.measures[-1]
    marks = session.scalar(select(PhotoGauging).where(PhotoGauging.measure_id == last.id))
    if marks is None:
        return None
    deep = last.outside_m3 / marks.area_m2
    return Spread(marks.low_m2 * deep, last.outside_m3, marks.high_m2 * deep)


def next_stack_name(desk: Desk) -> str:
    """A name for the next stack: a row's letter and a place, such as B3, that no stack has had."""
    with desk.book.read() as session:
        taken = set(session.scalars(select(Stack.name).where(Stack.yard_id == desk.yard_id)))
    names = (f"{row}{place}" for place in itertools.count(1) for row in "ABCDEFGHJKLMNPQRSTUVWXYZ")
    in_order = (f"{row}{place}" for row in "ABCDEFGHJKLMNPQRSTUVWXYZ" for place in range(1, 10))
    return next(name for name in itertools.chain(in_order, names) if name not in taken)


def find_stack(stage: Stage, stack_id: int) -> Stack:
    stack = stage.session.get(Stack, stack_id)
    if stack is None or stack.yard_id != stage.yard.id:
        raise unknown_stack(stack_id)
    return stack


def unknown_stack(stack_id: int) -> InputError:
    return InputError(
        "stack",
        wanted=T_("a stack of this yard"),
        got=stack_id,
        next_move=T_("Choose it from the list of stacks."),
        code="unknown_stack",
    )


def card_of(stack: Stack, held: dict[StockKey, int], promised_m3: float) -> StackCard:
    return _card(stack, stack.measures[-1], held, promised_m3)


def _card(
    stack: Stack | Row[*tuple[Any, ...]],
    last: StackMeasure | Row[*tuple[Any, ...]],
    held: dict[StockKey, int],
    promised_m3: float,
) -> StackCard:
    """Outside volume now = last measured volume × (mass now / mass when measured)."""
    wood: dict[str, int] = defaultdict(int)
    for key, grams in wood_in_stock(held).items():
        wood[key.species_id] += grams
    mass_g = sum(wood.values())
    outside = last.outside_m3 * max(0.0, mass_g / last.mass_g) if last.mass_g > 0 else 0.0
    if last.piled == "loose":
        loose = solid_share("loose", stack.form, stack.piece_length_m).mid
        ranked = outside * loose / solid_share("ranked", stack.form, stack.piece_length_m).mid
    else:
        ranked = outside
    return StackCard(
        id=stack.id,
        name=stack.name,
        kind=stack.kind,
        form=stack.form,
        piece_length_m=stack.piece_length_m,
        thickness_m=stack.thickness_m,
        bark=stack.bark,
        cover=stack.cover,
        exposure=stack.exposure,
        ground=stack.ground,
        stacked_on=stack.stacked_on,
        start_mc_wet=stack.start_mc_wet,
        target_mc_wet=stack.target_mc_wet,
        row_label=stack.row_label,
        x_m=stack.x_m,
        y_m=stack.y_m,
        piled=last.piled,
        length_m=last.length_m,
        height_m=sum(last.heights_m) / len(last.heights_m),
        rows=last.rows,
        depth_m=last.outside_m3 / (last.length_m * sum(last.heights_m) / len(last.heights_m)),
        emptied_on=stack.emptied_on,
        shares=tuple(
            (get_species(species_id), grams / mass_g)
            for species_id, grams in sorted(wood.items(), key=lambda item: -item[1])
            if mass_g > 0 and grams > 0
        ),
        oven_dry_kg=mass_g / 1000,
        outside_m3=outside,
        ranked_m3=ranked,
        promised_m3=promised_m3,
    )


def harvests_of(session: Session, held: dict[StockKey, int]) -> tuple[tuple[Harvest, float], ...]:
    """Every place of harvest in the wood, with its share of the oven-dry mass, largest first."""
    by_lot: dict[int, int] = defaultdict(int)
    for key, grams in wood_in_stock(held).items():
        by_lot[key.lot_id] += grams
    total = sum(grams for grams in by_lot.values() if grams > 0)
    found = []
    for lot_id, grams in sorted(by_lot.items(), key=lambda item: -item[1]):
        lot = session.get_one(Lot, lot_id)
        if grams > 0:
            place = Harvest(
                country=lot.country,
                subdivision=lot.subdivision,
                county=lot.county,
                certificate=lot.certificate,
            )
            found.append((place, grams / total))
    return tuple(found)


def journal_of(session: Session, spot_id: int) -> tuple[JournalLine, ...]:
    """The journal as seen from a spot, newest first."""
    rows = session.execute(
        select(Entry, Posting)
        .join(Posting, Posting.entry_id == Entry.id)
        .where(Posting.spot_id == spot_id)
        .order_by(Entry.number.desc(), Posting.id)
    )
    lines: dict[int, tuple[Entry, list[Posting]]] = {}
    for entry, posting in rows:
        lines.setdefault(entry.id, (entry, []))[1].append(posting)
    undone = set(session.scalars(select(Entry.reverses_id).where(Entry.reverses_id.in_(list(lines)))))
    return tuple(
        JournalLine(
            number=entry.number,
            happened_at=entry.happened_at,
            kind=entry.kind,
            reason=entry.reason,
            mass_kg=sum(item.mass_g for item in postings) / 1000,
            species=tuple(get_species(name) for name in dict.fromkeys(p.species_id for p in postings)),
            undone=entry.id in undone,
        )
        for entry, postings in lines.values()
    )


def wood_in_stock(held: dict[StockKey, int]) -> dict[StockKey, int]:
    return {key: grams for key, grams in held.items() if key.form in WOOD_FORMS and grams}


def _promised(session: Session, yard_id: int, stack_ids: Sequence[int] | None = None) -> dict[int, float]:
    totals: dict[int, float] = defaultdict(float)
    if stack_ids is None:
        rows = session.execute(_PROMISED, {"yard_id": yard_id})
    else:
        rows = session.execute(_PROMISED_OF, {"ids": stack_ids})
    for stack_id, outside in rows:
        totals[stack_id] += outside
    return totals


_PROMISED = select(Promise.stack_id, Promise.outside_m3).where(
    Promise.yard_id == bindparam("yard_id"), Promise.state == "open"
)
_PROMISED_OF = select(Promise.stack_id, Promise.outside_m3).where(
    Promise.stack_id.in_(bindparam("ids", expanding=True)), Promise.state == "open"
)
