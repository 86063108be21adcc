"""Cut sheets: where to cut a load's logs, what was ticked off, and logs that came out otherwise.

What is ticked off is a report beside the journal: it moves no wood. The journal follows when a stack is made
(`desk.stacking`), with its own kerf and waste, so that nothing is counted twice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book import next_number
from rickyard.book.models import CutFinding, CutSheet, CutSheetLog, CutTick, Load, LogPiece
from rickyard.book.sheet_tables import FOUND_KINDS
from rickyard.cut import Cut, CutLog, CutPlan, Defect, LogPlan, Saw, cut_log, plan_cuts
from rickyard.cut import Ware as CutWare
from rickyard.desk.answers import _Asked
from rickyard.desk.checks import one_of, some_text, within
from rickyard.desk.context import Answer, Command, Desk, Stage, do
from rickyard.desk.loads import load_page
from rickyard.desk.log_lists import row_of
from rickyard.desk.sheet_values import as_kept, netted_wares, planned_values
from rickyard.desk.sheet_wares import AskedWare, SheetWare, asked_ware, ware_row, wares_of
from rickyard.desk.stacking import CHAIN_KERF_M
from rickyard.desk.wood_in import find_load, unknown_load
from rickyard.errors import InputError
from rickyard.text import T_
from rickyard.wood import Species, find_species, get_species
from rickyard.worth import Months

MOST_LOGS = 400
"""Logs of one sheet, as on paper."""

AT_ONCE_LOGS = 60
"""Up to so many are planned while the person waits, about half a second; more are worked out behind (docs/speed.md)."""

SAME_M = 0.001
"""Places on a log that are nearer than a tape shows are one."""

AROUND_M = 0.05
"""What is left out on either side of something found at one place, as a nail. Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class SheetLog:
    """A log that the book does not have: diameters of the wood without bark; `defects` are (from, to, what)."""

    label: str
    length_m: float
    large_d_m: float
    small_d_m: float
    species: str = ""
    defects: tuple[tuple[float, float, str], ...] = ()


@dataclass(frozen=True, kw_only=True)
class MakeCutSheet(Command):
    """Where to cut logs of a load: of its measured ones those in `log_numbers` (none said: all that no other sheet
    has ticked off), or the `logs` given here where the load was taken in roughly.

    `small_cores`: pieces may hold a rotten or hollow core of under half the cut; else they hold no defect at all.
    `within_tolerance`: pieces of what we sell may be as much shorter or longer as the price list allows, where that
    leaves less of a log over; else each is as long as its ware.
    """

    load_id: int
    wares: tuple[SheetWare, ...]
    log_numbers: tuple[int, ...] = ()
    logs: tuple[SheetLog, ...] = ()
    kerf_m: float = CHAIN_KERF_M
    trim_m: float = 0.0
    small_cores: bool = False
    within_tolerance: bool = False
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class PlanCutSheet(Command):
    """Puts the plan into a sheet of many logs, whose plan was not reckoned at once."""

    sheet_id: int


@dataclass(frozen=True, kw_only=True)
class TickOff(Command):
    """A log of a sheet is cut, or one piece of it by its place on the log; with `undo`, it is not after all."""

    sheet_id: int
    log: int
    from_m: float | None = None
    to_m: float | None = None
    undo: bool = False


@dataclass(frozen=True, kw_only=True)
class FoundInLog(Command):
    """A log came out otherwise: this lies in it, and it was cut so far from the thick end. The rest is planned anew.

    Without `to_m` it lies at one place, as a nail does.
    """

    sheet_id: int
    log: int
    kind: str
    from_m: float
    to_m: float | None = None
    cut_to_m: float = 0.0
    note: str = ""


@dataclass(frozen=True)
class CutQuestion(_Asked):
    """The plan of many logs: seconds."""

    logs: tuple[CutLog, ...]
    wares: tuple[CutWare, ...]
    saw: Saw

    def answer(self) -> CutPlan:
        return plan_cuts(self.logs, self.wares, self.saw)


@dataclass(frozen=True)
class _Row:
    """A log on its way into a sheet."""

    log: CutLog
    log_number: int | None
    mid_only: bool = False


def make_cut_sheet(desk: Desk, command: MakeCutSheet, months: Mapping[str, Months] | None = None) -> Answer:
    """Makes a cut sheet. Answer: sheet_id, number, logs, planned (False: many logs, the plan is still to be reckoned).

    The plan of up to `AT_ONCE_LOGS` logs is reckoned here, before the book is written. `months` to sale by species,
    as far as the drying calendar is known; the usual ones else.
    """
    saw = Saw(
        within("kerf", command.kerf_m, (0.0, 0.05), "m"), within("trim", command.trim_m, (0.0, 2.0), "m")
    )
    note = some_text("note", command.note, 300, needed=False)
    if not command.wares:
        raise InputError(
            "wares",
            wanted=T_("at least one length to cut for"),
            got=T_("none"),
            next_move=T_("Tick what is to be cut, or type a length."),
        )
    with desk.book.read() as session:
        rows = _rows(session, desk.yard_id, command)
        asked = [asked_ware(session, desk.yard_id, ware, command.within_tolerance) for ware in command.wares]
    wares, kept = _valued(desk, command.load_id, rows, asked, months or {})
    plan = None
    if len(rows) <= AT_ONCE_LOGS:
        plan = plan_cuts([row.log for row in rows], wares, saw)

    def run(stage: Stage) -> Answer:
        load = find_load(stage, command.load_id)
        sheet = CutSheet(
            yard_id=stage.yard.id,
            deed_id=stage.deed.id,
            load_id=load.id,
            number=next_number(stage.session, stage.yard.id, "cut_sheet"),
            wares=[
                ware_row(ware, one.ware_id) | more
                for ware, one, more in zip(wares, command.wares, kept, strict=True)
            ],
            kerf_m=saw.kerf_m,
            trim_m=saw.trim_m,
            small_cores=command.small_cores,
            note=note,
        )
        stage.session.add(sheet)
        stage.session.flush()
        for number, row in enumerate(rows, start=1):
            sheet.logs.append(_log_row(stage, sheet, number, row))
        if plan is not None:
            _put_in(sheet, plan)
        stage.session.flush()
        return {
            "sheet_id": sheet.id,
            "number": sheet.number,
            "logs": len(rows),
            "planned": plan is not None,
        }

    return do(desk, "make_cut_sheet", command, run)


def plan_cut_sheet(desk: Desk, command: PlanCutSheet, plan: CutPlan | None = None) -> Answer:
    """Puts the plan into a sheet. Answer: sheet_id, planned. A sheet that has one keeps it.

    `plan`: what `cut_question` gave; else it is reckoned here, in seconds.
    """
    if plan is None:
        question = cut_question(desk, command.sheet_id)
        plan = None if question is None else question.answer()

    def run(stage: Stage) -> Answer:
        sheet = find_sheet(stage.session, stage.yard.id, command.sheet_id)
        if not sheet.method and plan is not None:
            _put_in(sheet, plan)
        return {"sheet_id": sheet.id, "planned": bool(sheet.method)}

    return do(desk, "plan_cut_sheet", command, run)


def tick_off(desk: Desk, command: TickOff) -> Answer:
    """Notes that a log or piece is cut, or is not. Answer: sheet_id, log, done (the whole log).

    A report: taken whatever the book says by now. Of several about one piece the one that happened last counts.
    """

    def run(stage: Stage) -> Answer:
        row = _find_log(stage, command.sheet_id, command.log)
        place = _place(row, command.from_m, command.to_m) if command.from_m is not None else (None, None)
        row.ticks.append(
            CutTick(
                yard_id=stage.yard.id,
                deed_id=stage.deed.id,
                deed=stage.deed,
                kind="undo" if command.undo else "cut",
                from_m=place[0],
                to_m=place[1],
            )
        )
        stage.session.flush()
        return {"sheet_id": command.sheet_id, "log": row.number, "done": state_of(row).done}

    return do(desk, "tick_off", command, run)


def found_in_log(desk: Desk, command: FoundInLog) -> Answer:
    """Notes what was found in a log and plans anew what is not cut of it. Answer: sheet_id, log, pieces, changed.

    Pieces that are ticked off or lie before `cut_to_m` stay, but for those in which the thing lies.
    """
    one_of("found", command.kind, FOUND_KINDS)
    note = some_text("note", command.note, 300, needed=False)

    def run(stage: Stage) -> Answer:
        row = _find_log(stage, command.sheet_id, command.log)
        if command.to_m is None:
            start = within("found_from", command.from_m, (0.0, row.length_m), "m")
            place = (max(0.0, start - AROUND_M), min(row.length_m, start + AROUND_M))
        else:
            place = _place(row, command.from_m, command.to_m)
        within("cut_to", command.cut_to_m, (0.0, row.length_m + SAME_M), "m")
        before = list(row.cuts)
        row.findings.append(
            CutFinding(
                yard_id=stage.yard.id,
                deed_id=stage.deed.id,
                deed=stage.deed,
                kind=command.kind,
                from_m=place[0],
                to_m=place[1],
                cut_to_m=command.cut_to_m,
                note=note,
                cuts_before=before,
            )
        )
        if row.sheet.method:
            row.cuts = _cut_rows(_rest_planned(row))
        stage.session.flush()
        return {
            "sheet_id": command.sheet_id,
            "log": row.number,
            "pieces": len(row.cuts),
            "changed": row.cuts != before,
        }

    return do(desk, "found_in_log", command, run)


def cut_question(desk: Desk, sheet_id: int) -> CutQuestion | None:
    """The question of a sheet whose plan is still to be reckoned; None if it has one."""
    with desk.book.read() as session:
        sheet = find_sheet(session, desk.yard_id, sheet_id)
        if sheet.method:
            return None
        return CutQuestion(
            tuple(log_of(row) for row in sheet.logs), tuple(wares_of(sheet)), Saw(sheet.kerf_m, sheet.trim_m)
        )


def find_sheet(session: Session, yard_id: int, sheet_id: int) -> CutSheet:
    sheet = session.get(CutSheet, sheet_id)
    if sheet is None or sheet.yard_id != yard_id:
        raise InputError(
            "cut_sheet",
            wanted=T_("a cut sheet of this yard"),
            got=sheet_id,
            next_move=T_("Choose it from the list."),
            code="unknown_cut_sheet",
        )
    return sheet


# -- what the rows say -------------------------------------------------------------------------------


def log_of(row: CutSheetLog) -> CutLog:
    """The log with all that is known of it by now: what was planned for and what was found."""
    known = [Defect(float(start), float(end), str(kind)) for start, end, kind in row.defects]
    found = [Defect(one.from_m, one.to_m, one.kind) for one in row.findings]
    return CutLog(row.label, row.length_m, row.large_d_m, row.small_d_m, (*known, *found), row.species_id)


def cuts_of(row: CutSheetLog) -> tuple[Cut, ...]:
    return tuple(
        Cut(float(start), float(end), int(ware), float(solid)) for start, end, ware, solid in row.cuts
    )


def plan_of_log(row: CutSheetLog) -> LogPlan:
    return LogPlan(log_of(row), cuts_of(row))


@dataclass(frozen=True)
class LogState:
    """What is planned for a log and what of it is cut: of the reports about each piece the one that happened last
    counts. A log with nothing to cut is done when somebody said so. `last` is the last report that something was cut,
    if anything still counts as cut."""

    cuts: tuple[Cut, ...]
    pieces_done: tuple[bool, ...]
    done: bool
    last: CutTick | None

    @property
    def solid_m3(self) -> float:
        return sum(cut.solid_m3 for cut in self.cuts)

    @property
    def done_m3(self) -> float:
        return sum(cut.solid_m3 for cut, done in zip(self.cuts, self.pieces_done, strict=True) if done)


def state_of(row: CutSheetLog) -> LogState:
    cuts = cuts_of(row)
    pieces = [False] * len(cuts)
    said, last = False, None
    for tick in sorted(row.ticks, key=lambda tick: (tick.deed.happened_at, tick.deed_id)):
        for place, cut in enumerate(cuts):
            if tick.from_m is None or _same(tick, cut):
                pieces[place] = tick.kind == "cut"
        if tick.from_m is None:
            said = tick.kind == "cut"
        if tick.kind == "cut":
            last = tick
    done = all(pieces) if cuts else said
    return LogState(cuts, tuple(pieces), done, last if done or any(pieces) else None)


def _same(tick: CutTick, cut: Cut) -> bool:
    return (
        tick.from_m is not None
        and tick.to_m is not None
        and abs(tick.from_m - cut.from_m) < SAME_M
        and abs(tick.to_m - cut.to_m) < SAME_M
    )


# -- making and changing them ------------------------------------------------------------------------


def _rest_planned(row: CutSheetLog) -> tuple[Cut, ...]:
    """The pieces of a log that stay, and the best of what is left of it for what the sheet still wants."""
    sheet, state, found = row.sheet, state_of(row), row.findings
    cut_to = max(one.cut_to_m for one in found)
    made = [
        cut
        for cut, done in zip(state.cuts, state.pieces_done, strict=True)
        if done or cut.to_m <= cut_to + SAME_M
    ]
    stay = tuple(
        cut for cut in made if not any(one.from_m < cut.to_m and one.to_m > cut.from_m for one in found)
    )
    reach = max([cut_to, *(cut.to_m for cut in made)])
    log = log_of(row)
    if reach > 0.0:
        off = Defect(0.0, min(log.length_m, reach + sheet.kerf_m), "cut")
        log = CutLog(log.log_id, log.length_m, log.large_d_m, log.small_d_m, (*log.defects, off), log.species)
    elsewhere = [0.0] * len(sheet.wares)
    for other in sheet.logs:
        for cut in stay if other is row else cuts_of(other):
            elsewhere[cut.ware] += cut.solid_m3
    wares = [
        replace(ware, wanted_m3=None if ware.wanted_m3 is None else max(0.0, ware.wanted_m3 - gone))
        for ware, gone in zip(wares_of(sheet), elsewhere, strict=True)
    ]
    return (*stay, *plan_cuts([log], wares, Saw(sheet.kerf_m, sheet.trim_m)).logs[0].cuts)


def _place(row: CutSheetLog, from_m: float, to_m: float | None) -> tuple[float, float]:
    """A stretch of a log, or InputError: beyond its ends nothing was cut or found."""
    end = to_m if to_m is not None else from_m
    within("found_from", from_m, (0.0, row.length_m), "m")
    within("found_to", end, (0.0, row.length_m + SAME_M), "m")
    if end <= from_m:
        raise InputError(
            "found_to",
            wanted=T_("a place farther from the thick end than {start:.2f} m", start=from_m),
            got=f"{end:.2f} m",
            next_move=T_("Measure both from the thick end."),
        )
    return from_m, end


def _find_log(stage: Stage, sheet_id: int, number: int) -> CutSheetLog:
    sheet = find_sheet(stage.session, stage.yard.id, sheet_id)
    row = next((row for row in sheet.logs if row.number == number), None)
    if row is None:
        raise InputError(
            "log",
            wanted=T_(
                "a log of cut sheet {number}, from 1 to {most}", number=sheet.number, most=len(sheet.logs)
            ),
            got=number,
            next_move=T_("Open the sheet and choose the log there."),
            code="unknown_log",
        )
    return row


def _rows(session: Session, yard_id: int, command: MakeCutSheet) -> list[_Row]:
    load = session.get(Load, command.load_id)
    if load is None or load.yard_id != yard_id:
        raise unknown_load(command.load_id)
    if command.logs:
        rows = [_typed_log(log) for log in command.logs]
    else:
        chosen = set(command.log_numbers)
        cut_already = set() if chosen else logs_cut(session, load.id)
        rows = [
            measured_log(log, small_cores=command.small_cores)
            for log in load.logs
            if (log.number in chosen if chosen else log.number not in cut_already)
        ]
        lost = chosen - {log.number for log in load.logs}
        if lost:
            raise InputError(
                "logs",
                wanted=T_("logs of load {number}", number=load.number),
                got=", ".join(str(number) for number in sorted(lost)[:20]),
                next_move=T_("Choose from the load's own logs."),
            )
    if not rows:
        raise InputError(
            "logs",
            wanted=T_("at least one log that is not cut yet"),
            got=T_("none"),
            next_move=T_("Measure the logs, or paste a list of them."),
        )
    if len(rows) > MOST_LOGS:
        raise InputError(
            "log_list" if command.logs else "logs",
            wanted=T_("at most {most} logs on one sheet", most=MOST_LOGS),
            got=str(len(rows)),
            next_move=T_("Split the list, and make a sheet for each part.")
            if command.logs
            else T_("Choose a part of the logs by their numbers, and make a sheet for each part."),
        )
    return rows


def logs_cut(session: Session, load_id: int) -> set[int]:
    """Numbers of a load's logs that are ticked off on its sheets."""
    sheets = session.scalars(select(CutSheet).where(CutSheet.load_id == load_id))
    return {
        row.log_number
        for sheet in sheets
        for row in sheet.logs
        if row.log_number is not None and state_of(row).done
    }


def measured_log(piece: LogPiece, *, small_cores: bool = False) -> _Row:
    """A log as it was measured, without its bark and with its defects. One that was measured in the middle only has
    no taper."""
    log = cut_log(row_of(piece), str(piece.number), small_cores=small_cores)
    return _Row(log, piece.number, mid_only=None in (piece.large_d_m, piece.small_d_m))


def _typed_log(typed: SheetLog) -> _Row:
    species = find_species(typed.species, field="species").id if typed.species.strip() else ""
    log = CutLog(
        some_text("log_id", typed.label, 40),
        typed.length_m,
        typed.large_d_m,
        typed.small_d_m,
        tuple(
            Defect(start, end, some_text("defects", kind, 80, needed=False))
            for start, end, kind in typed.defects
        ),
        species,
    )
    return _Row(log, None)


def _valued(
    desk: Desk,
    load_id: int,
    rows: Sequence[_Row],
    asked: Sequence[AskedWare],
    months: Mapping[str, Months],
) -> tuple[list[CutWare], list[dict[str, Any]]]:
    """The wares with the values to plan by, and what the sheet keeps of the worth of each."""
    woods = _woods(desk, load_id, rows)
    priced = [one.priced for one in asked if one.priced is not None]
    found = iter(netted_wares(desk, priced, woods, months))
    worths = [None if one.priced is None else next(found) for one in asked]
    values = planned_values(worths, [one.value for one in asked])
    wares = [
        CutWare(
            one.name,
            one.length_m,
            value,
            one.told.wanted_m3,
            one.told.min_d_m,
            one.told.max_d_m,
            one.tolerance_m,
        )
        for one, value in zip(asked, values, strict=True)
    ]
    known = all(wood.id in months for wood, _ in woods)
    return wares, [{} if worth is None else as_kept(worth, known) for worth in worths]


def _woods(desk: Desk, load_id: int, rows: Sequence[_Row]) -> list[tuple[Species, float]]:
    """The woods of the logs by volume; of logs whose wood nobody said, those of the load."""
    volumes: dict[str, float] = {}
    for row in rows:
        volumes[row.log.species] = volumes.get(row.log.species, 0.0) + row.log.volume_m3()
    unsaid = volumes.pop("", 0.0)
    if unsaid:
        for wood, share in load_page(desk, load_id).row.shares:
            volumes[wood.id] = volumes.get(wood.id, 0.0) + unsaid * share
    return [(get_species(name), volume) for name, volume in volumes.items()]


def _log_row(stage: Stage, sheet: CutSheet, number: int, row: _Row) -> CutSheetLog:
    log = row.log
    return CutSheetLog(
        yard_id=stage.yard.id,
        number=number,
        log_number=row.log_number,
        label=log.log_id,
        species_id=log.species,
        length_m=log.length_m,
        large_d_m=log.large_d_m,
        small_d_m=log.small_d_m,
        mid_only=row.mid_only,
        defects=[[defect.from_m, defect.to_m, defect.kind] for defect in log.defects],
        cuts=[],
    )


def _put_in(sheet: CutSheet, plan: CutPlan) -> None:
    """The plan, and anew the rest of logs in which something was found while it was reckoned."""
    sheet.method, sheet.bound = plan.method, plan.bound
    for row, made in zip(sheet.logs, plan.logs, strict=True):
        row.cuts = _cut_rows(made.cuts)
    for row in sheet.logs:
        if row.findings:
            row.cuts = _cut_rows(_rest_planned(row))


def _cut_rows(cuts: Sequence[Cut]) -> list[list[float]]:
    return [[cut.from_m, cut.to_m, cut.ware, cut.solid_m3] for cut in cuts]
