"""Wood is named: later than it came in, from what was seen of the tree, and set right when the tree is known."""

from __future__ import annotations

from dataclasses import dataclass

from rickyard.book import Move, StockKey, post, stock
from rickyard.book.models import Load, Naming, NamingTruth
from rickyard.book.naming_tables import CONFIRMED_HOW
from rickyard.desk.checks import one_of, some_text, within
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.seen import MOST_NOTE, Seen, checked_seen, keep
from rickyard.desk.spots import yard_spot
from rickyard.desk.wood_in import find_load
from rickyard.errors import InputError, UnknownNameError
from rickyard.identify import KeySpecies, the_key
from rickyard.text import T_
from rickyard.wood import Species, find_species, get_species


@dataclass(frozen=True, kw_only=True)
class NameWood(Command):
    """Wood of a load turns out to be another species than the book says (usually: than "not named yet").

    All of that wood, or only some logs of it by number, or a share of it. `was` may be empty where only the load is
    known: what in it has no species' name is meant, as it is when the deed is done. `seen`: what was seen of the tree,
    kept with it; or `naming_id`: a record that was kept before.
    """

    load_id: int
    was: str
    now: str
    logs: tuple[int, ...] = ()
    share: float = 1.0
    seen: Seen | None = None
    naming_id: int | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class KeepSeen(Command):
    """What was seen of a tree is kept, and no wood is named by it: it was not settled, or is of no load yet.

    `was`, `logs`, `share`: which wood of the load it is, for when the tree is known.
    """

    seen: Seen
    load_id: int | None = None
    was: str = ""
    logs: tuple[int, ...] = ()
    share: float = 1.0
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class ConfirmNaming(Command):
    """A named tree is known for sure now: it was right, or is set right.

    `tree`: a species of the key, or "" for a tree that the key does not have. `how`: by its leaves later (`leaf`),
    by the wood when it was split (`wood`), by somebody who knows (`expert`), or it was known all along (`known`).
    With `rename`, what is left of the wood in its load is named anew.
    """

    naming_id: int
    tree: str
    how: str
    by_whom: str = ""
    note: str = ""
    rename: bool = True


@dataclass(frozen=True)
class _Part:
    """Wood of one kind in a load, or a part of it: grams by key, and its solid volume without bark."""

    wood: Species
    grams: dict[StockKey, int]
    volume_m3: float
    logs: tuple[int, ...]


def name_wood(desk: Desk, command: NameWood) -> Answer:
    """Names (or re-names) wood in a load. The volume stays, so the dry mass follows the density.

    Answer: load_id, difference_g, named (whether any wood was left to name), naming_id (None without what was seen).
    A report with what was seen is kept although nothing of that wood is left; without, it is refused.
    """
    was = find_species(command.was, field="was") if command.was else None
    now = find_species(command.now, field="now")
    _share(command.share)
    seen = checked_seen(command.seen) if command.seen else None
    with_record = seen is not None or command.naming_id is not None
    if seen is not None and command.naming_id is not None:
        raise InputError(
            "naming",
            wanted=T_("what was seen, or the number of a record that is kept"),
            got=T_("both"),
            next_move=T_("Send one of them."),
        )
    if was is not None and was.id == now.id and not with_record:
        raise InputError(
            "now",
            wanted=T_("another kind of wood than {name}", name=was.names),
            got=T_("{name}", name=now.names),
            next_move=T_("Choose what the wood turned out to be."),
        )

    def run(stage: Stage) -> Answer:
        load = find_load(stage, command.load_id)
        row = keep(stage, seen, load=load, note=command.note) if seen else None
        if command.naming_id is not None:
            row = _unused(find_naming(stage, command.naming_id))
            row.load_id = load.id
        wood = was or _without_name(stage, load, must=row is None)
        part = _part(stage, load, wood, command.logs, command.share, must=row is None) if wood else None
        named = part is not None and bool(part.grams) and part.wood.id != now.id
        difference = _rename(stage, load, part, now) if part and named else 0
        if row is not None and part is not None:
            _of_part(row, part, command.logs)
            row.booked_as = now.id if named else None
        return {
            "load_id": load.id,
            "difference_g": difference,
            "named": named,
            "naming_id": row.id if row else None,
        }

    return do(desk, "name_wood", command, run)


def keep_seen(desk: Desk, command: KeepSeen) -> Answer:
    """Keeps what was seen, with its load if that is known. Answer: naming_id, load_id (None: no load yet)."""
    seen = checked_seen(command.seen)
    _share(command.share)
    was = find_species(command.was, field="was") if command.was else None
    if command.load_id is None and (was or command.logs):
        raise InputError(
            "load",
            wanted=T_("the load that the wood lies in"),
            got=T_("nothing"),
            next_move=T_("Choose the load too."),
        )

    def run(stage: Stage) -> Answer:
        load = None if command.load_id is None else find_load(stage, command.load_id)
        row = keep(stage, seen, load=load, note=command.note)
        if load is not None and was is not None:
            part = _part(stage, load, was, command.logs, command.share, must=False)
            _of_part(row, part, command.logs)
        return {"naming_id": row.id, "load_id": row.load_id}

    return do(desk, "keep_seen", command, run)


def confirm_naming(desk: Desk, command: ConfirmNaming) -> Answer:
    """Writes what a named tree turned out to be; what is left of its wood in the load follows.

    Answer: naming_id, load_id, named (whether wood was named anew), difference_g.
    """
    one_of("how", command.how, CONFIRMED_HOW)
    by_whom = some_text("by_whom", command.by_whom, 120, needed=False)
    note = some_text("note", command.note, MOST_NOTE, needed=False)
    tree = _tree(command.tree) if command.tree else None

    def run(stage: Stage) -> Answer:
        row = find_naming(stage, command.naming_id)
        stage.session.add(
            NamingTruth(
                yard_id=stage.yard.id,
                naming_id=row.id,
                deed_id=stage.deed.id,
                key_id=tree.key_id if tree else None,
                how=command.how,
                by_whom=by_whom,
                note=note,
            )
        )
        difference = _set_right(stage, row, tree.wood) if command.rename and tree else None
        return {
            "naming_id": row.id,
            "load_id": row.load_id,
            "named": difference is not None,
            "difference_g": difference or 0,
        }

    return do(desk, "confirm_naming", command, run)


def find_naming(stage: Stage, naming_id: int) -> Naming:
    row = stage.session.get(Naming, naming_id)
    if row is None or row.yard_id != stage.yard.id:
        raise unknown_naming(naming_id)
    return row


def unknown_naming(naming_id: int) -> InputError:
    return InputError(
        "naming",
        wanted=T_("a named tree of this yard"),
        got=naming_id,
        next_move=T_("Choose it from the list of named trees."),
        code="unknown_naming",
    )


def _unused(row: Naming) -> Naming:
    if row.load_id is not None:
        raise InputError(
            "naming",
            wanted=T_("a record that belongs to no load yet"),
            got=T_("one that does"),
            next_move=T_("Open the load; what was seen stands there."),
            code="naming_used",
        )
    return row


def _tree(name: str) -> KeySpecies:
    tree = the_key().named(name)
    if tree is None:
        raise UnknownNameError("tree", wanted=T_("a tree of the key"), got=name[:60], nearest=())
    return tree


def _share(share: float) -> None:
    within("share", share, (0.001, 1.0), "")


def _part(
    stage: Stage, load: Load, was: Species, logs: tuple[int, ...], share: float, *, must: bool
) -> _Part:
    """Which wood is meant, as far as it is still there: those logs, or that share, of what the book calls `was`."""
    held = {
        key: grams
        for key, grams in stock(stage.session, load.spot_id).items()
        if key.species_id == was.id and grams > 0
    }
    if not held and must:
        raise InputError(
            "was",
            wanted=T_("a kind of wood that is still in this load"),
            got=T_("{name}", name=was.names),
            next_move=T_("Open the load and choose from its list."),
        )
    volumes = {log.number: log.volume_m3 for log in load.logs if log.species_id == was.id}
    chosen = tuple(number for number in sorted(set(logs)) if number in volumes)
    if logs:
        lost = sorted(set(logs) - set(volumes))
        if must and lost:
            raise InputError(
                "logs",
                wanted=T_("logs that are in the book as {name}", name=was.names),
                got=", ".join(str(number) for number in lost),
                next_move=T_("Open the load and choose from its logs."),
            )
        # Logs without sound wood are wood of nothing.
        whole = sum(volumes.values())
        share = sum(volumes[number] for number in chosen) / whole if whole else 0.0
    elif share == 1.0:
        chosen = tuple(volumes)
    taken = {key: round(grams * share) for key, grams in held.items()}
    stem = sum(grams for key, grams in taken.items() if key.form != "bark")
    volume = stem / 1000 / was.basic_density_kg_m3
    return _Part(was, {key: grams for key, grams in taken.items() if grams}, volume, chosen)


def _without_name(stage: Stage, load: Load, *, must: bool) -> Species | None:
    """The wood of a load that has no species' name yet: what is quite unnamed goes before a group or a genus."""
    held = {key.species_id for key, grams in stock(stage.session, load.spot_id).items() if grams > 0}
    wide = [wood for wood in map(get_species, sorted(held)) if wood.rank != "species"]
    found = [wood for wood in wide if wood.rank == "unnamed"] or wide
    if len(found) == 1 or not (found or must):
        return found[0] if found else None
    raise InputError(
        "load",
        wanted=T_("a load with one kind of wood that is not named yet"),
        got=T_("{names}", names=[wood.names for wood in found]) if found else T_("nothing"),
        next_move=T_("Open the load and choose from its list."),
    )


def _of_part(row: Naming, part: _Part, logs: tuple[int, ...]) -> None:
    """Which wood a record is of; logs as they were told, though they be named otherwise by now."""
    row.booked_was = part.wood.id
    row.logs = sorted(set(logs)) or list(part.logs)
    row.volume_m3 = part.volume_m3


def _rename(stage: Stage, load: Load, part: _Part, now: Species) -> int:
    """Posts that this wood is another; how much heavier it is for it [g]."""
    was = part.wood
    outside = yard_spot(stage.session, stage.yard.id, "outside")
    moves: list[Move] = []
    difference = 0
    for key, grams in part.grams.items():
        per_bark = key.form == "bark"
        old = was.bark_basic_density_kg_m3 * was.bark_volume_ratio if per_bark else was.basic_density_kg_m3
        new = now.bark_basic_density_kg_m3 * now.bark_volume_ratio if per_bark else now.basic_density_kg_m3
        fresh = round(grams * new / old)
        difference += fresh - grams
        moves += [
            Move(load.spot_id, was.id, key.form, key.lot_id, -grams, method="named later"),
            Move(outside, was.id, key.form, key.lot_id, grams, method="named later"),
            Move(outside, now.id, key.form, key.lot_id, -fresh, method="named later"),
            Move(
                load.spot_id,
                now.id,
                key.form,
                key.lot_id,
                fresh,
                quantity=grams / 1000 / old,
                unit="solid_m3",
                method="named later",
                sd_share=load.mass_sd_share,
                basic_density_kg_m3=new,
            ),
        ]
    post(
        stage.session,
        stage.yard.id,
        kind="name",
        happened_at=stage.happened_at,
        recorded_at=stage.recorded_at,
        moves=moves,
        reason=f"{was.id} is {now.id}",
        deed_id=stage.deed.id,
    )
    for log in load.logs:
        if log.number in part.logs:
            log.species_id = now.id
    return difference


def _set_right(stage: Stage, row: Naming, now: Species) -> int | None:
    """Names what is left of a record's wood anew; None if there is nothing to name."""
    booked = row.booked_as or row.booked_was
    if row.load_id is None or booked is None or booked == now.id:
        return None
    load = find_load(stage, row.load_id)
    was = get_species(booked)
    logs = tuple(int(number) for number in row.logs)
    part = _part(stage, load, was, logs, 1.0 if logs else _left_of(stage, load, row, was), must=False)
    if not part.grams:
        return None
    row.booked_as = now.id
    return _rename(stage, load, part, now)


def _left_of(stage: Stage, load: Load, row: Naming, was: Species) -> float:
    """The share of a load's wood of one kind that a record is of: by its volume, of which what was cut went evenly."""
    grams = stock(stage.session, load.spot_id)
    held = sum(grams for key, grams in grams.items() if key.species_id == was.id and key.form != "bark")
    if held <= 0 or not row.volume_m3:
        return 0.0
    left = row.volume_m3 * _share_left(stage, load, row)
    return min(1.0, left / (held / 1000 / was.basic_density_kg_m3))


def _share_left(stage: Stage, load: Load, row: Naming) -> float:
    """What is left of a load's wood since a record was made, as a share of what there was then."""
    then = stock(stage.session, load.spot_id, at=row.deed.happened_at)
    now = stock(stage.session, load.spot_id)
    whole, left = (sum(grams for key, grams in there.items() if key.form != "bark") for there in (then, now))
    return min(1.0, left / whole) if whole > 0 else 1.0
