"""The demo's work at the saw and the splitter: a cut sheet half ticked off, a splitting sheet, hours that were timed.

It comes after everything else and draws on no chance, so the rest of the demo is the same with it or without.
The splitting sheet waits for its greatest thickness: the drying model works that out when its page is first opened.
"""

from __future__ import annotations

from datetime import date, timedelta

from rickyard.desk.context import Desk
from rickyard.desk.cut_sheets import ware_choices
from rickyard.desk.cutting import (
    FoundInLog,
    MakeCutSheet,
    TickOff,
    found_in_log,
    make_cut_sheet,
    tick_off,
)
from rickyard.desk.loads import LoadRow, loads
from rickyard.desk.people import people
from rickyard.desk.sheet_wares import SheetWare
from rickyard.desk.splitting import (
    MakeSplittingSheet,
    TimeWork,
    make_splitting_sheet,
    time_work,
)

CUT_FOR = ("Dry hardwood, 16 in", "Dry hardwood, 12 in")
LEAST_D_M = 0.08
IN_M = 0.0254
# Invented, splitting: with what, cords, hours, pieces, days ago.
TIMED = (
    ("hydraulic_splitter", 1.5, 4.5, 790, 24),
    ("hydraulic_splitter", 2.0, 5.25, None, 17),
    ("splitting_maul", 0.5, 1.75, 260, 9),
    ("hydraulic_splitter", 1.0, 2.75, 515, 2),
)
# Invented, the other steps: what, cords, hours, days ago.
STEPS_TIMED = (
    ("sawing", 1.5, 2.0, 25),
    ("sawing", 2.0, 2.5, 18),
    ("stacking", 1.0, 1.75, 16),
    ("stacking", 2.5, 4.0, 8),
    ("stacking", 1.0, 1.5, 2),
    ("loading", 1.0, 0.75, 12),
    ("delivering", 1.0, 1.5, 12),
    ("delivering", 0.5, 1.0, 5),
)


def add_sheets(desk: Desk, as_of: date) -> None:
    """Adds them to the demo's book; `desk` stands at the evening of its last day."""
    lying = loads(desk, with_wood_only=True)
    measured = next((row for row in lying if row.detail == "logs"), None)
    if measured is not None:
        _cut(desk, measured)
        _split(desk, measured, as_of)


def _cut(desk: Desk, load: LoadRow) -> None:
    who = people(desk)[0].id
    wares = tuple(
        SheetWare(ware_id=choice.ware.id, min_d_m=LEAST_D_M)
        for choice in ware_choices(desk, load.id)
        if choice.ware.name in CUT_FOR
    )
    made = make_cut_sheet(
        desk,
        MakeCutSheet(
            key="demo-cut-sheet",
            person_id=who,
            load_id=load.id,
            wares=wares,
            note="By the gate, butts to the road",
        ),
    )
    sheet, half = int(made["sheet_id"]), int(made["logs"]) // 2
    for log in range(1, half + 1):
        tick_off(desk, TickOff(key=f"demo-cut-{log}", person_id=who, sheet_id=sheet, log=log))
    found_in_log(
        desk,
        FoundInLog(
            key="demo-cut-found",
            person_id=who,
            sheet_id=sheet,
            log=half + 1,
            kind="metal",
            from_m=1.2,
            note="an old fence staple",
        ),
    )


def _split(desk: Desk, load: LoadRow, as_of: date) -> None:
    who = people(desk)[0].id
    autumn = date(as_of.year + (1 if as_of.month > 6 else 0), 10, 1)
    made = make_splitting_sheet(
        desk,
        MakeSplittingSheet(
            key="demo-split-sheet",
            person_id=who,
            load_id=load.id,
            species=load.shares[0][0].id,
            piece_length_m=16 * IN_M,
            stacked_on=as_of,
            wanted_by=autumn,
        ),
    )
    sheet = int(made["sheet_id"])
    for number, (method, cords, hours, pieces, ago) in enumerate(TIMED):
        time_work(
            desk,
            TimeWork(
                key=f"demo-timed-{number}",
                person_id=who,
                method=method,
                hours=hours,
                cords=cords,
                pieces=pieces,
                worked_on=as_of - timedelta(days=ago),
                piece_length_m=16 * IN_M,
                sheet_id=sheet if ago < 5 else None,
            ),
        )
    for number, (step, cords, hours, ago) in enumerate(STEPS_TIMED):
        time_work(
            desk,
            TimeWork(
                key=f"demo-step-timed-{number}",
                person_id=who,
                step=step,
                hours=hours,
                cords=cords,
                worked_on=as_of - timedelta(days=ago),
                piece_length_m=16 * IN_M,
            ),
        )
