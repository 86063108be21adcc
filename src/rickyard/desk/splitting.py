"""Splitting sheets: how thick the rounds of a load may be split to be dry by a day, and into what; work that is timed.

The greatest thickness comes from `season.backwards` by way of the same question that plans ahead
(`desk.answers.Plan`); `cut.split_round` makes the pattern. Neither moves wood.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard import season
from rickyard.book import next_number
from rickyard.book.models import COVERS, EXPOSURES, CutSheet, Load, SplittingSheet, WorkSession
from rickyard.book.sheet_tables import WORK_STEPS
from rickyard.cut import SplitPlan, has_tight_bark, sound_stretches, split_round
from rickyard.cut.hours import SPLITTING, find_method
from rickyard.cut.split import FIREBOX_M, HAND_M, THICKNESS_M
from rickyard.desk.answers import Plan
from rickyard.desk.checks import EARLIEST, PIECE_LENGTH_M, day_between, one_of, some_text, within
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.cutting import cuts_of, log_of, measured_log
from rickyard.desk.wood_in import find_load, unknown_load
from rickyard.errors import InputError
from rickyard.season.backwards import ODDS as ODDS_ASKED
from rickyard.text import T_
from rickyard.wood import find_species

ROUND_D_M = (0.03, 2.5)
CLASS_M = 0.05
"""Rounds whose diameters differ by less are split alike; the thickest of a class says how."""
MOST_CLASSES = 12
SAME_LENGTH_M = 0.02
MOST_DAYS = 800
START_M = 0.12
"""Thickness of the pieces that the question of dates is asked for; that of the greatest thickness does not use it."""


@dataclass(frozen=True, kw_only=True)
class MakeSplittingSheet(Command):
    """How thick to split the rounds of one wood of a load.

    `diameters_m`: the rounds as somebody looked at them; none said: as the load's logs or its cut sheet give them.
    `firebox_m`: the greatest distance across a piece; `hand_m`: the greatest thickness by the ruler.
    """

    load_id: int
    species: str
    piece_length_m: float
    stacked_on: date
    wanted_by: date
    odds: float = 0.9
    cover: str = "top"
    exposure: str = "normal"
    diameters_m: tuple[float, ...] = ()
    firebox_m: float | None = None
    hand_m: float | None = None
    knotty: bool = False
    method: str = "hydraulic_splitter"
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class ReckonSplittingSheet(Command):
    """Puts the greatest thickness, and what it makes of the rounds, into a sheet that waits for it."""

    sheet_id: int


@dataclass(frozen=True, kw_only=True)
class TimeWork(Command):
    """Work that was timed. One of `cords` (ranked, of 128 ft³) and `solid_m3`; hours of all who worked.

    `step`: sawing, splitting, stacking, loading or delivering. `method`: how it was split; empty for the others.
    Of splitting the wood is what was split, without rounds left whole; `thickness_m` is how thick its splits were,
    if that is not as the sheet says.
    """

    step: str = SPLITTING
    method: str = ""
    hours: float
    worked_on: date
    cords: float | None = None
    solid_m3: float | None = None
    pieces: int | None = None
    piece_length_m: float = 0.4064
    thickness_m: float | None = None
    sheet_id: int | None = None
    species: str = ""
    typed: str = ""
    note: str = ""


@dataclass(frozen=True)
class RoundClass:
    """Rounds that are split alike: the thickest of them [m], how many, their solid volume (None: not measured)."""

    diameter_m: float
    rounds: int | None
    solid_m3: float | None


def make_splitting_sheet(desk: Desk, command: MakeSplittingSheet) -> Answer:
    """Makes a sheet; its greatest thickness is reckoned afterwards (`splitting_question`). Answer: sheet_id, number."""
    wood = find_species(command.species, field="species")
    within("piece_length", command.piece_length_m, PIECE_LENGTH_M, "m")
    within("odds", command.odds, ODDS_ASKED, "")
    one_of("cover", command.cover, COVERS)
    one_of("exposure", command.exposure, EXPOSURES)
    for field, value, allowed in (
        ("firebox", command.firebox_m, FIREBOX_M),
        ("hand", command.hand_m, HAND_M),
    ):
        if value is not None:
            within(field, value, allowed, "m")
    for diameter in command.diameters_m:
        within("diameters", diameter, ROUND_D_M, "m")
    method = find_method(command.method).id
    note = some_text("note", command.note, 300, needed=False)
    _days(desk.today(), command.stacked_on, command.wanted_by)

    def run(stage: Stage) -> Answer:
        load = find_load(stage, command.load_id)
        found, measured = _classes(stage.session, load, wood.id, command)
        sheet = SplittingSheet(
            yard_id=stage.yard.id,
            deed_id=stage.deed.id,
            load_id=load.id,
            number=next_number(stage.session, stage.yard.id, "splitting_sheet"),
            species_id=wood.id,
            piece_length_m=command.piece_length_m,
            stacked_on=command.stacked_on,
            wanted_by=command.wanted_by,
            odds=command.odds,
            target_mc_wet=stage.yard.target_mc_wet,
            cover=command.cover,
            exposure=command.exposure,
            firebox_m=command.firebox_m,
            hand_m=command.hand_m,
            knotty=command.knotty,
            method=method,
            measured=measured,
            rounds=[one.__dict__ for one in found],
            patterns=[],
            note=note,
        )
        stage.session.add(sheet)
        stage.session.flush()
        return {"sheet_id": sheet.id, "number": sheet.number}

    return do(desk, "make_splitting_sheet", command, run)


def splitting_question(desk: Desk, sheet_id: int) -> Plan | None:
    """The question of a sheet that waits for its greatest thickness; None if it has it."""
    with desk.book.read() as session:
        sheet = find_splitting_sheet(session, desk.yard_id, sheet_id)
        if sheet.state != "waiting":
            return None
        yard = desk.yard(session)
        pieces = season.Pieces(
            species_id=sheet.species_id,
            form="split",
            length_m=sheet.piece_length_m,
            thickness_m=START_M,
            cover=sheet.cover,
            exposure=sheet.exposure,
            stacked_on=sheet.stacked_on,
        )
        # The day it was made stands for today, so that the question stays the same while it is worked out.
        made_on = sheet.deed.happened_at.date()
        return Plan(
            yard.climate_place,
            yard.seed,
            pieces,
            sheet.target_mc_wet,
            sheet.wanted_by,
            sheet.odds,
            made_on,
        )


def reckon_splitting_sheet(
    desk: Desk, command: ReckonSplittingSheet, found: season.Backwards | None = None
) -> Answer:
    """Puts in what was found, and how each class of round is split. Answer: sheet_id, state, limit_m.

    `found`: the limits that the question gave; else they are reckoned here, in seconds.
    """
    question = splitting_question(desk, command.sheet_id)
    if question is not None and found is None:
        _, found = question.answer()

    def run(stage: Stage) -> Answer:
        sheet = find_splitting_sheet(stage.session, stage.yard.id, command.sheet_id)
        if sheet.state == "waiting" and found is not None:
            limit = found.thickness
            sheet.state, sheet.limit_m, sheet.limit_odds = limit.state, limit.thickness_m, limit.odds
            sheet.model = found.model
            sheet.patterns = [_pattern(sheet, float(one["diameter_m"])) for one in sheet.rounds]
        return {"sheet_id": sheet.id, "state": sheet.state, "limit_m": sheet.limit_m}

    return do(desk, "reckon_splitting_sheet", command, run)


def time_work(desk: Desk, command: TimeWork) -> Answer:
    """Keeps hours that were timed; they teach the yard's own hours of the step, and pieces a cord. Answer: session_id.

    A report: it is taken for a sheet that was set aside and for a day long past alike.
    """
    one_of("step", command.step, WORK_STEPS)
    step, method = command.step, ""
    if step == SPLITTING:
        method = find_method(command.method).id
    elif command.method.strip():
        raise InputError(
            "method",
            wanted=T_("a way of splitting for splitting only"),
            got=command.method,
            next_move=T_("Leave it empty, or note the hours as splitting."),
        )
    within("hours", command.hours, (0.01, 1000.0), "h")
    within("piece_length", command.piece_length_m, PIECE_LENGTH_M, "m")
    if command.thickness_m is not None:
        if step != SPLITTING:
            raise InputError(
                "piece_thickness",
                wanted=T_("a thickness for splitting only"),
                got=f"{command.thickness_m:g} m",
                next_move=T_("Leave it empty, or note the hours as splitting."),
            )
        within("piece_thickness", command.thickness_m, THICKNESS_M, "m")
    if (command.cords is None) == (command.solid_m3 is None):
        raise InputError(
            "amount_made",
            wanted=T_("cords or solid cubic metres"),
            got=T_("nothing") if command.cords is None else T_("both"),
            next_move=T_("Say how much wood it made, in one of them."),
        )
    if command.cords is not None:
        within("amount_made", command.cords, (0.01, 1000.0), "cords")
    if command.solid_m3 is not None:
        within("amount_made", command.solid_m3, (0.01, 4000.0), "m³")
    if command.pieces is not None:
        within("pieces_made", command.pieces, (1, 1_000_000), "")
    wood = find_species(command.species, field="species").id if command.species.strip() else None
    note, typed = (
        some_text("note", command.note, 300, needed=False),
        some_text("amount_made", command.typed, 40, needed=False),
    )

    def run(stage: Stage) -> Answer:
        day = stage.day_said(command.worked_on)
        day_between("worked_on", day, EARLIEST, stage.last_day)
        sheet = None
        if command.sheet_id is not None:
            sheet = find_splitting_sheet(stage.session, stage.yard.id, command.sheet_id)
        row = WorkSession(
            yard_id=stage.yard.id,
            deed_id=stage.deed.id,
            sheet_id=None if sheet is None else sheet.id,
            species_id=wood or (None if sheet is None else sheet.species_id),
            step=step,
            method=method,
            worked_on=day,
            cords=command.cords,
            solid_m3=command.solid_m3,
            piece_length_m=command.piece_length_m,
            thickness_m=command.thickness_m,
            hours=command.hours,
            pieces=command.pieces,
            typed=typed,
            note=note,
        )
        stage.session.add(row)
        stage.session.flush()
        return {"session_id": row.id}

    return do(desk, "time_work", command, run)


def find_splitting_sheet(session: Session, yard_id: int, sheet_id: int) -> SplittingSheet:
    sheet = session.get(SplittingSheet, sheet_id)
    if sheet is None or sheet.yard_id != yard_id:
        raise InputError(
            "splitting_sheet",
            wanted=T_("a splitting sheet of this yard"),
            got=sheet_id,
            next_move=T_("Choose it from the list."),
            code="unknown_splitting_sheet",
        )
    return sheet


def split_of(sheet: SplittingSheet, diameter_m: float) -> SplitPlan:
    """How a round is split by a sheet; InputError if no pattern keeps its limits."""
    assert sheet.limit_m is not None
    return _split(diameter_m, sheet.limit_m, sheet.firebox_m, sheet.hand_m, has_tight_bark(sheet.species_id))


@lru_cache(maxsize=1024)
def _split(
    diameter_m: float, limit_m: float, firebox_m: float | None, hand_m: float | None, tight_bark: bool
) -> SplitPlan:
    """Once: a sheet that is looked at again by the splitter is split alike."""
    return split_round(diameter_m, limit_m, firebox_m=firebox_m, hand_m=hand_m, tight_bark=tight_bark)


def rounds_of(
    session: Session, load: Load, species_id: str, piece_length_m: float
) -> list[tuple[float, float]]:
    """(diameter, solid volume) of the rounds of one wood of a load [m, m³]: by its cut sheets where they have pieces
    of that length, else by its measured logs cut all along their sound
    stretches."""
    made: list[tuple[float, float]] = []
    for sheet in session.scalars(select(CutSheet).where(CutSheet.load_id == load.id)):
        for row in sheet.logs:
            if row.species_id not in ("", species_id):
                continue
            log = log_of(row)
            made += [
                (log.diameter_m((cut.from_m + cut.to_m) / 2.0), cut.solid_m3)
                for cut in cuts_of(row)
                if abs(cut.to_m - cut.from_m - piece_length_m) <= SAME_LENGTH_M
            ]
    if made:
        return made
    for piece in load.logs:
        if piece.species_id != species_id:
            continue
        log = measured_log(piece).log
        for begin, stop in sound_stretches(log, 0.0):
            for place in range(int((stop - begin) / piece_length_m)):
                start, end = begin + place * piece_length_m, begin + (place + 1) * piece_length_m
                made.append((log.diameter_m((start + end) / 2.0), log.volume_m3(start, end)))
    return made


def round_classes(rounds: Sequence[tuple[float, float]]) -> list[RoundClass]:
    """Classes of round, the thinnest first; wider ones where there would be too many."""
    width = CLASS_M
    while True:
        found: dict[int, list[tuple[float, float]]] = {}
        for diameter, solid in rounds:
            found.setdefault(math.ceil(diameter / width - 1e-9), []).append((diameter, solid))
        if len(found) <= MOST_CLASSES:
            break
        width *= 2.0
    return [
        RoundClass(round(max(d for d, _ in some), 4), len(some), round(sum(m3 for _, m3 in some), 4))
        for _, some in sorted(found.items())
    ]


def classes_of_load(desk: Desk, load_id: int, species_id: str, piece_length_m: float) -> list[RoundClass]:
    """What a sheet would be made for if no diameters are said."""
    with desk.book.read() as session:
        load = session.get(Load, load_id)
        if load is None or load.yard_id != desk.yard_id:
            raise unknown_load(load_id)
        return round_classes(rounds_of(session, load, species_id, piece_length_m))


def mean_thickness_m(patterns: Sequence[dict[str, Any]], rounds: Sequence[dict[str, Any]]) -> float | None:
    """Mean over the wood of all classes; classes that nobody measured count alike. None if nothing can be split."""
    known = [
        (float(pattern["mean_m"]), float(one["solid_m3"] or 1.0))
        for pattern, one in zip(patterns, rounds, strict=True)
        if "problem" not in pattern
    ]
    whole = sum(weight for _, weight in known)
    return sum(mean * weight for mean, weight in known) / whole if whole else None


def _classes(
    session: Session, load: Load, species_id: str, command: MakeSplittingSheet
) -> tuple[list[RoundClass], bool]:
    if command.diameters_m:
        sizes = sorted({round(diameter, 4) for diameter in command.diameters_m})
        if len(sizes) > MOST_CLASSES:
            raise InputError(
                "diameters",
                wanted=T_("at most {most} sizes of round", most=MOST_CLASSES),
                got=str(len(sizes)),
                next_move=T_("Give one size for rounds that are about as thick."),
            )
        return [RoundClass(size, None, None) for size in sizes], False
    found = round_classes(rounds_of(session, load, species_id, command.piece_length_m))
    if not found:
        raise InputError(
            "diameters",
            wanted=T_("diameters of the rounds, for none of that wood is measured in this load"),
            got=T_("nothing"),
            next_move=T_("Look at the rounds and give their sizes, such as 8; 12; 16."),
        )
    return found, True


def _pattern(sheet: SplittingSheet, diameter_m: float) -> dict[str, Any]:
    if sheet.state == "never":
        return {"problem": "never"}
    try:
        plan = split_of(sheet, diameter_m)
    except InputError as error:
        # The round is too thick, too thin or the limits are too tight for any pattern; the sheet says so.
        return {"problem": str(error)}
    return {
        "pattern": plan.pattern.id,
        "pieces": len(plan.pieces),
        "mean_m": plan.thickness_mean_m,
        "max_m": plan.thickness_max_m,
    }


def _days(today: date, stacked_on: date, wanted_by: date) -> None:
    for field, day in (("stacked_on", stacked_on), ("wanted_by", wanted_by)):
        if abs((day - today).days) > MOST_DAYS:
            raise InputError(
                field,
                wanted=T_("a day within two years of today"),
                got=day.isoformat(),
                next_move=T_("Give a nearer day."),
            )
    if wanted_by <= stacked_on:
        raise InputError(
            "wanted_by",
            wanted=T_("a day after the stacking"),
            got=wanted_by.isoformat(),
            next_move=T_("Give a later day."),
        )
