"""Cutting, splitting and stacking: stacks, heaps and bins are filled, measured, moved, emptied."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from rickyard.book import Move, StockKey, portion, post, stock
from rickyard.book.models import (
    COVERS,
    EXPOSURES,
    GROUNDS,
    STACK_KINDS,
    Entry,
    Load,
    Spot,
    Stack,
    StackMeasure,
)
from rickyard.desk.checks import (
    EARLIEST,
    PIECE_LENGTH_M,
    STACK_HEIGHT_M,
    STACK_SIDE_M,
    THICKNESS_M,
    day_between,
    one_of,
    shares_to_one,
    some_text,
    within,
)
from rickyard.desk.context import Answer, Command, Desk, Stage, do, noon_utc
from rickyard.desk.early import look_for_early
from rickyard.desk.editing import must_be_as_seen
from rickyard.desk.expectations import kind_of_stock, kind_of_volumes
from rickyard.desk.remeasure import LEAST_FILL, sort_in
from rickyard.desk.spots import yard_spot
from rickyard.desk.spreads import TENTH, density_of, sd_of, sd_share_of
from rickyard.desk.stacks import StackCard, find_stack, wood_in_stock
from rickyard.desk.unaccounted import (
    free_name,
    kinds_of_used_up,
    larger_than_logs,
    made_of_used_up,
    missing_grams,
    name_was_taken,
)
from rickyard.desk.wood_in import Harvest, find_load, new_lot
from rickyard.desk.yard_factor import factor_before, least_share
from rickyard.errors import InputError
from rickyard.measure import Spread, stack_measure
from rickyard.measure import StackMeasure as Outside
from rickyard.text import T_
from rickyard.wood import find_species, get_species

# Why wood came or went with the stacking; the page of names knows both.
JOINED = "logs and stack measured: joined by their spreads"
UNACCOUNTED = "the stack measured: what its loads do not account for"
# Width of a chainsaw's cut, 3/8 inch chain. From memory; see docs/accuracy.md.
CHAIN_KERF_M = 0.0095
# Splinters, sawn-off stubs and rot left on the ground. Common practice, no source.
WASTE_SHARE = 0.02
# Bark that stays on the splits when a log is cut and split. Common practice, no source.
BARK_KEPT_SHARE = 0.85


@dataclass(frozen=True, kw_only=True)
class PiecesFacts:
    """The pieces in a stack and how it stands."""

    name: str
    kind: str = "stack"
    form: str = "split"
    piece_length_m: float
    thickness_m: float
    bark: bool = True
    cover: str = "top"
    exposure: str = "normal"
    ground: str = "raised"
    stacked_on: date
    start_mc_wet: float | None = None
    target_mc_wet: float | None = None
    row_label: str = ""
    x_m: float | None = None
    y_m: float | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Dimensions:
    """Outside of a stack, heap or bin as measured: mean of the heights counts; `rows` deep, end to end."""

    length_m: float
    heights_m: tuple[float, ...]
    rows: int = 1


@dataclass(frozen=True, kw_only=True)
class StackUp(Command):
    """Logs of one or more loads become pieces in a new stack.

    `sources`: (load_id, share of what is left in it), shares in (0, 1]. `must_be_new`: somebody is at the form, and a
    name that another stack has is asked about; else the new stack gets another one.
    """

    must_be_new: bool = False
    sources: tuple[tuple[int, float], ...]
    pieces: PiecesFacts
    outside: Dimensions
    kerf_m: float = CHAIN_KERF_M
    waste_share: float = WASTE_SHARE
    bark_kept_share: float = BARK_KEPT_SHARE


@dataclass(frozen=True, kw_only=True)
class OpeningStack(Command):
    """A stack that stood before the book began; `shares` of species by volume. `must_be_new` as in `StackUp`."""

    must_be_new: bool = False
    shares: tuple[tuple[str, float], ...]
    harvest: Harvest
    pieces: PiecesFacts
    outside: Dimensions


@dataclass(frozen=True, kw_only=True)
class MeasureStack(Command):
    """A stack measured again. `stock_taking`: the measure is the truth, the book follows it.

    `measured_on` is said where only the day is known; else it was when it happened.
    """

    stack_id: int
    outside: Dimensions
    stock_taking: bool = True
    measured_on: date | None = None


@dataclass(frozen=True, kw_only=True)
class MoveStack(Command):
    """Another place in the yard, cover, exposure or ground (None: as it was). The wood itself does not change.

    `seen` as in `desk.editing`.
    """

    stack_id: int
    row_label: str = ""
    x_m: float | None = None
    y_m: float | None = None
    cover: str
    exposure: str
    ground: str | None = None
    seen: str = ""


def standing_of(stack: Stack | StackCard) -> dict[str, object]:
    """Where and how a stack stands: what the form that moves it is filled with."""
    names = ("row_label", "x_m", "y_m", "cover", "exposure", "ground")
    return {name: getattr(stack, name) for name in names}


def stack_up(desk: Desk, command: StackUp) -> Answer:
    """Cuts, splits and stacks. Answer: stack_id, name, adjusted_share, clashes (ids).

    Wood leaves the loads; kerf and waste and fallen bark go to loss; the rest stands in the stack.
    The measured outside is a second measure of the same wood: the two are joined by their spreads and the
    difference is posted with its reason. A stack larger than its logs allow, or made from a load that was used up by
    the book, or before the load came, stands there all the same: it is taken with a clash, and what the loads do not
    account for is counted by the stack's own measure.
    """
    outside = _checked_outside(command.pieces, command.outside)
    _check_pieces(command.pieces)
    within("kerf", command.kerf_m, (0.001, 0.03), "m")
    within("waste", command.waste_share, (0.0, 0.5), "of the wood")
    within("bark_kept", command.bark_kept_share, (0.0, 1.0), "of the bark")
    if not command.sources or len({load_id for load_id, _ in command.sources}) != len(command.sources):
        raise InputError(
            "load",
            wanted=T_("one or more loads, each once"),
            got=len(command.sources),
            next_move=T_("Choose the loads whose logs were cut."),
        )
    for _, share in command.sources:
        within("share", share, (0.001, 1.0), "of the load")

    def run(stage: Stage) -> Answer:
        clashes: list[int] = []
        stack = new_stack(stage, as_said(stage, command.pieces), clashes, must_be_new=command.must_be_new)
        when = noon_utc(stage.yard, stack.stacked_on)
        loss = yard_spot(stage.session, stage.yard.id, "loss")
        moves: list[Move] = []
        loads: list[Load] = []
        used_up: list[Load] = []
        solid_m3 = variance = 0.0
        for load_id, share in command.sources:
            load = find_load(stage, load_id)
            held = {key: grams for key, grams in stock(stage.session, load.spot_id).items() if grams > 0}
            if not wood_in_stock(held):
                used_up.append(load)
                continue
            loads.append(load)
            part_m3 = 0.0
            for key, grams in held.items():
                cut, kept_m3 = _cut(command, key, load, max(1, round(grams * share)), share, stack, loss)
                moves += cut
                part_m3 += kept_m3
            solid_m3 += part_m3
            variance += (load.mass_sd_share * part_m3) ** 2
        # Before the wood moves: a load does not teach how the stack it becomes is to be judged.
        own = factor_before(stage)
        if moves:
            _post(stage, "stack", moves, when)
        wood = wood_in_stock(stock(stage.session, stack.spot_id))
        filling = kinds_of_used_up(stage, used_up, stack.form) if used_up else wood
        kind = kind_of_stock(wood or filling)
        content = own.share(outside.piled, stack.form, stack.piece_length_m, kind)
        least = least_share(own, outside.piled, stack.form, stack.piece_length_m, kind)
        sd_share = variance**0.5 / solid_m3 if solid_m3 else 0.0
        if _fills(least, outside, solid_m3, sd_share):
            reconciled = _reconcile(stage, stack, content, outside, solid_m3, sd_share)
        else:
            reconciled = 0.0
            missing = missing_grams(filling, outside.outside_m3 * content.mid - solid_m3)
            _post_difference(stage, stack, filling, missing, UNACCOUNTED, outside, content)
            if not used_up:
                clashes.append(larger_than_logs(stage, stack, outside.outside_m3, solid_m3, sd_share, least))
        clashes += [made_of_used_up(stage, stack, load) for load in used_up]
        for load in loads:
            clashes += look_for_early(stage, load)
        _keep_measure(stage, stack, outside, command.outside, when)
        return {"stack_id": stack.id, "name": stack.name, "adjusted_share": reconciled, "clashes": clashes}

    return do(desk, "stack_up", command, run)


def opening_stack(desk: Desk, command: OpeningStack) -> Answer:
    """Takes in a stack that stood before the book began. Answer: stack_id, name, clashes (ids)."""
    return do(desk, "opening_stack", command, taking_opening(command))


def taking_opening(command: OpeningStack) -> Callable[[Stage], Answer]:
    """What taking in such a stack does, for a deed that does more than that."""
    outside = _checked_outside(command.pieces, command.outside)
    _check_pieces(command.pieces)
    woods = [(find_species(n, field="shares"), share) for n, share in shares_to_one("shares", command.shares)]

    def run(stage: Stage) -> Answer:
        clashes: list[int] = []
        stack = new_stack(stage, as_said(stage, command.pieces), clashes, must_be_new=command.must_be_new)
        lot = new_lot(stage, command.harvest)
        outer = yard_spot(stage.session, stage.yard.id, "outside")
        kind, _ = kind_of_volumes(dict(woods))
        content = factor_before(stage).share(outside.piled, stack.form, stack.piece_length_m, kind)
        sd_share = sd_share_of(content)
        moves: list[Move] = []
        for wood, share in woods:
            solid = outside.outside_m3 * content.mid * share
            grams = max(1, round(1000 * solid * wood.basic_density_kg_m3))
            moves += [
                Move(
                    stack.spot_id,
                    wood.id,
                    stack.form,
                    lot.id,
                    grams,
                    quantity=outside.outside_m3 * share,
                    unit="loose_m3" if outside.piled == "loose" else "stacked_m3",
                    method="outside dimensions",
                    sd_share=sd_share,
                    basic_density_kg_m3=wood.basic_density_kg_m3,
                ),
                Move(outer, wood.id, stack.form, lot.id, -grams),
            ]
        when = noon_utc(stage.yard, stack.stacked_on)
        _post(stage, "opening", moves, when)
        _keep_measure(stage, stack, outside, command.outside, when)
        return {"stack_id": stack.id, "name": stack.name, "clashes": clashes}

    return run


def measure_stack(desk: Desk, command: MeasureStack) -> Answer:
    """Measures a stack again. Answer: measure_id, stack_id, outside_m3, difference_g, clashes (ids).

    Reports may come in any order; the newest measure by its own moment decides what stands there (`remeasure`).
    One that does not fit the book (closed stack, day before the stacking, more than its wood can fill) is taken
    with a clash.
    """

    def run(stage: Stage) -> Answer:
        _, answer = take_measure(stage, command)
        return answer

    return do(desk, "measure_stack", command, run)


def take_measure(stage: Stage, command: MeasureStack) -> tuple[StackMeasure, Answer]:
    """A measure of a stack inside a deed: kept, sorted in, and what came of it. The command's own key is not used."""
    stack = find_stack(stage, command.stack_id)
    facts = PiecesFacts(
        name=stack.name,
        kind=stack.kind,
        piece_length_m=stack.piece_length_m,
        thickness_m=stack.thickness_m,
        stacked_on=stack.stacked_on,
    )
    outside = _checked_outside(facts, command.outside)
    happened_at = stage.happened_at
    if command.measured_on is not None:
        day = stage.day_said(command.measured_on)
        day_between("measured_on", day, EARLIEST, stage.last_day)
        if day != stage.happened_on:
            happened_at = min(noon_utc(stage.yard, day), stage.recorded_at)
    measure = _measure_of(stage, stack, outside, command.outside, happened_at)
    measure.stock_taking = command.stock_taking
    difference, clashes = sort_in(stage, stack, measure)
    return measure, {
        "measure_id": measure.id,
        "stack_id": stack.id,
        "outside_m3": outside.outside_m3,
        "difference_g": difference,
        "clashes": clashes,
    }


def move_stack(desk: Desk, command: MoveStack) -> Answer:
    """Answer: stack_id."""
    one_of("cover", command.cover, COVERS)
    one_of("exposure", command.exposure, EXPOSURES)
    if command.ground is not None:
        one_of("ground", command.ground, GROUNDS)

    def run(stage: Stage) -> Answer:
        stack = find_stack(stage, command.stack_id)
        must_be_as_seen(command.seen, standing_of(stack))
        stack.row_label = some_text("row", command.row_label, 40, needed=False)
        stack.x_m, stack.y_m = command.x_m, command.y_m
        stack.cover, stack.exposure = command.cover, command.exposure
        stack.ground = command.ground or stack.ground
        return {"stack_id": stack.id}

    return do(desk, "move_stack", command, run)


def _cut(
    command: StackUp, key: StockKey, load: Load, taken: int, share: float, stack: Stack, loss: int
) -> tuple[list[Move], float]:
    """Moves that cut `taken` grams of one kind of wood in a load; and the solid m³ that reach the stack."""
    gone = Move(
        load.spot_id,
        key.species_id,
        key.form,
        key.lot_id,
        -taken,
        quantity=share,
        unit="share",
        method="share as told",
        sd_share=sd_of(key, load.mass_sd_share),
        basic_density_kg_m3=density_of(key),
    )
    if key.form == "bark":
        kept = round(taken * command.bark_kept_share) if command.pieces.bark else 0
        parts = [(stack.spot_id, "bark", kept, ""), (loss, "bark", taken - kept, "bark fallen")]
        solid = 0.0
    else:
        length = command.pieces.piece_length_m
        kerf = round(taken * command.kerf_m / (length + command.kerf_m))
        waste = round(taken * command.waste_share)
        kept = taken - kerf - waste
        solid = kept / 1000 / get_species(key.species_id).basic_density_kg_m3
        parts = [
            (stack.spot_id, command.pieces.form, kept, "what the load gave"),
            (loss, "kerf", kerf, "kerf of the saw"),
            (loss, "waste", waste, "share of the wood"),
        ]
    return becomes(gone, parts), solid


def becomes(gone: Move, parts: Sequence[tuple[int, str, int, str]]) -> list[Move]:
    """Wood that leaves a spot in one form and arrives in others, of the same density and spread.

    `parts`: (spot, form, grams, method); see `book.post` for what changes form inside an entry.
    """
    density = gone.basic_density_kg_m3
    assert density is not None
    came = [
        replace(
            gone,
            spot_id=spot,
            form=form,
            mass_g=grams,
            quantity=grams / 1000 / density,
            unit="solid_m3",
            method=method,
        )
        for spot, form, grams, method in parts
        if grams > 0
    ]
    return [gone, *came]


def _checked_outside(pieces: PiecesFacts, outside: Dimensions) -> Outside:
    one_of("kind", pieces.kind, STACK_KINDS)
    within("piece_length", pieces.piece_length_m, PIECE_LENGTH_M, "m")
    within("length", outside.length_m, STACK_SIDE_M, "m")
    if not outside.heights_m:
        raise InputError(
            "height",
            wanted=T_("at least one height"),
            got=T_("none"),
            next_move=T_("Measure the height at one or more places."),
        )
    for height in outside.heights_m:
        within("height", height, STACK_HEIGHT_M, "m")
    within("rows", outside.rows, (1, 40), "rows")
    return stack_measure(
        outside.length_m,
        outside.heights_m,
        pieces.piece_length_m,
        piled="ranked" if pieces.kind == "stack" else "loose",
        rows=outside.rows,
    )


def _check_pieces(pieces: PiecesFacts) -> None:
    some_text("name", pieces.name, 40)
    within("thickness", pieces.thickness_m, THICKNESS_M, "m")
    one_of("cover", pieces.cover, COVERS)
    one_of("exposure", pieces.exposure, EXPOSURES)
    one_of("ground", pieces.ground, GROUNDS)
    one_of("form", pieces.form, ("split", "round", "kindling"))
    for field, value in (("start_moisture", pieces.start_mc_wet), ("target_moisture", pieces.target_mc_wet)):
        if value is not None:
            within(field, value, (0.05, 0.75), "of total mass")


def _fills(least: float, outside: Outside, solid_m3: float, sd_share: float) -> bool:
    """Whether so much solid wood can look so large."""
    return solid_m3 > 0 and outside.outside_m3 * least * LEAST_FILL <= solid_m3 * (1 + TENTH * sd_share)


def as_said(stage: Stage, pieces: PiecesFacts) -> PiecesFacts:
    """With the day that a report from a phone means."""
    return replace(pieces, stacked_on=stage.day_said(pieces.stacked_on))


def new_stack(stage: Stage, pieces: PiecesFacts, clashes: list[int], *, must_be_new: bool = False) -> Stack:
    """A stack without wood. Where its name is taken it gets another one, with a clash; InputError if `must_be_new`."""
    name = some_text("name", pieces.name, 40)
    day_between("stacked_on", pieces.stacked_on, EARLIEST, stage.last_day)
    free = free_name(stage, name)
    if free != name and must_be_new:
        raise InputError(
            "name",
            wanted=T_("a name that no other stack has"),
            got=name,
            next_move=T_("Give this stack another name."),
            code="name_taken",
        )
    spot = Spot(yard_id=stage.yard.id, kind="stack")
    stage.session.add(spot)
    stage.session.flush()
    stack = Stack(
        yard_id=stage.yard.id,
        spot_id=spot.id,
        name=free,
        kind=pieces.kind,
        form=pieces.form,
        piece_length_m=pieces.piece_length_m,
        thickness_m=pieces.thickness_m,
        bark=pieces.bark,
        cover=pieces.cover,
        exposure=pieces.exposure,
        ground=pieces.ground,
        stacked_on=pieces.stacked_on,
        start_mc_wet=pieces.start_mc_wet,
        target_mc_wet=pieces.target_mc_wet or stage.yard.target_mc_wet,
        row_label=some_text("row", pieces.row_label, 40, needed=False),
        x_m=pieces.x_m,
        y_m=pieces.y_m,
        note=some_text("note", pieces.note, 500, needed=False),
    )
    stage.session.add(stack)
    stage.session.flush()
    if free != name:
        clashes.append(name_was_taken(stage, stack, name))
    return stack


def _reconcile(
    stage: Stage, stack: Stack, content: Spread, outside: Outside, solid_m3: float, sd_share: float
) -> float:
    """Joins what the logs gave and what the stack measures, each by its spread. Gives the change as a share."""
    from_stack = outside.outside_m3 * content.mid
    weight_logs = 1 / (sd_share * solid_m3) ** 2
    weight_stack = 1 / (sd_share_of(content) * from_stack) ** 2
    joined = (weight_logs * solid_m3 + weight_stack * from_stack) / (weight_logs + weight_stack)
    change = joined / solid_m3 - 1
    if abs(change) < 0.01:
        return 0.0
    held = wood_in_stock(stock(stage.session, stack.spot_id))
    difference = round(sum(held.values()) * change)
    _post_difference(stage, stack, held, difference, JOINED, outside, content)
    return change


def _post_difference(
    stage: Stage,
    stack: Stack,
    held: dict[StockKey, int],
    difference: int,
    reason: str,
    outside: Outside,
    content: Spread,
) -> None:
    """Wood of these kinds comes or goes by the measure of the stack, of which each kind is its share."""
    if not difference:
        return
    outer = yard_spot(stage.session, stage.yard.id, "outside")
    sign = 1 if difference > 0 else -1
    whole = sum(held.values())
    by_stack_g = missing_grams(held, outside.outside_m3 * content.mid)
    moves: list[Move] = []
    for key, grams in portion(held, abs(difference)).items():
        if grams:
            moves.append(
                Move(
                    stack.spot_id,
                    key.species_id,
                    key.form,
                    key.lot_id,
                    sign * grams,
                    quantity=outside.outside_m3 * held[key] / whole,
                    unit="loose_m3" if outside.piled == "loose" else "stacked_m3",
                    method="outside dimensions",
                    # Of the difference: what the stack is known to, beside the little that it moves.
                    sd_share=sd_share_of(content) * by_stack_g / abs(difference),
                    basic_density_kg_m3=density_of(key),
                )
            )
            moves.append(Move(outer, key.species_id, key.form, key.lot_id, -sign * grams))
    # As of the stacking, like the wood itself: a measure that comes late must find it.
    _post(stage, "remeasure", moves, noon_utc(stage.yard, stack.stacked_on), reason)


def _keep_measure(
    stage: Stage, stack: Stack, outside: Outside, typed: Dimensions, happened_at: datetime
) -> None:
    """The measure taken with the stacking: what the journal holds then is what stands there."""
    stage.session.flush()
    measure = _measure_of(stage, stack, outside, typed, happened_at)
    measure.mass_g = sum(wood_in_stock(stock(stage.session, stack.spot_id)).values())
    stage.session.add(measure)


def _measure_of(
    stage: Stage, stack: Stack, outside: Outside, typed: Dimensions, happened_at: datetime
) -> StackMeasure:
    return StackMeasure(
        yard_id=stage.yard.id,
        stack_id=stack.id,
        deed_id=stage.deed.id,
        happened_at=happened_at,
        piled=outside.piled,
        length_m=typed.length_m,
        heights_m=list(typed.heights_m),
        rows=typed.rows,
        outside_m3=outside.outside_m3,
        mass_g=0,
        stock_taking=False,
    )


def _post(stage: Stage, kind: str, moves: list[Move], happened_at: datetime, reason: str = "") -> Entry:
    return post(
        stage.session,
        stage.yard.id,
        kind=kind,
        happened_at=happened_at,
        recorded_at=stage.recorded_at,
        moves=moves,
        reason=reason,
        deed_id=stage.deed.id,
    )
