"""A list of stacks that stood before the book began: each becomes opening stock, once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book.models import Stack, StackMeasure, Yard
from rickyard.desk.checks import EARLIEST, PIECE_LENGTH_M, STACK_HEIGHT_M, STACK_SIDE_M, THICKNESS_M
from rickyard.desk.lists.columns import column
from rickyard.desk.lists.lines import Line, Reader
from rickyard.desk.lists.planned import Fact, How, PlannedLine
from rickyard.desk.mixes import read_mix
from rickyard.desk.stacking import Dimensions, OpeningStack, PiecesFacts, taking_opening
from rickyard.desk.wood_in import Harvest
from rickyard.errors import InputError
from rickyard.measure import stack_measure
from rickyard.measure.listing import TextRow
from rickyard.measure.units import FT_M
from rickyard.rules import find_place
from rickyard.show.symbols import fold
from rickyard.text import T_, Text

# A cord's row is 4 ft high: taken where the list says a volume alone.
USUAL_HEIGHT_M = 4 * FT_M
# Longer than this, a volume alone is taken as several rows one behind the other.
LONGEST_ROW_M = 30.0
# How far a volume and the sides may differ: they were measured in different units, or rounded.
VOLUME_TOLERANCE = 0.05

_NAMES = {"shares": "wood", "species": "wood", "country": "harvest", "subdivision": "harvest"}


@dataclass(frozen=True)
class _Outside:
    sides: Dimensions
    note: Text | None = None
    note_kept: str = ""


def plan(reader: Reader, rows: Sequence[TextRow], session: Session, yard: Yard) -> list[PlannedLine]:
    """What each line becomes. A stack that the book has just so is passed over; one that differs is complained of."""
    stacks = {
        fold(stack.name): stack for stack in session.scalars(select(Stack).where(Stack.yard_id == yard.id))
    }
    seen: dict[str, int] = {}
    planned: list[PlannedLine] = []
    for row in rows:
        line = Line(reader, row)
        name = line.needed("name", T_("a name for the stack"), T_("Name it, or take the line out."))
        line.once(
            name, seen, lambda first: T_("Line {line} has it too; give this stack another name.", line=first)
        )
        command, outside = _command(line, name, yard)
        if command is None or outside is None:
            continue
        found = _planned(line, session, command, outside, stacks.get(fold(name)))
        if found is not None:
            planned.append(found)
    return planned


def _command(line: Line, name: str, yard: Yard) -> tuple[OpeningStack | None, _Outside | None]:
    shares: tuple[tuple[str, float], ...] = ()
    wood = line.needed("wood", T_("which wood it is"), T_("Write the names, or: not named yet."))
    if wood:
        try:
            shares = read_mix(wood, "wood")
        except InputError as error:
            line.complain("wood", error.wanted, wood[:80], error.next_move)
    piece_m = line.length("piece_length", *PIECE_LENGTH_M)
    thick_m = line.length("thickness", *THICKNESS_M)
    day = line.day("stacked_on", EARLIEST)
    for fact, wanted in (
        ("piece_length", T_("a length such as 16 in or 40 cm")),
        ("thickness", T_("a thickness such as 5 in or 12 cm")),
        ("stacked_on", T_("the day it was stacked")),
    ):
        line.needed(fact, wanted, T_("Fill in the cell; a rough figure will do."))
    kind, form = line.choice("kind"), line.choice("form")
    bark = line.yes("bark")
    cover, exposure, ground = line.choice("cover"), line.choice("exposure"), line.choice("ground")
    moisture = line.moisture("start_moisture", 0.05, 0.75)
    harvest = _harvest(line)
    outside, kind = _outside(line, piece_m, kind)
    if (
        not line.sound
        or harvest is None
        or outside is None
        or piece_m is None
        or thick_m is None
        or day is None
    ):
        return None, None
    pieces = PiecesFacts(
        name=name,
        kind=kind,
        form=form or "split",
        piece_length_m=piece_m,
        thickness_m=thick_m,
        bark=bark is not False,
        cover=cover or "top",
        exposure=exposure or "normal",
        ground=ground or "raised",
        stacked_on=day,
        start_mc_wet=moisture,
        row_label=line.said("row"),
        note="; ".join(filter(None, (line.said("note"), outside.note_kept))),
    )
    return OpeningStack(key="", shares=shares, harvest=harvest, pieces=pieces, outside=outside.sides), outside


def _harvest(line: Line) -> Harvest | None:
    said = line.said("harvest") or line.reader.asked.harvest
    if not said:
        line.complain(
            "harvest",
            T_("where the trees stood, such as CA-NB or New Brunswick"),
            T_("nothing"),
            T_("Add the column, or say it for all lines of the list."),
        )
        return None
    try:
        code = find_place(said).code.split("-")
    except InputError as error:
        line.complain("harvest", error.wanted, said[:80], error.next_move)
        return None
    return Harvest(
        country=code[0],
        subdivision=code[1] if len(code) > 1 else "",
        county=line.said("county"),
        certificate=line.said("certificate"),
    )


def _outside(line: Line, piece_m: float | None, kind: str | None) -> tuple[_Outside | None, str]:
    """The outside as measured, or made from a volume; and how it is piled where only the volume tells."""
    before = len(line.reader.problems)
    length_m = line.length("length", *STACK_SIDE_M)
    heights_m = line.lengths("height", *STACK_HEIGHT_M)
    rows = line.count("rows", 1, 40)
    volume = line.volume("volume", loose=kind in ("heap", "bin"))
    if kind is None:
        kind = "heap" if volume is not None and volume.unit.startswith("loose") else "stack"
    if len(line.reader.problems) > before:
        return None, kind
    if volume is not None and volume.unit.startswith("loose") != (kind != "stack"):
        line.complain(
            "volume",
            T_("loose m³ or loose ft³ for what lies loose, cords or stacked m³ for a stack"),
            volume.typed,
            T_("Check how it is piled, and the unit of the volume."),
        )
        return None, kind
    if volume is None:
        if length_m is None or not heights_m:
            missing = "length" if length_m is None else "height"
            line.complain(
                missing,
                T_("length and height, or a volume with its unit"),
                T_("nothing"),
                T_("Measure the outside; a volume such as 2 cords will do."),
            )
            return None, kind
        return _Outside(Dimensions(length_m=length_m, heights_m=heights_m, rows=rows or 1)), kind
    if piece_m is None:
        return None, kind
    return _made_from(line, volume.m3, volume.typed, (length_m, heights_m, rows), piece_m), kind


def _made_from(
    line: Line,
    m3: float,
    typed: str,
    said: tuple[float | None, tuple[float, ...], int | None],
    piece_m: float,
) -> _Outside | None:
    """Sides that hold a volume: what is not said of them is made so that it comes out."""
    length_m, heights_m, rows = said
    face_m2 = m3 / piece_m / (rows or 1)
    if length_m is not None and heights_m:
        made = length_m * sum(heights_m) / len(heights_m) * piece_m * (rows or 1)
        if abs(made - m3) > VOLUME_TOLERANCE * m3:
            line.complain(
                "volume",
                T_("the {made:.2f} m³ that length, height, rows and pieces come to", made=made),
                typed,
                T_("Correct one of them, or leave the volume empty."),
            )
            return None
        return _Outside(Dimensions(length_m=length_m, heights_m=heights_m, rows=rows or 1))
    if length_m is not None:
        heights_m = (face_m2 / length_m,)
    else:
        height_m = sum(heights_m) / len(heights_m) if heights_m else USUAL_HEIGHT_M
        if rows is None:
            rows = max(1, math.ceil(face_m2 / height_m / LONGEST_ROW_M))
            face_m2 = m3 / piece_m / rows
        length_m, heights_m = face_m2 / height_m, heights_m or (height_m,)
    if length_m < STACK_SIDE_M[0]:
        # A little wood is no row of 4 ft: it is a low one.
        length_m, heights_m = STACK_SIDE_M[0], (face_m2 / STACK_SIDE_M[0],)
    if not (length_m <= STACK_SIDE_M[1] and STACK_HEIGHT_M[0] <= heights_m[0] <= STACK_HEIGHT_M[1]):
        line.complain(
            "volume",
            T_("a volume that a stack can have with what else is said of it"),
            typed,
            T_("Say its length and height, or its rows."),
        )
        return None
    note = T_("The list says {volume}; sides that it does not say are made to hold that.", volume=typed)
    sides = Dimensions(length_m=length_m, heights_m=tuple(heights_m), rows=rows or 1)
    return _Outside(sides, note, typed)


def _planned(
    line: Line, session: Session, command: OpeningStack, outside: _Outside, known: Stack | None
) -> PlannedLine | None:
    try:
        run = taking_opening(command)
    except InputError as error:
        line.complain_of(error, _NAMES)
        return None
    if not line.sound:
        return None
    facts, notes = _facts(command), (outside.note,) if outside.note is not None else ()
    if known is None:
        return PlannedLine(line.number, "new", command.pieces.name, facts, None, notes, run)
    if _is_same(session, known, command):
        return PlannedLine(line.number, "same", known.name, facts, known.id)
    line.complain(
        "name",
        T_("a stack that the book does not have, or has just so"),
        known.name,
        T_(
            "Give it another name; if it is that stack, measure or move it on its page and take the line out."
        ),
    )
    return None


def _is_same(session: Session, known: Stack, command: OpeningStack) -> bool:
    """Whether the book has this stack as the line says it: taken in by an earlier sending, as a rule."""
    first = session.scalar(
        select(StackMeasure).where(StackMeasure.stack_id == known.id).order_by(StackMeasure.id).limit(1)
    )
    pieces, sides = command.pieces, command.outside
    figures = [(known.piece_length_m, pieces.piece_length_m), (known.thickness_m, pieces.thickness_m)]
    if first is None or len(first.heights_m) != len(sides.heights_m):
        return False
    figures += [(first.length_m, sides.length_m), *zip(first.heights_m, sides.heights_m, strict=True)]
    return (
        all(abs(one - other) < 1e-6 for one, other in figures)
        and (known.kind, known.form, known.stacked_on) == (pieces.kind, pieces.form, pieces.stacked_on)
        and first.rows == sides.rows
    )


def _facts(command: OpeningStack) -> tuple[Fact, ...]:
    pieces, sides, harvest = command.pieces, command.outside, command.harvest
    outside = stack_measure(
        sides.length_m,
        sides.heights_m,
        pieces.piece_length_m,
        piled="ranked" if pieces.kind == "stack" else "loose",
        rows=sides.rows,
    )
    rows: tuple[tuple[str, object, How, str], ...] = (
        ("wood", command.shares, "shares", ""),
        ("kind", pieces.kind, "word", "kind"),
        ("form", pieces.form, "word", "form"),
        ("piece_length", pieces.piece_length_m, "length", ""),
        ("thickness", pieces.thickness_m, "thickness", ""),
        ("length", sides.length_m, "side", ""),
        ("height", sides.heights_m, "sides", ""),
        ("rows", sides.rows, "count", ""),
        ("volume", (outside.outside_m3, outside.piled), "volume", ""),
        ("stacked_on", pieces.stacked_on, "day", ""),
        ("cover", pieces.cover, "word", "cover"),
        ("exposure", pieces.exposure, "word", "exposure"),
        ("ground", pieces.ground, "word", "ground"),
        ("bark", pieces.bark, "yes", ""),
        ("start_moisture", pieces.start_mc_wet, "moisture", ""),
        ("row", pieces.row_label, "text", ""),
        (
            "harvest",
            (harvest.country, harvest.subdivision, harvest.county, harvest.certificate),
            "harvest",
            "",
        ),
        ("note", pieces.note, "text", ""),
    )
    shown = []
    for fact, value, how, group in rows:
        item = column("stock", fact)
        assert item is not None
        if value not in (None, ""):
            shown.append(Fact(fact, item.plainly, value, how, group=group))
    return tuple(shown)
