"""Wood of a stack that is split (again): rounds that lay in a heap become splits, splits become kindling."""

from __future__ import annotations

from dataclasses import dataclass

from rickyard.book import Move, StockKey, stock
from rickyard.book.models import Stack
from rickyard.desk.checks import THICKNESS_M, one_of, some_text, within
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.kept_forecasts import kept_of
from rickyard.desk.moving import (
    checked_share,
    followed,
    keep_size_by_share,
    part_of_stack,
    post_moves,
    promises_go_along,
    share_of_stack,
)
from rickyard.desk.spots import yard_spot
from rickyard.desk.spreads import density_of, sd_of, sd_of_stack
from rickyard.desk.stacking import BARK_KEPT_SHARE, PiecesFacts, becomes, new_stack
from rickyard.desk.stacks import card_of, find_stack
from rickyard.errors import InputError
from rickyard.text import T_

# What pieces may become, by what they are.
FINER = {"round": ("split", "kindling"), "split": ("split", "kindling"), "kindling": ("kindling",)}
# Splinters left on the ground; sawing ends and rot went when the rounds were cut. Common practice, no source.
SPLINTER_SHARE = 0.01
START_MC_WET = (0.05, 0.75)


@dataclass(frozen=True, kw_only=True)
class SplitStack(Command):
    """Pieces of a stack were split and stand as a new stack, heap or bin (`kind`; "": as they stood before).

    `ranked_m3`: how much of the stack it was, as a stacked volume; it goes before the share. `start_mc_wet`: moisture
    of the pieces now, of the total mass; None: what the stack's forecast says of that day, or as the stack began where
    there is none. `must_be_new`: somebody is at the form, and a name that another stack has is asked about.
    """

    stack_id: int
    share: float = 1.0
    ranked_m3: float | None = None
    name: str
    kind: str = ""
    form: str = "split"
    thickness_m: float
    bark: bool = True
    start_mc_wet: float | None = None
    row_label: str = ""
    splinter_share: float = SPLINTER_SHARE
    bark_kept_share: float = BARK_KEPT_SHARE
    must_be_new: bool = False


def split_stack(desk: Desk, command: SplitStack) -> Answer:
    """Answer: stack_id (of the new one), name, mass_g (of what stands in it), closed (ids), clashes (ids).

    Splinters and fallen bark go to loss, the rest keeps its woods and places of harvest. The new stack dries from that
    day on; its size is reckoned from what was taken until it is measured. Open promises of a stack that is split as a
    whole go with its wood.
    """
    checked_share(command.share, command.ranked_m3)
    if command.kind:
        one_of("kind", command.kind, ("stack", "heap", "bin"))
    one_of("form", command.form, ("split", "kindling"))
    some_text("name", command.name, 40)
    within("thickness", command.thickness_m, THICKNESS_M, "m")
    within("waste", command.splinter_share, (0.0, 0.5), "of the wood")
    within("bark_kept", command.bark_kept_share, (0.0, 1.0), "of the bark")
    if command.start_mc_wet is not None:
        within("start_moisture", command.start_mc_wet, START_MC_WET, "of total mass")

    def run(stage: Stage) -> Answer:
        whole = find_stack(stage, command.stack_id)
        if command.form not in FINER[whole.form]:
            raise InputError(
                "form",
                wanted=T_("kindling, which stays kindling"),
                got=command.form,
                next_move=T_("Choose another stack, or divide this one."),
            )
        clashes: list[int] = []
        card = card_of(whole, stock(stage.session, whole.spot_id), 0.0) if whole.measures else None
        share = share_of_stack(stage, whole, command.share, command.ranked_m3, clashes)
        taken = part_of_stack(stage, whole, share, clashes)
        made = new_stack(
            stage, _pieces(desk, stage, whole, command), clashes, must_be_new=command.must_be_new
        )
        moves = _moves(stage, command, whole, made, taken, share)
        post_moves(stage, "split", moves)
        closed = [whole.id] if followed(stage, whole, clashes) else []
        if share == 1.0:
            promises_go_along(stage, whole, made)
        if card is not None:
            held = stock(stage.session, made.spot_id)
            kept = 1.0 - command.splinter_share
            keep_size_by_share(stage, whole, card, made, share, held, kept)
        mass_g = sum(move.mass_g for move in moves if move.spot_id == made.spot_id)
        return {
            "stack_id": made.id,
            "name": made.name,
            "mass_g": mass_g,
            "closed": closed,
            "clashes": clashes,
        }

    return do(desk, "split_stack", command, run)


def _pieces(desk: Desk, stage: Stage, whole: Stack, command: SplitStack) -> PiecesFacts:
    start = command.start_mc_wet
    if start is None and stage.happened_on > whole.stacked_on:
        kept = kept_of(stage.session, desk.book, [whole.id]).get(whole.id)
        if kept is not None:
            start = min(max(kept.p50[kept.row_of(stage.happened_on)], START_MC_WET[0]), START_MC_WET[1])
    return PiecesFacts(
        name=command.name,
        kind=command.kind or whole.kind,
        form=command.form,
        piece_length_m=whole.piece_length_m,
        thickness_m=command.thickness_m,
        bark=command.bark and whole.bark,
        cover=whole.cover,
        exposure=whole.exposure,
        ground=whole.ground,
        stacked_on=stage.happened_on,
        start_mc_wet=whole.start_mc_wet if start is None else start,
        target_mc_wet=whole.target_mc_wet,
        row_label=command.row_label,
    )


def _moves(
    stage: Stage, command: SplitStack, whole: Stack, made: Stack, taken: dict[StockKey, int], share: float
) -> list[Move]:
    loss = yard_spot(stage.session, stage.yard.id, "loss")
    sd_share = sd_of_stack(stage, whole)
    if command.ranked_m3 is None:
        quantity, unit, method = share, "share", "share as told"
    else:
        quantity, unit, method = command.ranked_m3, "stacked_m3", "volume as told"
    moves: list[Move] = []
    for key, grams in taken.items():
        gone = Move(
            whole.spot_id,
            key.species_id,
            key.form,
            key.lot_id,
            -grams,
            quantity=quantity,
            unit=unit,
            method=method,
            sd_share=sd_of(key, sd_share),
            basic_density_kg_m3=density_of(key),
        )
        if key.form == "bark":
            kept = round(grams * command.bark_kept_share) if made.bark else 0
            parts = [(made.spot_id, "bark", kept, "bark kept"), (loss, "bark", grams - kept, "bark fallen")]
        else:
            kept = grams - round(grams * command.splinter_share)
            parts = [
                (made.spot_id, made.form, kept, "what the stack gave"),
                (loss, "waste", grams - kept, "share of the wood"),
            ]
        moves += becomes(gone, parts)
    return moves
