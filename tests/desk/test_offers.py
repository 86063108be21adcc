"""Offers as the desk reckons and takes them: the yard's own hours and stacks count, and what is wrong with logs stays
with them from the offer to the saw and the splitter."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from tests.desk.conftest import HARVEST

from rickyard.book.models import Load
from rickyard.desk.context import Desk, new_key
from rickyard.desk.costs import CostFacts, SetCosts, set_costs
from rickyard.desk.cut_sheets import cut_sheet
from rickyard.desk.cutting import MakeCutSheet, make_cut_sheet
from rickyard.desk.loads import load_page
from rickyard.desk.offer_views import offer
from rickyard.desk.offers import NoteOffer, OfferFacts, TakeOffer, note_offer, take_offer
from rickyard.desk.sheet_wares import SheetWare
from rickyard.desk.splitting import TimeWork, classes_of_load, time_work
from rickyard.desk.stacking import Dimensions, PiecesFacts, StackUp, stack_up
from rickyard.desk.wares import SetWare, WareFacts, set_ware
from rickyard.desk.wood_in import TakeInLogs, take_in_logs
from rickyard.desk.yard_factor import yard_factor
from rickyard.measure import Defect, LogRow, Spread, solid_share
from rickyard.wood import find_species
from rickyard.worth import Months, assumed

MAPLE = find_species("sugar maple").id
STRAIGHT = LogRow(species_id=MAPLE, length_m=2.44, small_d_m=0.28, large_d_m=0.32)
FACTS = OfferFacts(
    source="Otter Creek lot", harvest=HARVEST, offered_on=date(2026, 9, 28), logs=(STRAIGHT,) * 8
)


def noted(desk: Desk, facts: OfferFacts = FACTS) -> int:
    return int(note_offer(desk, NoteOffer(key=new_key(), facts=facts))["offer_id"])


def timed(desk: Desk, hours: float, method: str = "hydraulic_splitter") -> None:
    command = TimeWork(key=new_key(), method=method, hours=hours, worked_on=date(2026, 9, 20), cords=4.0)
    time_work(desk, command)


def test_timed_hours_of_the_yard_move_what_an_offer_is_worth(desk: Desk, ware: int) -> None:
    """Only those of the way in which the yard splits; more of them are more its own."""
    number = noted(desk)
    before = offer(desk, number).worth
    assert before is not None
    timed(desk, 40.0, "splitting_maul")
    assert offer(desk, number).worth == before
    timed(desk, 4.0)
    timed(desk, 4.0)
    after = offer(desk, number).worth
    assert after is not None
    assert after.most_to_pay.mid > before.most_to_pay.mid
    rates = {step.rate.step: step.rate for step in after.steps}
    assert (rates["splitting"].sessions, rates["stacking"].sessions) == (2, 0)
    assert 0.5 < rates["splitting"].own < 1.0
    assert rates["splitting"].per_cord.mid < 2.5
    assert rates["stacking"].own == 0.0


def test_offers_go_by_how_tight_the_yard_stacks(desk: Desk, ware: int) -> None:
    """A load that made more of a stack than published makes the next offers worth more."""
    number = noted(desk)
    before = offer(desk, number).worth
    assert before is not None
    assert before.own_loads == 0
    logs = (STRAIGHT,) * 30
    load = int(
        take_in_logs(
            desk,
            TakeInLogs(
                key=new_key(),
                source="Otter Creek lot",
                harvest=HARVEST,
                arrived_on=date(2026, 9, 1),
                logs=logs,
            ),
        )["load_id"]
    )
    solid = sum(log.volume_m3 for log in load_page(desk, load).logs)
    loose = 0.92 * solid_share("ranked", "split", 0.406).mid
    stack_up(
        desk,
        StackUp(
            key=new_key(),
            sources=((load, 1.0),),
            pieces=PiecesFacts(
                name="L1", piece_length_m=0.406, thickness_m=0.10, stacked_on=date(2026, 9, 10)
            ),
            outside=Dimensions(length_m=0.95 * solid / loose / 1.5 / 0.406, heights_m=(1.5,)),
        ),
    )
    assert yard_factor(desk).loads == 1
    after = offer(desk, number).worth
    assert after is not None
    assert after.own_loads == 1
    assert after.ranked_m3.mid > before.ranked_m3.mid
    assert after.value.mid > before.value.mid
    assert after.ranked_m3.mid / before.ranked_m3.mid == pytest.approx(
        1.0 / yard_factor(desk).kinds["acer"].mid, rel=1e-6
    )


def test_what_is_wrong_with_logs_goes_with_them_to_the_saw(desk: Desk, ware: int) -> None:
    """Rot and metal are taken off the load, no piece holds them, and no round is split from there."""
    logs = (
        STRAIGHT,
        replace(STRAIGHT, defects=(Defect("metal", 0.9, 1.1), Defect("fork", 2.0, 2.44))),
        replace(STRAIGHT, defects=(Defect("rot", 0.0, 0.8),)),
        replace(STRAIGHT, defects=(Defect("rot", 0.0, 2.44, diameter_m=0.08),)),
        # Bent: a tape along it is longer than the straight line, and a nail lies beyond that line's length.
        replace(STRAIGHT, sweep_m=0.30, defects=(Defect("metal", 2.46, 2.5),)),
    )
    number = noted(desk, replace(FACTS, logs=logs))
    worth = offer(desk, number).worth
    assert worth is not None
    taken = take_offer(
        desk, TakeOffer(key=new_key(), offer_id=number, arrived_on=date(2026, 9, 30), paid_minor=5000)
    )
    load = load_page(desk, int(taken["load_id"]))
    assert sum(log.volume_m3 for log in load.logs) == pytest.approx(worth.offered.solid_m3.mid)
    assert [log.volume_m3 < 0.999 * log.gross_m3 for log in load.logs] == [False, True, True, True, True]
    with desk.book.read() as session:
        held = session.get_one(Load, load.row.id)
        assert [piece.sweep_m for piece in held.logs] == [0.0, 0.0, 0.0, 0.0, 0.30]

    sheet_id = int(
        make_cut_sheet(
            desk, MakeCutSheet(key=new_key(), load_id=load.row.id, wares=(SheetWare(ware_id=ware),))
        )["sheet_id"]
    )
    sheet = cut_sheet(desk, sheet_id)
    assert [[one.kind for one in line.known] for line in sheet.lines] == [
        [],
        ["metal", "fork"],
        ["rot"],
        ["rot"],
        ["metal"],
    ]
    assert [bool(line.plan.cuts) for line in sheet.lines] == [True, True, True, False, True]
    for line in sheet.lines:
        for cut in line.plan.cuts:
            assert not any(
                cut.from_m < one.to_m - 1e-6 and cut.to_m > one.from_m + 1e-6 for one in line.known
            )
    assert sheet.lines[4].plan.log.length_m > 2.5
    assert [str(note) for note in sheet.notes if "core" in str(note)] == [
        "A core of rot or a hollow takes less than half the cut of these logs, and no piece is cut where it lies: 4. "
        "A sheet may be told to take pieces with a small core."
    ]
    assert any("core of under half the cut: 1" in str(note) for note in worth.notes)
    assert sum(one.solid_m3 for one in worth.yields) == pytest.approx(
        0.95 * sum(cut.solid_m3 for line in sheet.lines for cut in line.plan.cuts), rel=0.02
    )

    # Without a sheet for that length, rounds are those of the sound stretches.
    rounds = sum(one.rounds or 0 for one in classes_of_load(desk, load.row.id, MAPLE, 0.30))
    assert rounds == 8 + (3 + 3) + 5 + 0 + 8

    # Whoever makes the sheet may choose pieces with a small core; metal, forks and rot of any width stay out.
    command = MakeCutSheet(
        key=new_key(), load_id=load.row.id, wares=(SheetWare(ware_id=ware),), small_cores=True
    )
    chosen = cut_sheet(desk, int(make_cut_sheet(desk, command)["sheet_id"]))
    assert [len(line.known) for line in chosen.lines] == [0, 2, 1, 0, 1]
    assert all(line.plan.cuts for line in chosen.lines)
    assert [str(note) for note in chosen.notes if "core" in str(note)] == [
        "A core of rot or a hollow runs through pieces of these logs, and their sound wood is up to 7 percent less "
        "than this sheet says: 4."
    ]


def cut_for(desk: Desk, load: int, wares: tuple[int, ...], months: dict[str, Months] | None = None) -> int:
    command = MakeCutSheet(
        key=new_key(),
        load_id=load,
        wares=tuple(SheetWare(ware_id=one) for one in wares),
        kerf_m=CostFacts().kerf_m,
    )
    return int(make_cut_sheet(desk, command, months)["sheet_id"])


def test_what_an_offer_is_bought_for_is_what_its_cut_sheet_cuts(desk: Desk) -> None:
    """12 in pieces sell for more a cord, by less than their work costs more: the offer goes for 16 in, and the sheet
    of the load with it, to the cubic centimetre. By price alone it would be the other way round.

    Work by hand: 3 h of sawing and splitting a cord of 16 in at 30.50 is 91.50; of 12 in 4/3 of it, 122.00; the price
    is 10.00 higher.
    """
    set_costs(
        desk,
        SetCosts(
            key=new_key(),
            facts=CostFacts(
                wage_minor_h=2250,
                machine_minor_h=800,
                hours=(("sawing", 1.0), ("splitting", 2.0), ("stacking", 1.5)),
            ),
        ),
    )
    long, short, green = (
        int(
            set_ware(
                desk,
                SetWare(
                    key=new_key(),
                    facts=WareFacts(name=name, piece_length_m=length, price_minor=price, max_mc_wet=moisture),
                ),
            )["ware_id"]
        )
        for name, length, price, moisture in (
            ("16 in", 0.4064, 38000, 0.20),
            ("12 in", 0.3048, 39000, 0.20),
            ("16 in green", 0.4064, 20000, None),
        )
    )
    logs = tuple(replace(STRAIGHT, length_m=2.0 + 0.07 * place) for place in range(8))
    number = noted(desk, replace(FACTS, logs=logs))
    months = {MAPLE: Months(Spread(8.0, 10.0, 14.0))}
    worth = offer(desk, number, months=months).worth
    assert worth is not None
    taken = take_offer(
        desk, TakeOffer(key=new_key(), offer_id=number, arrived_on=date(2026, 9, 30), paid_minor=5000)
    )
    load = int(taken["load_id"])

    sheet = cut_sheet(desk, cut_for(desk, load, (long, short, green), months))
    assert sheet.plan is not None
    assert sheet.worth is not None
    offered = {one.ware.name: one.solid_m3 for one in worth.yields}
    # What an offer gives is after the loss of a twentieth.
    kept = 1.0 - assumed()["loss_listed"].value
    assert {
        ware.name: pytest.approx(solid * kept, abs=1e-6)
        for ware, solid in zip(sheet.plan.wares, sheet.plan.solid_m3, strict=True)
        if solid
    } == offered
    assert offered["16 in"] > offered.get("12 in", 0.0)
    assert sheet.worth.gross is not None
    assert sheet.worth.net is not None
    assert sheet.worth.gross.mid * 100 * kept == pytest.approx(worth.value.mid, abs=1.0), (
        "the same selling value"
    )
    taken_off = sum(
        part.minor
        for part in worth.parts
        if part.kind in ("sawing", "splitting", "stacking", "machine", "space", "waiting")
    )
    assert (sheet.worth.gross.mid - sheet.worth.net.mid) * 100 * kept == pytest.approx(taken_off, abs=3.0)
    assert sheet.worth.net.low < sheet.worth.net.mid < sheet.worth.net.high < sheet.worth.gross.high
    assert sheet.plan.value == pytest.approx(sheet.worth.net.mid)
    assert sheet.worth.hand.solid_m3 > 0.0
    assert not [note for note in sheet.notes if "usual ones" in str(note)]

    # Of the same logs by price alone most would be 12 in.
    by_price = tuple(
        SheetWare(ware_id=one, value_per_m3=price / solid_share("ranked", "split", length).mid)
        for one, price, length in ((long, 380.0, 0.4064), (short, 390.0, 0.3048))
    )
    other = make_cut_sheet(desk, MakeCutSheet(key=new_key(), load_id=load, wares=by_price, kerf_m=0.008))
    plan = cut_sheet(desk, int(other["sheet_id"]))
    assert plan.plan is not None
    assert plan.plan.solid_m3[1] > plan.plan.solid_m3[0]
    assert plan.worth is not None
    assert (plan.worth.net, plan.worth.gross) == (None, None), "a value that was told is no more than that"


def test_a_sheet_goes_by_the_yards_own_hours_and_says_where_nothing_pays(desk: Desk, ware: int) -> None:
    """With hours that no price pays the sheet still says where to cut, by price, and says so."""
    load = int(
        take_in_logs(
            desk,
            TakeInLogs(
                key=new_key(),
                source="Lot",
                harvest=HARVEST,
                arrived_on=date(2026, 9, 1),
                logs=(STRAIGHT,) * 2,
            ),
        )["load_id"]
    )
    before = cut_sheet(desk, cut_for(desk, load, (ware,)))
    assert [note for note in before.notes if "usual ones" in str(note)]
    timed(desk, 40.0)
    after = cut_sheet(desk, cut_for(desk, load, (ware,)))
    assert before.worth is not None
    assert after.worth is not None
    assert before.worth.net is not None
    assert after.worth.net is not None
    assert after.worth.net.mid < before.worth.net.mid
    assert after.worth.gross == before.worth.gross
    set_costs(desk, SetCosts(key=new_key(), facts=CostFacts(wage_minor_h=90_000)))
    never = cut_sheet(desk, cut_for(desk, load, (ware,)))
    assert never.plan is not None
    assert never.plan.solid_m3[0] > 0.0
    assert [note for note in never.notes if "by price alone" in str(note)]
