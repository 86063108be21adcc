"""Cut sheets, splitting sheets and timed work, on each kind of database."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
import sqlalchemy as sa

from rickyard.book import Book, check, migrations
from rickyard.book.engine import book_url, make_engine
from rickyard.cut import expected_pieces, learn_splitting, plan_cuts
from rickyard.desk import cutting
from rickyard.desk.context import Desk, new_key
from rickyard.desk.cut_sheets import (
    cut_of_load,
    cut_sheet,
    cut_sheets,
    logs_to_cut,
    open_cut_sheets,
    ware_choices,
)
from rickyard.desk.cutting import (
    FoundInLog,
    MakeCutSheet,
    PlanCutSheet,
    SheetLog,
    TickOff,
    cut_question,
    found_in_log,
    make_cut_sheet,
    plan_cut_sheet,
    tick_off,
)
from rickyard.desk.households import SetHousehold, set_household
from rickyard.desk.orders import PlaceOrder, place_order
from rickyard.desk.people import AddPerson, add_person
from rickyard.desk.sheet_wares import SheetWare
from rickyard.desk.split_sheets import splitting_sheet, splitting_sheets, work_learnt, work_sessions
from rickyard.desk.splitting import (
    MakeSplittingSheet,
    ReckonSplittingSheet,
    TimeWork,
    make_splitting_sheet,
    reckon_splitting_sheet,
    splitting_question,
    time_work,
)
from rickyard.desk.stacking import Dimensions, PiecesFacts, StackUp, stack_up
from rickyard.desk.wares import SetWare, WareFacts, set_ware
from rickyard.desk.wood_in import Harvest, TakeInLogs, take_in_logs
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.errors import InputError
from rickyard.measure import CORD_M3, LogRow, solid_share
from rickyard.season import Backwards, StartLimit, ThicknessLimit
from rickyard.wood import db_from_wet, get_species, solid_volume_factor

NOW = datetime(2026, 10, 1, 15, tzinfo=UTC)
DAY = date(2026, 9, 20)
MAPLE = "acer_saccharum"
FACTS = YardFacts(
    name="Thornbeck Yard",
    country="CA",
    subdivision="NB",
    climate_place="Fredericton, NB",
    timezone="America/Moncton",
)


@pytest.fixture
def desk(book: Book) -> Iterator[Desk]:
    yield set_up_yard(book, FACTS, clock=lambda: NOW)
    assert check(book).problems == ()


@pytest.fixture
def load(desk: Desk) -> int:
    """Four logs of 3 m, measured at both ends over 1 cm of bark."""
    log = LogRow(species_id=MAPLE, length_m=3.0, large_d_m=0.32, small_d_m=0.28, bark_thickness_m=0.01)
    command = TakeInLogs(
        key=new_key(),
        source="Saltbox hedge",
        harvest=Harvest(country="CA", subdivision="NB"),
        arrived_on=DAY,
        logs=(log,) * 4,
    )
    return int(take_in_logs(desk, command)["load_id"])


def a_ware(desk: Desk, length_m: float = 0.40, price: int = 38000) -> int:
    facts = WareFacts(
        name=f"Maple {length_m:g}", species=("sugar maple",), piece_length_m=length_m, price_minor=price
    )
    return int(set_ware(desk, SetWare(key=new_key(), facts=facts))["ware_id"])


def a_sheet(desk: Desk, load: int, **more: object) -> int:
    """Pieces of 40 cm: seven of each log."""
    command = MakeCutSheet(
        key=new_key(), load_id=load, wares=(SheetWare(ware_id=a_ware(desk)),), kerf_m=0.01, **more
    )
    return int(make_cut_sheet(desk, command)["sheet_id"])


def at(desk: Desk, hours: int) -> Desk:
    return replace(desk, clock=lambda: NOW + timedelta(hours=hours))


def test_a_sheet_is_planned_and_ticked_off_log_by_log(desk: Desk, load: int) -> None:
    who = int(add_person(desk, AddPerson(key=new_key(), name="Perpetua Ashgrove"))["person_id"])
    sheet = a_sheet(desk, load)
    page = cut_sheet(desk, sheet)
    first = page.lines[0].plan
    assert (first.log.large_d_m, first.log.small_d_m) == pytest.approx((0.30, 0.26)), "without bark"
    assert [len(line.plan.cuts) for line in page.lines] == [7] * 4
    assert page.plan is not None
    content = solid_share("ranked", "split", 0.40).mid
    # Sold dry it has shrunk; what is planned by is less, by its work and its waiting.
    shrunk = solid_volume_factor(get_species(MAPLE), db_from_wet(0.20))
    assert page.worth is not None
    assert page.worth.gross is not None
    gross = page.worth.gross.mid / page.plan.solid_m3[0]
    assert gross == pytest.approx(380.0 / CORD_M3 / content * shrunk, abs=0.01)
    assert 0.0 < page.plan.wares[0].value_per_m3 < gross
    assert open_cut_sheets(desk) == [sheet]

    command = TickOff(key=new_key(), person_id=who, sheet_id=sheet, log=2)
    answer = tick_off(desk, command)
    assert tick_off(at(desk, 1), command) == answer == {"sheet_id": sheet, "log": 2, "done": True}
    line = cut_sheet(desk, sheet).lines[1]
    assert (line.done, line.cut_by, line.cut_at) == (True, "Perpetua Ashgrove", NOW)
    assert (cut_sheets(desk)[0].logs_done, cut_sheets(desk)[0].pieces_done) == (1, 7)
    assert [number for number, *_ in logs_to_cut(desk, load)] == [1, 3, 4]

    rest = make_cut_sheet(desk, MakeCutSheet(key=new_key(), load_id=load, wares=page_wares(desk)))
    assert (rest["number"], rest["logs"]) == (2, 3), "what is ticked off is in no new sheet"


def page_wares(desk: Desk) -> tuple[SheetWare, ...]:
    return (SheetWare(name="hearth", piece_length_m=0.45, value_per_m3=120.0),)


def test_reports_count_in_the_order_in_which_they_happened(desk: Desk, load: int) -> None:
    """The undo of an hour ago comes after the tick of now, and the piece before the log."""
    sheet = a_sheet(desk, load)
    now = TickOff(key=new_key(), sheet_id=sheet, log=1)
    tick_off(desk, now)
    early = TickOff(
        key=new_key(), sheet_id=sheet, log=1, undo=True, happened_at=NOW - timedelta(hours=1), sent_at=NOW
    )
    assert tick_off(desk, early)["done"]
    assert not tick_off(at(desk, 1), replace(early, key=new_key(), happened_at=None, sent_at=None))["done"]

    cut = cut_sheet(desk, sheet).lines[0].plan.cuts[2]
    tick_off(at(desk, 2), TickOff(key=new_key(), sheet_id=sheet, log=1, from_m=cut.from_m, to_m=cut.to_m))
    line = cut_sheet(desk, sheet).lines[0]
    assert line.pieces_done == (False, False, True, False, False, False, False)
    assert not line.done


def test_a_log_that_came_out_otherwise_is_planned_anew_where_it_is_not_cut(desk: Desk, load: int) -> None:
    sheet = a_sheet(desk, load)
    before = cut_sheet(desk, sheet).lines[0].plan.cuts
    tick_off(
        desk,
        TickOff(key=new_key(), sheet_id=sheet, log=1, from_m=before[0].from_m, to_m=before[0].to_m),
    )
    answer = found_in_log(
        desk,
        FoundInLog(
            key=new_key(), sheet_id=sheet, log=1, kind="metal", from_m=1.5, cut_to_m=0.41, note="a staple"
        ),
    )
    assert answer["changed"]
    line = cut_sheet(desk, sheet).lines[0]
    cuts = line.plan.cuts
    assert cuts[0] == before[0], "what is cut stays"
    assert line.pieces_done[0]
    assert all(cut.to_m <= 1.45 + 1e-9 or cut.from_m >= 1.55 - 1e-9 for cut in cuts)
    assert all(later.from_m - cut.to_m >= 0.01 - 1e-6 for cut, later in itertools.pairwise(cuts))
    assert cuts[1].from_m >= 0.42 - 1e-9
    assert len(cuts) == 6
    assert (line.found[0].kind, line.found[0].note) == ("metal", "a staple")

    lost = found_in_log(
        desk, FoundInLog(key=new_key(), sheet_id=sheet, log=1, kind="rot", from_m=0.1, to_m=0.3)
    )
    assert lost["pieces"] == 5, "the cut piece held the rot; nothing is planned where the saw has been"
    assert cut_sheet(desk, sheet).lines[0].plan.cuts == cuts[1:]
    assert len(cut_sheet(desk, sheet).lines[1].plan.cuts) == 7


def test_what_is_wanted_bounds_the_pieces_and_orders_say_it(desk: Desk, load: int) -> None:
    ware = a_ware(desk)
    home = int(
        set_household(desk, SetHousehold(key=new_key(), name="Delphine", address="24 Heron"))["household_id"]
    )
    for cords in (0.1, 0.2):
        place_order(
            desk,
            PlaceOrder(
                key=new_key(),
                household_id=home,
                ware_id=ware,
                ranked_m3=cords * CORD_M3,
                wanted_by=date(2026, 12, 1),
            ),
        )
    (choice,) = ware_choices(desk, load)
    assert choice.fits
    assert choice.asked_m3 == pytest.approx(0.3 * CORD_M3)

    wanted = choice.solid_m3(0.1 * CORD_M3)
    made = make_cut_sheet(
        desk,
        MakeCutSheet(
            key=new_key(),
            load_id=load,
            wares=(SheetWare(ware_id=ware, wanted_m3=wanted),),
            log_numbers=(1, 3),
        ),
    )
    page = cut_sheet(desk, int(made["sheet_id"]))
    assert [line.label for line in page.lines] == ["1", "3"]
    assert page.plan is not None
    assert page.plan.solid_m3[0] >= wanted
    piece = max(cut.solid_m3 for line in page.lines for cut in line.plan.cuts)
    assert page.plan.solid_m3[0] < wanted + piece, "no piece that nobody wants"


def test_pieces_may_be_within_the_tolerance_of_what_we_sell(desk: Desk, load: int) -> None:
    """Of each log of 3.0 m seven pieces of 0.40 m leave 14 cm over; with 5 cm more or less there is less waste."""
    ware, logs = a_ware(desk), (1, 2, 3)
    ask = {"load_id": load, "wares": (SheetWare(ware_id=ware),), "log_numbers": logs, "kerf_m": 0.01}
    exact = cut_sheet(desk, int(make_cut_sheet(desk, MakeCutSheet(key=new_key(), **ask))["sheet_id"]))
    made = make_cut_sheet(desk, MakeCutSheet(key=new_key(), within_tolerance=True, **ask))
    sheet = int(made["sheet_id"])
    loose = cut_sheet(desk, sheet)
    assert exact.plan is not None
    assert loose.plan is not None
    assert [one.tolerance_m for one in (*exact.plan.wares, *loose.plan.wares)] == [0.0, 0.05]
    lengths = [round(cut.to_m - cut.from_m, 6) for line in loose.lines for cut in line.plan.cuts]
    assert set(lengths) <= {0.35, 0.40, 0.45}
    assert len(set(lengths)) > 1
    assert loose.plan.solid_m3[0] > exact.plan.solid_m3[0] * 1.02
    for line in loose.lines:
        cuts = line.plan.cuts
        assert all(b.from_m - a.to_m >= 0.01 - 1e-9 for a, b in itertools.pairwise(cuts))
        assert cuts[-1].to_m <= line.plan.log.length_m + 1e-9
    assert check(desk.book).faults == ()

    # What is planned anew keeps to it.
    found_in_log(desk, FoundInLog(key=new_key(), sheet_id=sheet, log=1, kind="rot", from_m=0.0, to_m=0.8))
    anew = cut_sheet(desk, sheet).lines[0].plan.cuts
    assert anew[0].from_m >= 0.8
    assert {round(cut.to_m - cut.from_m, 6) for cut in anew} <= {0.35, 0.40, 0.45}


def test_many_logs_wait_for_their_plan(desk: Desk, load: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cutting, "AT_ONCE_LOGS", 3)
    sheet = a_sheet(desk, load)
    assert not cut_sheets(desk)[0].planned
    found_in_log(desk, FoundInLog(key=new_key(), sheet_id=sheet, log=4, kind="rot", from_m=0.0, to_m=1.0))
    question = cut_question(desk, sheet)
    assert question is not None
    plan = question.answer()
    assert plan == plan_cuts(question.logs, question.wares, question.saw)
    plan_cut_sheet(desk, PlanCutSheet(key=new_key(), sheet_id=sheet), plan)

    assert cut_question(desk, sheet) is None
    lines = cut_sheet(desk, sheet).lines
    assert [len(line.plan.cuts) for line in lines] == [7, 7, 7, 4]
    assert plan_cut_sheet(desk, PlanCutSheet(key=new_key(), sheet_id=sheet))["planned"], "again: it stays"


def test_ticks_move_no_wood_until_a_stack_is_made(desk: Desk, load: int) -> None:
    assert cut_of_load(desk, load) is None
    sheet = a_sheet(desk, load)
    for log in (1, 2):
        tick_off(desk, TickOff(key=new_key(), sheet_id=sheet, log=log))
    half = cut_of_load(desk, load)
    assert half is not None
    assert half.cut_m3 == pytest.approx(half.planned_m3 / 2) == half.lying_m3

    pieces = PiecesFacts(name="A1", piece_length_m=0.4, thickness_m=0.1, stacked_on=date(2026, 9, 30))
    outside = Dimensions(length_m=1.0, heights_m=(1.0,), rows=1)
    stack_up(desk, StackUp(key=new_key(), sources=((load, 0.3),), pieces=pieces, outside=outside))
    after = cut_of_load(desk, load)
    assert after is not None
    assert 0 < after.lying_m3 < half.lying_m3
    assert after.cut_m3 == half.cut_m3


def test_logs_of_a_rough_load_are_typed(desk: Desk, load: int) -> None:
    log = SheetLog(label="K1", length_m=3.66, large_d_m=0.37, small_d_m=0.32, species="sugar maple",
                   defects=((1.28, 1.55, "crotch"),))  # fmt: skip
    made = make_cut_sheet(
        desk, MakeCutSheet(key=new_key(), load_id=load, wares=page_wares(desk), logs=(log,))
    )
    line = cut_sheet(desk, int(made["sheet_id"])).lines[0]
    assert line.label == "K1"
    assert line.species is not None
    assert all(cut.to_m <= 1.28 or cut.from_m >= 1.55 for cut in line.plan.cuts)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"wares": ()}, "wares"),
        ({"wares": (SheetWare(name="x"),)}, "wares"),
        ({"wares": (SheetWare(ware_id=77),)}, "ware"),
        ({"log_numbers": (9,)}, "logs"),
        ({"kerf_m": 0.2}, "kerf"),
        ({"logs": (SheetLog(label="K", length_m=2.0, large_d_m=0.2, small_d_m=0.3),)}, "d_large"),
        ({"load_id": 99}, "load"),
    ],
)
def test_bad_cut_sheets_are_refused_and_write_nothing(
    desk: Desk, load: int, change: dict[str, object], field: str
) -> None:
    good = MakeCutSheet(key=new_key(), load_id=load, wares=page_wares(desk))
    with pytest.raises(InputError) as refused:
        make_cut_sheet(desk, replace(good, **change))
    assert refused.value.field == field
    assert cut_sheets(desk) == []


def test_nonsense_about_a_log_is_refused(desk: Desk, load: int) -> None:
    sheet = a_sheet(desk, load)
    for command in (
        FoundInLog(key=new_key(), sheet_id=sheet, log=1, kind="rot", from_m=2.0, to_m=1.0),
        FoundInLog(key=new_key(), sheet_id=sheet, log=1, kind="rot", from_m=3.5),
        FoundInLog(key=new_key(), sheet_id=sheet, log=1, kind="gold", from_m=1.0),
        FoundInLog(key=new_key(), sheet_id=sheet, log=9, kind="rot", from_m=1.0),
    ):
        with pytest.raises(InputError):
            found_in_log(desk, command)
    with pytest.raises(InputError):
        tick_off(desk, TickOff(key=new_key(), sheet_id=sheet, log=1, from_m=2.9, to_m=4.0))
    assert cut_sheet(desk, sheet).lines[0].found == ()


def a_splitting_sheet(desk: Desk, load: int, **more: object) -> int:
    command = MakeSplittingSheet(
        key=new_key(),
        load_id=load,
        species="sugar maple",
        piece_length_m=0.40,
        stacked_on=date(2026, 10, 1),
        wanted_by=date(2027, 10, 1),
        **more,
    )
    return int(make_splitting_sheet(desk, command)["sheet_id"])


def limit(state: str, thickness_m: float) -> Backwards:
    return Backwards(
        date(2027, 10, 1),
        0.9,
        0.2,
        ThicknessLimit(state, thickness_m, 0.92),  # type: ignore[arg-type]
        StartLimit("found", date(2027, 4, 1), 0.9),
        "made up",
        40,
    )


def test_a_splitting_sheet_takes_the_rounds_of_the_cut_sheet(desk: Desk, load: int) -> None:
    a_sheet(desk, load)
    sheet = a_splitting_sheet(desk, load, hand_m=0.2)
    waiting = splitting_sheet(desk, sheet)
    assert waiting.card.state == "waiting"
    assert waiting.work is None
    assert sum(one.rounds or 0 for one in waiting.classes) == 28
    assert max(one.diameter_m for one in waiting.classes) == pytest.approx(0.297, abs=0.002)
    question = splitting_question(desk, sheet)
    assert question is not None
    assert (question.by, question.odds, question.pieces.form) == (date(2027, 10, 1), 0.9, "split")

    reckon = ReckonSplittingSheet(key=new_key(), sheet_id=sheet)
    assert reckon_splitting_sheet(desk, reckon, limit("found", 0.11))["limit_m"] == 0.11
    again = ReckonSplittingSheet(key=new_key(), sheet_id=sheet)
    assert reckon_splitting_sheet(desk, again, limit("found", 0.2))["limit_m"] == 0.11, "it stays"
    page = splitting_sheet(desk, sheet)
    assert splitting_question(desk, sheet) is None
    for one in page.classes:
        assert one.plan is not None
        assert one.plan.thickness_max_m <= 0.11 + 1e-9
    assert page.thickness_m is not None
    assert 0.05 < page.thickness_m <= 0.11
    assert page.work is not None
    assert page.work.pieces.low < page.work.pieces.mid < page.work.pieces.high
    assert [card.number for card in splitting_sheets(desk, load_id=load)] == [1]


def test_the_model_is_asked_and_its_answer_kept(
    desk: Desk, load: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The whole way, by few members."""
    monkeypatch.setattr("rickyard.desk.answers.MEMBERS", 6)
    sheet = a_splitting_sheet(desk, load, diameters_m=(0.25,))
    answer = reckon_splitting_sheet(desk, ReckonSplittingSheet(key=new_key(), sheet_id=sheet))

    assert answer["state"] == "found"
    assert 0.05 < answer["limit_m"] < 0.25
    assert splitting_sheet(desk, sheet).model


def test_never_dry_and_impossible_rounds_are_said(desk: Desk, load: int) -> None:
    never = a_splitting_sheet(desk, load, diameters_m=(0.3,))
    reckon_splitting_sheet(desk, ReckonSplittingSheet(key=new_key(), sheet_id=never), limit("never", 0.03))
    page = splitting_sheet(desk, never)
    assert (page.classes[0].plan, page.classes[0].problem, page.thickness_m) == (None, "never", None)

    huge = a_splitting_sheet(desk, load, diameters_m=(0.3, 2.4))
    reckon_splitting_sheet(desk, ReckonSplittingSheet(key=new_key(), sheet_id=huge), limit("found", 0.05))
    small, large = splitting_sheet(desk, huge).classes
    assert small.plan is not None
    assert large.plan is None
    assert "pieces of a round" in large.problem

    with pytest.raises(InputError, match="diameters"):
        a_splitting_sheet(desk, load, diameters_m=(3.0,))
    with pytest.raises(InputError, match="wanted_by"):
        make_splitting_sheet(
            desk,
            MakeSplittingSheet(
                key=new_key(),
                load_id=load,
                species="sugar maple",
                piece_length_m=0.4,
                stacked_on=date(2026, 10, 1),
                wanted_by=date(2026, 9, 1),
            ),
        )


def test_timed_work_teaches_hours_and_pieces(desk: Desk, load: int) -> None:
    before = {line.method.id: line.learnt.hours for line in work_learnt(desk).methods}
    sheet = a_splitting_sheet(desk, load, diameters_m=(0.25,))
    solid = 2.0 * CORD_M3 * solid_share("ranked", "split", 0.40).mid
    for cords, solid_m3, pieces in ((1.0, None, 600), (None, solid, None)):
        time_work(
            desk,
            TimeWork(
                key=new_key(),
                method="splitting_maul",
                hours=4.0 * (cords or 2.0),
                worked_on=DAY,
                cords=cords,
                solid_m3=solid_m3,
                pieces=pieces,
                piece_length_m=0.40,
                sheet_id=sheet,
            ),
        )
    learnt = work_learnt(desk)
    rates = {line.method.id: line.learnt.hours for line in learnt.methods}
    counts = {line.method.id: line.learnt.counted for line in learnt.methods}

    sessions = work_sessions(desk)
    assert learnt.timed == 2
    assert [one.cords for one in sessions] == pytest.approx([2.0, 1.0])
    assert sessions[0].sheet_number == 1
    assert work_sessions(desk, before=sessions[0].id, limit=5) == sessions[1:]
    assert before["splitting_maul"].per_cord.mid < rates["splitting_maul"].per_cord.mid < 4.0
    assert rates["splitting_maul"].sessions == 2
    assert rates["hydraulic_splitter"] == learn_splitting("hydraulic_splitter").hours
    assert {method: count.sessions for method, count in counts.items() if count.sessions} == {
        "splitting_maul": 1
    }
    stacked = TimeWork(key=new_key(), step="stacking", hours=3.0, worked_on=DAY, cords=2.0, pieces=900)
    time_work(desk, stacked)
    again = work_learnt(desk)
    assert again.methods == learnt.methods, "they are of splitting alone"
    assert {line.step: line.sessions for line in again.steps if line.sessions} == {"stacking": 1}
    for wrong in (
        {"cords": None},
        {"solid_m3": 1.0},
        {"hours": 0.0},
        {"method": "teeth"},
        {"method": ""},
        {"step": "resting"},
        {"step": "stacking"},
    ):
        good = TimeWork(key=new_key(), method="splitting_maul", hours=1.0, worked_on=DAY, cords=1.0)
        with pytest.raises(InputError):
            time_work(desk, replace(good, **wrong))


def test_hours_of_a_sheet_are_of_its_pieces_whether_they_are_counted_or_not(desk: Desk, load: int) -> None:
    """Rounds of 25 cm, no thicker than 11 cm: n pieces of 490.87 / n cm². One cord in 4 h by hydraulic splitter.

    For these pieces the published 2.5 h are 2.5 E / P, E and P the pieces in a cord by this size and by 12 cm. Prior
    weight 1 / 0.5² = 4, the session's 1 / (0.3² · 2) = 5.5556: (4 log(2.5 E / P) + 5.5556 log 4) / 9.5556.
    Twice as many pieces as the size says: weight of the count 1 / (0.3² · 0.5) = 22.2222, prior 1 / 0.35² = 8.1633,
    so 2^0.73134 = 1.6602 times E.
    """
    sheet = a_splitting_sheet(desk, load, diameters_m=(0.25,))
    work = TimeWork(
        key=new_key(),
        method="hydraulic_splitter",
        hours=4.0,
        worked_on=DAY,
        cords=1.0,
        piece_length_m=0.40,
        sheet_id=sheet,
    )
    time_work(desk, work)
    (before,) = work_sessions(desk)
    reckon_splitting_sheet(desk, ReckonSplittingSheet(key=new_key(), sheet_id=sheet), limit("found", 0.11))
    page = splitting_sheet(desk, sheet)
    assert page.work is not None
    assert page.classes[0].plan is not None
    count = len(page.classes[0].plan.pieces)
    by_size = expected_pieces(math.sqrt(math.pi / 4 * 0.25**2 / count), 0.40)
    hand = (4.0 * math.log(2.5 * by_size / expected_pieces(0.12, 0.41)) + math.log(4.0) / 0.18) / (
        4.0 + 1 / 0.18
    )
    assert page.work.hours.mid == pytest.approx(math.exp(hand))
    assert page.work.pieces.mid == pytest.approx(by_size), "nobody counted"
    assert before.thickness_m is None

    book = desk.book
    with book.write() as session:
        session.execute(sa.text("DELETE FROM work_session"))
    time_work(desk, replace(work, key=new_key(), pieces=round(2.0 * by_size)))
    counted = splitting_sheet(desk, sheet).work
    assert counted is not None
    assert counted.hours.mid == pytest.approx(math.exp(hand)), "a count of known pieces moves no hours"
    assert counted.pieces.mid == pytest.approx(1.6602 * by_size, rel=1e-3)

    # What somebody measured goes before what the sheet said: 24 cm pieces are a fifth of 11 cm ones.
    with book.write() as session:
        session.execute(sa.text("DELETE FROM work_session"))
    time_work(desk, replace(work, key=new_key(), thickness_m=0.24))
    (line,) = work_sessions(desk)
    thick = splitting_sheet(desk, sheet).work
    assert line.thickness_m == 0.24
    assert thick is not None
    assert thick.hours.mid > counted.hours.mid, "so long for so few pieces: longer for more of them"
    for wrong in ({"thickness_m": 2.0}, {"thickness_m": 0.1, "step": "stacking", "method": ""}):
        with pytest.raises(InputError, match="piece_thickness"):
            time_work(desk, replace(work, key=new_key(), **wrong))


def test_rounds_left_whole_take_no_hours_on_a_sheet(desk: Desk, load: int) -> None:
    sheet = a_splitting_sheet(desk, load, diameters_m=(0.08, 0.10), hand_m=0.12)
    reckon_splitting_sheet(desk, ReckonSplittingSheet(key=new_key(), sheet_id=sheet), limit("found", 0.12))
    work = splitting_sheet(desk, sheet).work
    assert work is not None
    assert (work.hours.low, work.hours.high, work.cord.split_share) == (0.0, 0.0, 0.0)
    mixed = a_splitting_sheet(desk, load, diameters_m=(0.10, 0.30), hand_m=0.04)
    reckon_splitting_sheet(desk, ReckonSplittingSheet(key=new_key(), sheet_id=mixed), limit("found", 0.12))
    page = splitting_sheet(desk, mixed)
    assert page.hand_m == 0.04, "thin pieces for small hands and stoves"


def test_a_book_without_sheets_gets_them_and_loses_them(book: Book) -> None:
    target = book.target  # type: ignore[attr-defined]
    tables = {"cut_sheet", "cut_sheet_log", "cut_tick", "cut_finding", "splitting_sheet", "work_session"}
    engine = make_engine(book_url(target), writing=True, foreign_keys=False)
    with engine.begin() as connection:
        migrations.downgrade(connection, "0006")
        assert not tables & set(sa.inspect(connection).get_table_names())
    with engine.begin() as connection:
        migrations.upgrade(connection)
        assert migrations.differences(connection) == []
        assert tables <= set(sa.inspect(connection).get_table_names())
    engine.dispose()
