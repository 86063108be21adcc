"""Wood that goes its way without being sold: put on another stack, divided, sent back, used, rotten, lost, returned.

All of these report what happened, so none is refused for what the book says: where it does not fit, it is taken with
a clash. The kinds of wood in a part are those of the whole, lot by lot, so places of harvest and certificates follow.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import select

from rickyard.book import Move, StockKey, portion, post, stock
from rickyard.book.models import Entry, Household, Load, Posting, Promise, Stack, StackMeasure, Ticket
from rickyard.book.running import worsened_by
from rickyard.desk.checks import one_of, some_text, within
from rickyard.desk.clashes import raise_clash
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.early import look_for_early
from rickyard.desk.expectations import expectation
from rickyard.desk.remeasure import follow_late
from rickyard.desk.spots import yard_spot
from rickyard.desk.spreads import density_of, sd_of, sd_of_stack, sold_sd_share
from rickyard.desk.stacking import PiecesFacts, new_stack
from rickyard.desk.stacks import StackCard, card_of, find_stack, wood_in_stock
from rickyard.desk.wood_in import find_load
from rickyard.desk.yard_factor import factor_in
from rickyard.errors import InputError
from rickyard.measure import solid_share
from rickyard.text import T_, Text

LEFT_FOR = ("own_use", "decay", "lost")
# Pieces that differ by more than this dry so unlike that one forecast cannot speak for both [m], [days].
UNLIKE_LENGTH_M = 0.05
UNLIKE_DAYS = 60
LEAST_SHARE, MOST_OF_A_PART = 0.001, 0.999
# So much more than the book holds is the rounding of a figure that was told; the rest is asked about.
ROUNDING = 1.02
# A told volume beyond this is no wood of a yard [m³].
TOLD_M3 = (1e-4, 1e4)
# A load's wood is told as the stacked volume of pieces of this length: 16 inches [m].
LOAD_PIECE_M = 0.406


@dataclass(frozen=True, kw_only=True)
class PutOnto(Command):
    """Wood of one or more stacks is put on another one, or fills a bin. `sources`: (stack_id, share of it).

    In this command and the others, `ranked_m3` is how much it was, told as a stacked volume; it goes before the share,
    which the book then finds from what is there when the deed is done. Here it is that of the only source.
    """

    sources: tuple[tuple[int, float], ...]
    stack_id: int
    reason: str = ""
    ranked_m3: float | None = None


@dataclass(frozen=True, kw_only=True)
class DivideStack(Command):
    """Part of a stack stands on its own from now on, or lies as a heap or in a bin (`kind`).

    `must_be_new`: somebody is at the form, and a name that another stack has is asked about.
    """

    stack_id: int
    share: float
    name: str
    kind: str = ""
    row_label: str = ""
    x_m: float | None = None
    y_m: float | None = None
    ranked_m3: float | None = None
    must_be_new: bool = False


@dataclass(frozen=True, kw_only=True)
class RejectLoad(Command):
    """Wood of a load that the yard does not keep: it goes back to whoever brought it."""

    load_id: int
    share: float = 1.0
    reason: str
    ranked_m3: float | None = None


@dataclass(frozen=True, kw_only=True)
class TakeAway(Command):
    """Wood of a stack or a load that is gone without a sale. `left_for`: "own_use", "decay" or "lost"."""

    left_for: str
    stack_id: int | None = None
    load_id: int | None = None
    share: float = 1.0
    reason: str
    ranked_m3: float | None = None


@dataclass(frozen=True, kw_only=True)
class ReturnWood(Command):
    """A buyer gives wood of a ticket back: a share of it lies on a stack of the yard again.

    The ticket stays as it was handed out, and so does the money.
    """

    ticket_id: int
    share: float
    stack_id: int
    reason: str
    ranked_m3: float | None = None


def put_onto(desk: Desk, command: PutOnto) -> Answer:
    """Answer: stack_id, mass_g, closed (ids of stacks that are empty now), clashes (ids).

    Open promises of a stack that is put on another as a whole go with it.
    """
    if not command.sources or len({number for number, _ in command.sources}) != len(command.sources):
        raise InputError(
            "sources",
            wanted=T_("one or more stacks, each once"),
            got=len(command.sources),
            next_move=T_("Choose the stacks that the wood came from."),
        )
    if command.ranked_m3 is not None and len(command.sources) > 1:
        raise InputError(
            "ranked_m3",
            wanted=T_("a share of each stack, where there are several"),
            got=len(command.sources),
            next_move=T_("Tell the volume of one stack at a time."),
        )
    for number, share in command.sources:
        checked_share(share, command.ranked_m3)
        if number == command.stack_id:
            raise InputError(
                "sources",
                wanted=T_("other stacks than the one that grows"),
                got=number,
                next_move=T_("Choose where the wood came from."),
            )
    reason = some_text("reason", command.reason, 200, needed=False)

    def run(stage: Stage) -> Answer:
        onto = find_stack(stage, command.stack_id)
        clashes = _if_closed(stage, onto)
        parts = [
            (stack, share_of_stack(stage, stack, share, command.ranked_m3, clashes))
            for stack, share in ((find_stack(stage, number), share) for number, share in command.sources)
        ]
        moves: list[Move] = []
        for stack, share in parts:
            taken = part_of_stack(stage, stack, share, clashes)
            sd_share = sd_of_stack(stage, stack)
            moves += _moves(taken, stack.spot_id, onto.spot_id, share, sd_share, command.ranked_m3)
            clashes += _if_unlike(stage, stack, onto)
        post_moves(stage, "fill" if onto.kind == "bin" else "merge", moves, reason)
        closed = [stack.id for stack, _ in parts if followed(stage, stack, clashes)]
        followed(stage, onto, clashes)
        for stack, share in parts:
            if share == 1.0:
                promises_go_along(stage, stack, onto)
        return {"stack_id": onto.id, "mass_g": mass_of(moves), "closed": closed, "clashes": clashes}

    return do(desk, "put_onto", command, run)


def divide_stack(desk: Desk, command: DivideStack) -> Answer:
    """Answer: stack_id (of the new one), name, mass_g, clashes (ids).

    The part keeps the facts of the whole; its size is that share of the last measure until it is measured itself.
    """
    within("share", command.share, (LEAST_SHARE, MOST_OF_A_PART), "of the stack")
    checked_share(command.share, command.ranked_m3)
    if command.kind:
        one_of("kind", command.kind, ("stack", "heap", "bin"))

    def run(stage: Stage) -> Answer:
        whole = find_stack(stage, command.stack_id)
        clashes: list[int] = []
        card = card_of(whole, stock(stage.session, whole.spot_id), 0.0) if whole.measures else None
        share = share_of_stack(stage, whole, command.share, command.ranked_m3, clashes, most=MOST_OF_A_PART)
        taken = part_of_stack(stage, whole, share, clashes)
        part = new_stack(
            stage,
            PiecesFacts(
                name=command.name,
                kind=command.kind or whole.kind,
                form=whole.form,
                piece_length_m=whole.piece_length_m,
                thickness_m=whole.thickness_m,
                bark=whole.bark,
                cover=whole.cover,
                exposure=whole.exposure,
                ground=whole.ground,
                stacked_on=min(whole.stacked_on, stage.happened_on),
                start_mc_wet=whole.start_mc_wet,
                target_mc_wet=whole.target_mc_wet,
                row_label=command.row_label,
                x_m=command.x_m,
                y_m=command.y_m,
            ),
            clashes,
            must_be_new=command.must_be_new,
        )
        moves = _moves(
            taken, whole.spot_id, part.spot_id, share, sd_of_stack(stage, whole), command.ranked_m3
        )
        post_moves(stage, "divide", moves)
        followed(stage, whole, clashes)
        if card is not None:
            keep_size_by_share(stage, whole, card, part, share, taken)
        return {"stack_id": part.id, "name": part.name, "mass_g": mass_of(moves), "clashes": clashes}

    return do(desk, "divide_stack", command, run)


def keep_size_by_share(
    stage: Stage,
    whole: Stack,
    card: StackCard,
    part: Stack,
    share: float,
    wood: dict[StockKey, int],
    kept_share: float = 1.0,
) -> None:
    """The size of a stack made of a share of another, until it is measured itself; a stack is never unmeasured.

    `card`: the whole before. `wood`: what stands in the part, `kept_share` of what was taken, laid as its pieces lie.
    """
    # Where the book held nothing, the whole was last as large as it was measured.
    size_m3 = card.outside_m3 if wood and card.outside_m3 > 0 else whole.measures[-1].outside_m3
    piled = "ranked" if part.kind == "stack" else "loose"
    solid = size_m3 * share * kept_share * solid_share(card.piled, whole.form, whole.piece_length_m).mid
    outside = solid / solid_share(piled, part.form, part.piece_length_m).mid
    stage.session.add(
        StackMeasure(
            yard_id=stage.yard.id,
            stack_id=part.id,
            deed_id=stage.deed.id,
            happened_at=stage.happened_at,
            piled=piled,
            length_m=card.length_m * outside / size_m3,
            heights_m=[card.height_m],
            rows=card.rows,
            outside_m3=outside,
            mass_g=sum(wood_in_stock(wood).values()),
            stock_taking=False,
        )
    )


def promises_go_along(stage: Stage, stack: Stack, onto: Stack) -> None:
    """What is promised from a stack that went on as a whole is promised from where its wood is now."""
    for promise in stage.session.scalars(
        select(Promise).where(Promise.stack_id == stack.id, Promise.state == "open")
    ):
        promise.stack_id = onto.id


def reject_load(desk: Desk, command: RejectLoad) -> Answer:
    """Answer: load_id, mass_g, clashes (ids)."""
    checked_share(command.share, command.ranked_m3)
    reason = some_text("reason", command.reason, 200)

    def run(stage: Stage) -> Answer:
        load = find_load(stage, command.load_id)
        clashes: list[int] = []
        taken, share = _part_of_load(stage, load, command.share, command.ranked_m3, clashes)
        outer = yard_spot(stage.session, stage.yard.id, "outside")
        moves = _moves(taken, load.spot_id, outer, share, load.mass_sd_share, command.ranked_m3)
        post_moves(stage, "reject", moves, reason)
        clashes += look_for_early(stage, load)
        return {"load_id": load.id, "mass_g": mass_of(moves), "clashes": clashes}

    return do(desk, "reject_load", command, run)


def take_away(desk: Desk, command: TakeAway) -> Answer:
    """Answer: stack_id or load_id, mass_g, closed (ids of stacks that are empty now), clashes (ids)."""
    one_of("left_for", command.left_for, LEFT_FOR)
    checked_share(command.share, command.ranked_m3)
    reason = some_text("reason", command.reason, 200)
    if (command.stack_id is None) == (command.load_id is None):
        raise InputError(
            "stack",
            wanted=T_("a stack or a load"),
            got=T_("both") if command.load_id is not None else T_("neither"),
            next_move=T_("Say where the wood was."),
        )

    def run(stage: Stage) -> Answer:
        to = yard_spot(stage.session, stage.yard.id, "own_use" if command.left_for == "own_use" else "loss")
        clashes: list[int] = []
        stack = None if command.stack_id is None else find_stack(stage, command.stack_id)
        if stack is not None:
            share = share_of_stack(stage, stack, command.share, command.ranked_m3, clashes)
            sd_share = sd_of_stack(stage, stack)
            spot_id, taken = stack.spot_id, part_of_stack(stage, stack, share, clashes)
        else:
            assert command.load_id is not None
            load = find_load(stage, command.load_id)
            spot_id, sd_share = load.spot_id, load.mass_sd_share
            taken, share = _part_of_load(stage, load, command.share, command.ranked_m3, clashes)
        moves = _moves(taken, spot_id, to, share, sd_share, command.ranked_m3)
        post_moves(stage, command.left_for, moves, reason)
        if stack is None:
            clashes += look_for_early(stage, load)
        closed = [stack.id] if stack is not None and followed(stage, stack, clashes) else []
        where = {"stack_id": command.stack_id, "load_id": command.load_id}
        return where | {"mass_g": mass_of(moves), "closed": closed, "clashes": clashes}

    return do(desk, "take_away", command, run)


def return_wood(desk: Desk, command: ReturnWood) -> Answer:
    """Answer: ticket_id, stack_id, mass_g, clashes (ids)."""
    checked_share(command.share, command.ranked_m3)
    reason = some_text("reason", command.reason, 200)

    def run(stage: Stage) -> Answer:
        ticket = stage.session.get(Ticket, command.ticket_id)
        if ticket is None or ticket.yard_id != stage.yard.id:
            raise InputError(
                "ticket",
                wanted=T_("a ticket of this yard"),
                got=command.ticket_id,
                next_move=T_("Choose it from the list of tickets."),
            )
        onto = find_stack(stage, command.stack_id)
        clashes = _if_closed(stage, onto)
        if ticket.household_id is not None:
            buyer = stage.session.get_one(Household, ticket.household_id).spot_id
        else:
            buyer = yard_spot(stage.session, stage.yard.id, "gate")
        brought: dict[StockKey, int] = {}
        postings = stage.session.scalars(
            select(Posting).where(Posting.entry_id == ticket.entry_id, Posting.spot_id == buyer)
        ).all()
        for posting in postings:
            key = StockKey(posting.species_id, posting.form, posting.lot_id)
            brought[key] = brought.get(key, 0) + posting.mass_g
        share = command.share
        if command.ranked_m3 is not None:
            share = _told(stage, "stack", onto, command.ranked_m3, ticket.outside_m3, clashes)
        taken = _of(brought, share)
        there = stock(stage.session, buyer)
        if any(grams > there.get(key, 0) for key, grams in taken.items()):
            text = _too_much(stage, ticket, onto)
            clashes.append(raise_clash(stage, "stack", onto.id, "returned_too_much", text))
        moves = _moves(taken, buyer, onto.spot_id, share, sold_sd_share(postings), command.ranked_m3)
        post_moves(stage, "return", moves, reason)
        clashes += _if_before_sale(stage, ticket, onto, buyer)
        followed(stage, onto, clashes)
        return {
            "ticket_id": ticket.id,
            "stack_id": onto.id,
            "mass_g": mass_of(moves),
            "clashes": clashes,
        }

    return do(desk, "return_wood", command, run)


def _too_much(stage: Stage, ticket: Ticket, onto: Stack) -> Text:
    """More came back than the buyer had by the book: of a delivery that was taken back, that is all of it."""
    if stage.session.scalar(select(Entry.id).where(Entry.reverses_id == ticket.entry_id)) is not None:
        return T_(
            "Wood of ticket {number} came back on stack {name}, but the delivery itself was taken back: by the book "
            "nothing of it went out. Look which of the two is so.",
            number=ticket.number,
            name=onto.name,
        )
    return T_(
        "More wood of ticket {number} came back on stack {name} than the buyer still had by the book. "
        "Look whether the same return was entered twice.",
        number=ticket.number,
        name=onto.name,
    )


def share_told(share: float, told_m3: float | None, there_m3: float, *, most: float = 1.0) -> float:
    """The share that a told stacked volume is of what is there; `share` itself, if none was told.

    For whoever stands before the form: InputError for `ranked_m3` if that is more than there is. What comes as a
    report is taken all the same, with a clash. Where the book holds nothing, it is the most.
    """
    if told_m3 is None:
        return share
    found = _checked_volume(told_m3) / there_m3 if there_m3 > 0 else most
    if found > (ROUNDING if most == 1.0 else most):
        raise InputError(
            "ranked_m3",
            wanted=T_("a part of what is there by the book"),
            got=T_("{percent} % of it", percent=f"{100 * found:.3g}"),
            next_move=T_("Type another amount, or measure what is there first."),
        )
    return min(most, found)


def _told(
    stage: Stage,
    kind: str,
    place: Stack | Load,
    told_m3: float,
    there_m3: float,
    clashes: list[int],
    *,
    most: float = 1.0,
) -> float:
    """As `share_told` for a report: more than there is by the book is all there is, and somebody is to look."""
    found = _checked_volume(told_m3) / there_m3 if there_m3 > 0 else most
    if found > (ROUNDING if most == 1.0 else most):
        if isinstance(place, Stack):
            text = T_(
                "{told:.2f} m³ of wood were told at stack {name}, but the book had {there:.2f} m³ to give and took all "
                "of it. Look at the amount, or measure what is there.",
                told=told_m3,
                name=place.name,
                there=there_m3,
            )
        else:
            text = T_(
                "{told:.2f} m³ of wood were told at load {number}, but the book had {there:.2f} m³ to give and took "
                "all of it. Look at the amount, or measure the load in another way.",
                told=told_m3,
                number=place.number,
                there=there_m3,
            )
        clashes.append(raise_clash(stage, kind, place.id, "more_than_there", text))
    return min(most, found)


def _checked_volume(told_m3: float) -> float:
    within("ranked_m3", told_m3, TOLD_M3, "m³")
    return told_m3


def share_of_stack(
    stage: Stage,
    stack: Stack,
    share: float,
    told_m3: float | None,
    clashes: list[int],
    *,
    most: float = 1.0,
) -> float:
    if told_m3 is None or not stack.measures:
        return share
    there = card_of(stack, stock(stage.session, stack.spot_id), 0.0).ranked_m3
    return _told(stage, "stack", stack, told_m3, there, clashes, most=most)


def _part_of_load(
    stage: Stage, load: Load, share: float, told_m3: float | None, clashes: list[int]
) -> tuple[dict[StockKey, int], float]:
    """What is taken of each kind of wood in a load, and the share that it is; a clash if the book holds none."""
    held = stock(stage.session, load.spot_id)
    if not _of(held, 1.0):
        text = T_(
            "Wood was taken from load {number}, but by the book nothing was left in it. The book does not know "
            "how much that was and is unchanged. Look whether it was another load, or whether this one was larger than "
            "measured.",
            number=load.number,
        )
        clashes.append(raise_clash(stage, "load", load.id, "book_holds_nothing", text))
        return {}, share
    if told_m3 is not None:
        factor = factor_in(stage.session, stage.yard.id)
        total = expectation(
            held, load.mass_sd_share, piece_length_m=LOAD_PIECE_M, mc_wet=0.2, factor=factor
        ).total
        there = total.ranked_m3.mid if total else 0.0
        share = _told(stage, "load", load, told_m3, there, clashes)
    return _of(held, share), share


def checked_share(share: float, told_m3: float | None = None) -> None:
    within("share", share, (LEAST_SHARE, 1.0), "of what is there")
    if told_m3 is not None:
        _checked_volume(told_m3)


def _of(held: dict[StockKey, int], share: float) -> dict[StockKey, int]:
    there = {key: grams for key, grams in held.items() if grams > 0}
    taken = portion(there, round(sum(there.values()) * share)) if there else {}
    return {key: grams for key, grams in taken.items() if grams}


def part_of_stack(stage: Stage, stack: Stack, share: float, clashes: list[int]) -> dict[StockKey, int]:
    """A share of each kind of wood in a stack; a clash if the book holds none."""
    taken = _of(stock(stage.session, stack.spot_id), share)
    if not taken:
        text = T_(
            "Wood was taken from stack {name}, but by the book nothing was left in it. The book does not know which "
            "wood that is and is unchanged. Look whether it was another stack.",
            name=stack.name,
        )
        clashes.append(raise_clash(stage, "stack", stack.id, "book_holds_nothing", text))
    return taken


def _moves(
    taken: dict[StockKey, int],
    start: int,
    end: int,
    share: float,
    sd_share: float,
    told_m3: float | None = None,
) -> list[Move]:
    """`sd_share`: of the oven-dry mass of the whole. How well the part was told is not known, and not in it."""
    measured: dict[str, Any] = {"quantity": share, "unit": "share", "method": "share as told"}
    if told_m3 is not None:
        measured = {"quantity": told_m3, "unit": "stacked_m3", "method": "volume as told"}
    moves: list[Move] = []
    for key, grams in taken.items():
        moves.append(Move(start, key.species_id, key.form, key.lot_id, -grams))
        came = Move(end, key.species_id, key.form, key.lot_id, grams, sd_share=sd_of(key, sd_share))
        moves.append(replace(came, basic_density_kg_m3=density_of(key), **measured))
    return moves


def mass_of(moves: list[Move]) -> int:
    return sum(move.mass_g for move in moves if move.mass_g > 0)


def post_moves(stage: Stage, kind: str, moves: list[Move], reason: str = "") -> None:
    if moves:
        post(
            stage.session,
            stage.yard.id,
            kind=kind,
            happened_at=stage.happened_at,
            recorded_at=stage.recorded_at,
            moves=moves,
            reason=reason,
            deed_id=stage.deed.id,
        )


def followed(stage: Stage, stack: Stack, clashes: list[int]) -> bool:
    """Measures that came after a late report follow it. Gives whether the stack is empty now, and closes it then."""
    clashes += follow_late(stage, stack, stage.happened_at)
    if any(grams > 0 for grams in stock(stage.session, stack.spot_id).values()):
        return False
    stack.emptied_on = stack.emptied_on or stage.happened_on
    return True


def _if_before_sale(stage: Stage, ticket: Ticket, onto: Stack, buyer: int) -> list[int]:
    """A return by its day before the wood was sold."""
    if not worsened_by(stage.session, stage.yard.id, stage.yard.timezone, buyer, stage.deed.id):
        return []
    text = T_(
        "Wood of ticket {number} came back on stack {name} on {day}, but it was only delivered on {delivered}. Look at "
        "both days, and whether another ticket was meant.",
        number=ticket.number,
        name=onto.name,
        day=stage.happened_on,
        delivered=ticket.delivered_on,
    )
    return [raise_clash(stage, "stack", onto.id, "returned_early", text)]


def _if_closed(stage: Stage, stack: Stack) -> list[int]:
    """Wood that comes to a closed stack opens it again, and somebody is to look."""
    if stack.emptied_on is None:
        return []
    closed, stack.emptied_on = stack.emptied_on, None
    text = T_(
        "Wood was put on stack {name}, which was closed on {closed}. It is open again. Measure it, so that the book "
        "knows what stands there.",
        name=stack.name,
        closed=closed,
    )
    return [raise_clash(stage, "stack", stack.id, "stack_closed", text)]


def are_unlike(one: Stack | StackCard, other: Stack | StackCard) -> bool:
    """Whether pieces dry so unlike that one forecast cannot speak for both."""
    return (
        abs(one.piece_length_m - other.piece_length_m) > UNLIKE_LENGTH_M
        or abs((one.stacked_on - other.stacked_on).days) > UNLIKE_DAYS
        or one.form != other.form
    )


def _if_unlike(stage: Stage, stack: Stack, onto: Stack) -> list[int]:
    if not are_unlike(stack, onto):
        return []
    text = T_(
        "Wood of stack {name} (stacked on {day}) lies with that of {onto} (stacked on {other}): the pieces are unlike, "
        "and the forecast speaks of those of {onto} alone. Take readings of both kinds.",
        name=stack.name,
        day=stack.stacked_on,
        onto=onto.name,
        other=onto.stacked_on,
    )
    return [raise_clash(stage, "stack", onto.id, "unlike_pieces", text)]
