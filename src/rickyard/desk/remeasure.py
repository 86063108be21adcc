"""Measures of a stack that come in any order: which wood the journal then holds, and what does not fit the book.

A stock-taking sets the wood in a stack to what its outside measures: by how much wood there was in each cubic metre
at the measure before it. So each measure hangs on the one before, and a report that comes late, between two others,
moves those after it. Every measure from the late one on is therefore reckoned again, and the journal gets, at the
moment of each, the difference to what it should hold then. The newest measure decides what stands there now,
whatever order the reports came in, and no difference is posted twice.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import select

from rickyard.book import Move, StockKey, not_taken_back, portion, post, stock
from rickyard.book.models import Clash, Entry, Posting, Stack, StackMeasure
from rickyard.book.running import NEGATIVE_G
from rickyard.desk.clashes import raise_clash
from rickyard.desk.context import Stage, local_day, noon_utc
from rickyard.desk.early import look_for_early
from rickyard.desk.expectations import kind_of_stock
from rickyard.desk.spots import yard_spot
from rickyard.desk.spreads import TENTH, density_of, sd_of_stack, sd_share_of
from rickyard.desk.stacks import WOOD_FORMS
from rickyard.desk.yard_factor import factor_before, least_share
from rickyard.text import T_, Text
from rickyard.wood import get_species

STOCK_TAKING = "stock-taking: measured again"
# Below this share of the least solid content a stack can have, the wood cannot fill it.
LEAST_FILL = 0.75
OVERDRAWN = "less_than_was_taken"


@dataclass(frozen=True)
class _Line:
    """A posting of wood to a stack's spot, with what tells when it was."""

    happened_at: datetime
    deed_id: int
    follows_measure: bool
    key: StockKey
    mass_g: int


def sort_in(stage: Stage, stack: Stack, measure: StackMeasure) -> tuple[int, list[int]]:
    """Takes a new measure into the stack's history; gives what the journal changed by [g], and clashes (ids)."""
    day = local_day(stage.yard, measure.happened_at)
    if day == stack.stacked_on:
        _not_before_the_first(stage, stack, measure)
    stage.session.add(measure)
    stage.session.flush()
    lines = _lines(stage, stack)
    if stack.emptied_on is not None or day < stack.stacked_on:
        # The journal is left alone, so the measure says only what the journal held.
        measure.mass_g = sum(_before(stage, lines, measure).values())
        if stack.emptied_on is not None:
            code, text = "stack_closed", _closed_words(stage, stack, measure, day)
        else:
            code, text = "before_stacking", _early_words(stack, measure, day)
        return 0, [raise_clash(stage, "stack", stack.id, code, text)]
    before = _before(stage, lines, measure)
    difference = reckon_from(stage, stack, measure)
    return difference, [*_doubts(stage, stack, measure, before, day), *_overdrawn(stage, stack)]


def reckon_from(stage: Stage, stack: Stack, first: StackMeasure) -> int:
    """Reckons a measure and all later ones again, and posts what the journal lacks. Gives the change in all [g]."""
    chain = _chain(stage, stack)
    start = chain.index(first)
    changed = 0
    for index in range(start, len(chain)):
        measure = chain[index]
        lines = _lines(stage, stack)
        before = _before(stage, lines, measure)
        wanted = _wanted(measure, chain[:index], before)
        measure.mass_g = sum(wanted.values())
        later = chain[index + 1] if index + 1 < len(chain) else None
        if later is not None and later.happened_at == measure.happened_at:
            continue  # of two at the same moment, the one that came last decides
        held = defaultdict(int, before)
        for line in lines:
            if line.follows_measure and line.happened_at == measure.happened_at:
                held[line.key] += line.mass_g
        lacking = {key: wanted.get(key, 0) - held[key] for key in held}
        changed += _post(stage, stack, measure, lacking, wanted)
    stage.session.flush()
    return changed


def follow_late(stage: Stage, stack: Stack, moment: datetime) -> list[int]:
    """After wood moved at a moment of the past: the measures since then saw the stack without it (or with it).

    They are reckoned again, so that wood is not taken off once by the measure and once more by the report that
    came after it. Gives clashes (ids).
    """
    since = next((measure for measure in _chain(stage, stack) if measure.happened_at > moment), None)
    if since is not None:
        reckon_from(stage, stack, since)
    return _overdrawn(stage, stack)


def follow_undone(stage: Stage, stack: Stack, entry: Entry) -> list[int]:
    """After an entry was taken back: the measures that saw it are reckoned again as if it had not been.

    Gives clashes (ids).
    """
    day = local_day(stage.yard, entry.happened_at)
    since = next(
        (
            measure
            for measure in _chain(stage, stack)
            if measure.happened_at > entry.happened_at
            or (
                local_day(stage.yard, measure.happened_at) == day
                and (measure.deed_id or 0) > (entry.deed_id or 0)
            )
        ),
        None,
    )
    if since is not None:
        reckon_from(stage, stack, since)
    return _overdrawn(stage, stack)


def follow_without(stage: Stage, stack: Stack, measure: StackMeasure | None) -> list[int]:
    """After the newest measure was taken back with its entries: one of the same moment before it is reckoned again.

    `measure` is None where it would come to the same. Gives clashes (ids).
    """
    twins = [each for each in _chain(stage, stack) if measure and each.happened_at == measure.happened_at]
    if twins:
        reckon_from(stage, stack, twins[-1])
    return _overdrawn(stage, stack)


def follows_measures(entry: Entry) -> bool:
    """Whether the journal got this entry because a stack was measured again."""
    return entry.kind == "remeasure" and entry.reason == STOCK_TAKING


def _wanted(
    measure: StackMeasure, earlier: list[StackMeasure], before: dict[StockKey, int]
) -> dict[StockKey, int]:
    """The wood that a measure says stands there: that of the book, or (stock-taking) by its outside."""
    last = next((item for item in reversed(earlier) if item.mass_g > 0), None)
    if not measure.stock_taking or last is None or not any(grams > 0 for grams in before.values()):
        return before
    return portion(before, round(measure.outside_m3 * last.mass_g / last.outside_m3))


def _chain(stage: Stage, stack: Stack) -> list[StackMeasure]:
    """The measures from the stacking on, in order of time; of the same moment, in the order in which they came."""
    stage.session.flush()
    rows = stage.session.scalars(
        select(StackMeasure)
        .where(StackMeasure.stack_id == stack.id, StackMeasure.counts())
        .order_by(StackMeasure.happened_at, StackMeasure.id)
    )
    return [row for row in rows if local_day(stage.yard, row.happened_at) >= stack.stacked_on]


def _not_before_the_first(stage: Stage, stack: Stack, measure: StackMeasure) -> None:
    """The stacking is kept as of noon of its day. What is measured on that day is measured after it."""
    chain = _chain(stage, stack)
    if chain and measure.happened_at < chain[0].happened_at:
        measure.happened_at = chain[0].happened_at


def _lines(stage: Stage, stack: Stack) -> list[_Line]:
    """All that moved wood in or out, without what was taken back again: that never was."""
    rows = stage.session.execute(
        select(
            Entry.happened_at,
            Entry.deed_id,
            Entry.kind,
            Entry.reason,
            Posting.species_id,
            Posting.form,
            Posting.lot_id,
            Posting.mass_g,
        )
        .join(Entry, Entry.id == Posting.entry_id)
        .where(
            Posting.spot_id == stack.spot_id,
            Posting.form.in_(WOOD_FORMS),
            Entry.reverses_id.is_(None),
            not_taken_back(),
        )
        .order_by(Entry.number, Posting.id)
    )
    return [
        _Line(
            happened_at,
            deed_id or 0,
            kind == "remeasure" and reason == STOCK_TAKING,
            StockKey(species_id, form, lot_id),
            mass_g,
        )
        for happened_at, deed_id, kind, reason, species_id, form, lot_id, mass_g in rows
    ]


def _before(stage: Stage, lines: list[_Line], measure: StackMeasure) -> dict[StockKey, int]:
    """The wood in the stack just before a measure, without what the journal got by that measure itself."""
    held: dict[StockKey, int] = defaultdict(int)
    for line in lines:
        if line.follows_measure:
            counts = line.happened_at < measure.happened_at
        else:
            counts = _was_before(stage, line, measure)
        if counts:
            held[line.key] += line.mass_g
    return {key: grams for key, grams in sorted(held.items()) if grams}


def _was_before(stage: Stage, line: _Line, measure: StackMeasure) -> bool:
    """Noon stands for a day whose hour nobody said; within that day, what was reported first came first."""
    day, measured_on = (local_day(stage.yard, moment) for moment in (line.happened_at, measure.happened_at))
    if day != measured_on:
        return day < measured_on
    noon = noon_utc(stage.yard, day)
    if line.happened_at == measure.happened_at or noon in (line.happened_at, measure.happened_at):
        # What a deed moved, its own measure saw.
        return line.deed_id <= (measure.deed_id or 0)
    return line.happened_at < measure.happened_at


def _post(
    stage: Stage,
    stack: Stack,
    measure: StackMeasure,
    lacking: dict[StockKey, int],
    wanted: dict[StockKey, int],
) -> int:
    """The difference to what a measure says stands there. Each kind is its share of the outside as measured."""
    moving = {key: grams for key, grams in lacking.items() if grams}
    if not moving:
        return 0
    outer = yard_spot(stage.session, stage.yard.id, "outside")
    whole = sum(grams for grams in wanted.values() if grams > 0)
    sd_share = sd_of_stack(stage, stack, wanted)
    moves: list[Move] = []
    for key, grams in moving.items():
        there = max(0, wanted.get(key, 0))
        moves.append(
            Move(
                stack.spot_id,
                key.species_id,
                key.form,
                key.lot_id,
                grams,
                quantity=measure.outside_m3 * there / whole if whole else 0.0,
                unit="loose_m3" if measure.piled == "loose" else "stacked_m3",
                method="outside dimensions",
                # Of the difference: what the stack is known to, beside the little that it moves.
                sd_share=sd_share * there / abs(grams),
                basic_density_kg_m3=density_of(key),
            )
        )
        moves.append(Move(outer, key.species_id, key.form, key.lot_id, -grams))
    post(
        stage.session,
        stage.yard.id,
        kind="remeasure",
        happened_at=measure.happened_at,
        recorded_at=stage.recorded_at,
        moves=moves,
        reason=STOCK_TAKING,
        deed_id=stage.deed.id,
    )
    return sum(moving.values())


def _doubts(
    stage: Stage, stack: Stack, measure: StackMeasure, before: dict[StockKey, int], day: date
) -> list[int]:
    """What is odd about a measure that the book followed."""
    solid_m3 = sum(
        grams / 1000 / get_species(key.species_id).basic_density_kg_m3 for key, grams in before.items()
    )
    pieces = (measure.piled, stack.form, stack.piece_length_m, kind_of_stock(before))
    own = factor_before(stage)
    content, least = own.share(*pieces), least_share(own, *pieces)
    most_m3 = solid_m3 * (1 + TENTH * sd_share_of(content))
    if solid_m3 <= 0:
        text = T_(
            "Stack {name} stood on {day} with {outside:.1f} m³, but by the book nothing was left in it. The book "
            "does not know which wood that is and is unchanged. Take it in as a stack that stands here already, "
            "or close this one.",
            name=stack.name,
            day=day,
            outside=measure.outside_m3,
        )
        return [raise_clash(stage, "stack", stack.id, "book_holds_nothing", text)]
    if measure.outside_m3 * least * LEAST_FILL > most_m3:
        text = T_(
            "Stack {name} measured {outside:.1f} m³ on {day}, but its wood by the book fills at most {most:.1f} m³. "
            "Look whether wood was put on it that is not in the book, or whether another stack was measured.",
            name=stack.name,
            day=day,
            outside=measure.outside_m3,
            most=most_m3 / least,
        )
        return [raise_clash(stage, "stack", stack.id, "larger_than_wood", text)]
    return []


def _overdrawn(stage: Stage, stack: Stack) -> list[int]:
    """What left a stack by the reports is more than its measures leave to take, in the end or before it was there.

    Both came from the yard, and stay.
    """
    return [*_short_now(stage, stack), *look_for_early(stage, stack)]


def _short_now(stage: Stage, stack: Stack) -> list[int]:
    held = stock(stage.session, stack.spot_id)
    short_g = -sum(grams for key, grams in held.items() if key.form in WOOD_FORMS and grams < -NEGATIVE_G)
    if not short_g:
        return []
    for row in stage.session.scalars(
        select(Clash).where(
            Clash.subject_kind == "stack",
            Clash.subject_id == stack.id,
            Clash.code == OVERDRAWN,
            Clash.settled_at.is_(None),
        )
    ):
        return [row.id]
    text = T_(
        "By its measures stack {name} held less than was taken from it: {kg:.0f} kg of oven-dry wood are missing. "
        "Look at its measures: a size that was wrong is put right by entering it again for the same day. If nothing "
        "stands there any more, close the stack.",
        name=stack.name,
        kg=short_g / 1000,
    )
    return [raise_clash(stage, "stack", stack.id, OVERDRAWN, text)]


def _closed_words(stage: Stage, stack: Stack, measure: StackMeasure, day: date) -> Text:
    closed = stack.emptied_on
    closed_at = stage.session.scalar(
        select(Entry.happened_at)
        .join(Posting, Posting.entry_id == Entry.id)
        .where(Posting.spot_id == stack.spot_id, Entry.kind == "empty")
        .order_by(Entry.happened_at.desc())
        .limit(1)
    )
    late = measure.happened_at < closed_at if closed_at is not None else closed is not None and day < closed
    if late:
        return T_(
            "Stack {name} was measured on {day} with {outside:.1f} m³. The measure came only after the stack was "
            "closed on {closed}. It is kept, and the book is unchanged.",
            name=stack.name,
            day=day,
            outside=measure.outside_m3,
            closed=closed,
        )
    return T_(
        "Stack {name} was closed on {closed}, but stood on {day} with {outside:.1f} m³. The book is unchanged. "
        "If it still stands, open it again on its page: the book then follows the measure.",
        name=stack.name,
        closed=closed,
        day=day,
        outside=measure.outside_m3,
    )


def _early_words(stack: Stack, measure: StackMeasure, day: date) -> Text:
    return T_(
        "Stack {name} was measured on {day} with {outside:.1f} m³, before it was stacked on {stacked}. The measure "
        "is kept, and the book is unchanged. Look at both dates.",
        name=stack.name,
        day=day,
        outside=measure.outside_m3,
        stacked=stack.stacked_on,
    )
