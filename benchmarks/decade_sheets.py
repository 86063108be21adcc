"""Offers, cut sheets, splitting sheets and timed work of ten years: put into a book of them by the desk's own deeds.

Invented, like the rest of the book (benchmarks/decade.py). Limits of thickness are made up.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import numpy as np

from rickyard.desk.context import Desk
from rickyard.desk.cutting import MakeCutSheet, SheetLog, TickOff, make_cut_sheet, tick_off
from rickyard.desk.loads import loads
from rickyard.desk.offers import NoteOffer, OfferFacts, RefuseOffer, note_offer, refuse_offer
from rickyard.desk.sheet_wares import SheetWare
from rickyard.desk.split_sheets import splitting_sheets
from rickyard.desk.splitting import (
    MakeSplittingSheet,
    ReckonSplittingSheet,
    TimeWork,
    make_splitting_sheet,
    reckon_splitting_sheet,
    time_work,
)
from rickyard.desk.wood_in import Harvest
from rickyard.season import Backwards, StartLimit, ThicknessLimit

OFFERS, CUT_SHEETS, SPLITTING_SHEETS, TIMED = 600, 300, 300, 1_500
OPEN_OFFERS, LOGS_A_SHEET = 12, 12
# So long before the day that they are made for stands the first.
FIRST_OFFER = timedelta(days=OFFERS // 2)
STEPS = ("sawing", "splitting", "splitting", "stacking", "loading", "delivering")


def add_offers_and_sheets(desk: Desk, today: date, say: Callable[[str], None]) -> None:
    """Adds them; the newest offers stay open, of every sheet half the logs are ticked off."""
    rng = np.random.default_rng(17)
    _offers(desk, today, rng)
    say(f"{OFFERS} offers")
    _sheets(desk, today, rng)
    say(f"{CUT_SHEETS} cut sheets, {SPLITTING_SHEETS} splitting sheets")
    for number in range(TIMED):
        step = STEPS[number % len(STEPS)]
        cords = round(float(rng.uniform(0.25, 3.0)), 2)
        time_work(
            desk,
            TimeWork(
                key=f"decade-timed-{number}",
                step=step,
                method="hydraulic_splitter" if step == "splitting" else "",
                hours=round(cords * float(rng.uniform(1.0, 3.0)), 2),
                cords=cords,
                worked_on=today - timedelta(days=int(rng.integers(0, 3600))),
            ),
        )
    say(f"{TIMED} hours of work")


def _offers(desk: Desk, today: date, rng: np.random.Generator) -> None:
    for number in range(OFFERS):
        facts = OfferFacts(
            source=f"Woodlot {number % 40}",
            harvest=Harvest(country="CA", subdivision="NB"),
            offered_on=today - timedelta(days=(OFFERS - number) // 2),
            quantity=round(float(rng.uniform(3.0, 60.0)), 1),
            shares=(("sugar maple", 0.6), ("yellow birch", 0.4)),
            asked_minor=int(rng.integers(0, 400_000)),
        )
        made = note_offer(desk, NoteOffer(key=f"decade-offer-{number}", facts=facts))
        if number < OFFERS - OPEN_OFFERS:
            refused = RefuseOffer(key=f"decade-refused-{number}", offer_id=int(made["offer_id"]))
            refuse_offer(desk, refused)


def _sheets(desk: Desk, today: date, rng: np.random.Generator) -> None:
    lying = [row for row in loads(desk) if row.shares]
    wares = (SheetWare(name="stove", piece_length_m=0.4064, value_per_m3=120.0),)
    for number in range(CUT_SHEETS):
        load = lying[number % len(lying)]
        logs = tuple(
            SheetLog(label=f"{one + 1}", length_m=round(float(length), 2), large_d_m=0.34, small_d_m=0.28)
            for one, length in enumerate(rng.uniform(2.0, 5.0, LOGS_A_SHEET))
        )
        command = MakeCutSheet(key=f"decade-cut-{number}", load_id=load.id, wares=wares, logs=logs)
        sheet = int(make_cut_sheet(desk, command)["sheet_id"])
        for log in range(1, LOGS_A_SHEET // 2 + 1):
            tick_off(desk, TickOff(key=f"decade-tick-{number}-{log}", sheet_id=sheet, log=log))
    by = date(today.year + 1, 10, 1)
    for number in range(SPLITTING_SHEETS):
        load = lying[number % len(lying)]
        made = make_splitting_sheet(
            desk,
            MakeSplittingSheet(
                key=f"decade-split-{number}",
                load_id=load.id,
                species=load.shares[0][0].id,
                piece_length_m=0.4064,
                stacked_on=today,
                wanted_by=by,
                diameters_m=(0.2, 0.3, 0.4),
            ),
        )
        _reckon(desk, int(made["sheet_id"]), by)


def reckon_waiting(desk: Desk) -> None:
    """Gives splitting sheets without a limit one that is made up, as the worker would give them theirs."""
    for card in splitting_sheets(desk):
        if card.state == "waiting":
            _reckon(desk, card.id, card.wanted_by)


def _reckon(desk: Desk, sheet_id: int, by: date) -> None:
    found = Backwards(
        by=by,
        odds=0.9,
        target_mc_wet=0.2,
        thickness=ThicknessLimit("found", 0.12, 0.91),
        start=StartLimit("found", date(by.year, 4, 1), 0.9),
        model="made up",
        members=40,
    )
    reckon_splitting_sheet(
        desk, ReckonSplittingSheet(key=f"made-up-limit-{sheet_id}", sheet_id=sheet_id), found
    )
