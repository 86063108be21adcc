"""Logs with defects in the book, loads measured twice, and what the yard's own stacks teach."""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
from PIL import Image

from rickyard.book import stock
from rickyard.book.models import Entry, Load, LogPiece, Posting, StackMeasure
from rickyard.desk.closing import EmptyStack, empty_stack
from rickyard.desk.context import Desk, new_key
from rickyard.desk.load_measures import (
    FollowMeasures,
    NoteMeasure,
    SetMeasureAside,
    TruckFigures,
    WeightFigures,
    follow_measures,
    load_measures,
    note_measure,
    set_measure_aside,
)
from rickyard.desk.loads import load_page
from rickyard.desk.log_lists import gauge_logs
from rickyard.desk.photo_measure import (
    Marks,
    MeasureByPhoto,
    look_by_photo,
    marks_of_stack,
    measure_by_photo,
)
from rickyard.desk.photos import AddPhoto, add_photo
from rickyard.desk.stacking import (
    Dimensions,
    MeasureStack,
    OpeningStack,
    PiecesFacts,
    StackUp,
    measure_stack,
    opening_stack,
    stack_up,
)
from rickyard.desk.stacks import stack_named, stack_page
from rickyard.desk.undoing import UndoStackUp, undo_stack_up
from rickyard.desk.wood_in import Harvest, TakeInLogs, expect_logs, take_in_logs
from rickyard.desk.yard_factor import factor_in, stacking_page, yard_factor
from rickyard.errors import InputError
from rickyard.measure import (
    Defect,
    LogRow,
    inside_bark,
    log_list_total,
    reconcile,
    solid_share,
    truck_measure,
    weighed_load,
)
from rickyard.measure.logs import HAND_SD_SHARE
from rickyard.wood import find_species, get_species

HARVEST = Harvest(country="CA", subdivision="NB", county="York")
MAPLE = "acer_saccharum"
# A log 4 m long and 0.30 m thick at mid length inside bark: 0.28274 m³ by Huber.
SOUND = LogRow(MAPLE, length_m=4.0, mid_d_m=0.30)
GROSS_M3 = math.pi / 4 * 0.30**2 * 4.0


def take(desk: Desk, logs: tuple[LogRow, ...], *, over_bark: bool = False, came: date | None = None) -> int:
    command = TakeInLogs(
        key=new_key(),
        source="Fernhollow woodlot",
        harvest=HARVEST,
        arrived_on=came or date(2026, 3, 10),
        logs=logs,
        over_bark=over_bark,
    )
    return int(take_in_logs(desk, command)["load_id"])


def held_kg(desk: Desk, load_id: int, *, bark: bool = False) -> float:
    with desk.book.read() as session:
        held = stock(session, session.get_one(Load, load_id).spot_id)
    return sum(grams for key, grams in held.items() if (key.form == "bark") == bark) / 1000


def cut_all(
    desk: Desk,
    loads: tuple[int, ...],
    outside_m3: float,
    name: str,
    share: float = 1.0,
    length_m: float = 0.4,
) -> int:
    """All of the loads in one row of splits, 1.5 m high, as long as the outside volume wants."""
    pieces = PiecesFacts(name=name, piece_length_m=length_m, thickness_m=0.1, stacked_on=date(2026, 4, 15))
    outside = Dimensions(length_m=outside_m3 / 1.5 / length_m, heights_m=(1.5,))
    sources = tuple((load_id, share) for load_id in loads)
    command = StackUp(key=new_key(), sources=sources, pieces=pieces, outside=outside)
    return int(stack_up(desk, command)["stack_id"])


# -- logs with defects and sweep --------------------------------------------------------------
def test_a_hollow_log_enters_the_journal_net(desk: Desk) -> None:
    """A core of 0.10 m through half the length is pi/4 0.1² 2 = 0.01571 m³; the bark is that of the whole log."""
    hollow = replace(SOUND, defects=(Defect("hollow", 0.0, 2.0, diameter_m=0.10),))
    load = take(desk, (hollow,))

    wood = get_species(MAPLE)
    net = GROSS_M3 - math.pi / 4 * 0.10**2 * 2.0
    assert held_kg(desk, load) == pytest.approx(net * wood.basic_density_kg_m3, abs=0.001)
    bark = GROSS_M3 * wood.bark_volume_ratio * wood.bark_basic_density_kg_m3
    assert held_kg(desk, load, bark=True) == pytest.approx(bark, abs=0.001)
    line = load_page(desk, load).logs[0]
    assert line.gross_m3 == pytest.approx(GROSS_M3)
    assert line.volume_m3 == pytest.approx(net)
    assert line.lost_m3 == (("hollow", pytest.approx(GROSS_M3 - net)),)
    with desk.book.read() as session:
        entry = session.query(Entry).filter(Entry.kind == "take_in").one()
        posting = session.query(Posting).filter(Posting.form == "log", Posting.mass_g > 0).one()
    assert entry.reason == "logs measured: defects taken off"
    assert posting.method == "log formulas, less 0.016 m³ lost"


def test_sweep_lengthens_and_metal_takes_its_whole_length(desk: Desk) -> None:
    """Sag 0.2 m on 4 m: 8/3 (0.05)² = 0.00667 longer. Metal over 0.3 m takes 0.3 m of the cut."""
    row = replace(SOUND, sweep_m=0.2, defects=(Defect("metal", 1.0, 1.3), Defect("fork", 3.0, 3.2)))
    line = load_page(desk, take(desk, (row,))).logs[0]

    along = GROSS_M3 * (1 + 8 / 3 * 0.05**2)
    assert line.gross_m3 == pytest.approx(along)
    assert line.volume_m3 == pytest.approx(along - math.pi / 4 * 0.30**2 * 0.3)
    assert [defect.kind for defect in line.defects] == ["metal", "fork"]
    assert line.sweep_m == 0.2


def test_a_log_of_nothing_is_taken_and_a_load_of_nothing_is_not(desk: Desk) -> None:
    rotten = replace(SOUND, defects=(Defect("rot", 0.0, 4.0),))
    load = take(desk, (SOUND, rotten))

    assert [line.volume_m3 for line in load_page(desk, load).logs] == [pytest.approx(GROSS_M3), 0.0]
    with pytest.raises(InputError, match="sound wood"):
        take(desk, (rotten,))


def test_a_slip_names_the_log(desk: Desk) -> None:
    past = replace(SOUND, defects=(Defect("rot", 3.0, 5.0),))
    with pytest.raises(InputError, match="in log 2") as caught:
        take(desk, (SOUND, past))
    assert caught.value.field == "logs"
    with desk.book.read() as session:
        assert session.query(LogPiece).count() == 0


def test_over_bark_takes_the_species_own_where_none_is_told(desk: Desk) -> None:
    told = replace(SOUND, bark_thickness_m=0.01)
    load = take(desk, (SOUND, told), over_bark=True)

    own = inside_bark(get_species(MAPLE), 0.30)
    first, second = load_page(desk, load).logs
    assert first.volume_m3 == pytest.approx(math.pi / 4 * own.diameter_m**2 * 4.0)
    assert first.bark_by_species
    assert second.volume_m3 == pytest.approx(math.pi / 4 * 0.28**2 * 4.0)
    assert not second.bark_by_species


def test_the_spread_of_a_load_grows_with_rot_and_bark_by_species() -> None:
    """Many sound logs keep the hand's twentieth; errors of defects are half shared, so many do not make them vanish."""
    rotten = replace(SOUND, defects=(Defect("rot", 0.0, 4.0, share=0.3),))
    sound = gauge_logs((SOUND,) * 400)
    assert HAND_SD_SHARE < sound.sd_share < 1.2 * HAND_SD_SHARE
    assert sound.solid_m3 == log_list_total((SOUND,) * 400).net_m3
    one, many = gauge_logs((rotten,)).sd_share, gauge_logs((rotten,) * 400).sd_share
    assert sound.sd_share < many < one
    assert many > 0.6 * one
    assert gauge_logs((SOUND,) * 400, over_bark=True).sd_share > sound.sd_share


def test_what_is_expected_is_what_comes(desk: Desk) -> None:
    logs = (SOUND, replace(SOUND, defects=(Defect("rot", 0.0, 1.0, share=0.5),), sweep_m=0.1))
    expected = expect_logs(gauge_logs(logs))
    page = load_page(desk, take(desk, logs))
    assert expected.total is not None
    assert page.as_arrived.total is not None
    assert page.as_arrived.total.solid_m3.mid == pytest.approx(expected.total.solid_m3.mid, rel=1e-5)
    assert page.as_arrived.total.solid_m3.low == pytest.approx(expected.total.solid_m3.low, rel=1e-5)


# -- one load measured twice ------------------------------------------------------------------
def note(desk: Desk, load: int, **how: object) -> int:
    return int(note_measure(desk, NoteMeasure(key=new_key(), load_id=load, **how))["measure_id"])  # type: ignore[arg-type]


def test_a_weight_beside_a_rough_load_moves_nothing(desk: Desk, load: int) -> None:
    """Two measures side by side: their weights, the estimate of `reconcile`, and what the law says of weight."""
    before = held_kg(desk, load)
    note(desk, load, weight=WeightFigures(net_kg=26_000.0), note="ticket 118")

    page = load_measures(desk, load)
    assert held_kg(desk, load) == before
    assert [line.kind for line in page.lines] == ["first", "weight"]
    shares = [(find_species("sugar maple"), 0.6), (find_species("yellow birch"), 0.4)]
    assert page.lines[1].solid_m3.mid == pytest.approx(weighed_load(26_000.0, shares).solid_m3.mid, rel=1e-4)
    assert page.together is not None
    wanted = reconcile([("a", page.lines[0].solid_m3), ("b", page.lines[1].solid_m3)])
    assert page.together.solid_m3 == wanted.solid_m3
    assert [line.weight for line in page.lines] == [pytest.approx(weight) for weight in wanted.weights]
    assert page.booked_m3 == pytest.approx(page.lines[0].solid_m3.mid)
    assert page.law
    assert load_measures(desk, take(desk, (SOUND,))).law == ()


def test_the_book_follows_by_a_deed_with_its_reason_and_only_what_is_left(desk: Desk, load: int) -> None:
    """Half the load is cut: the stack stays, the rest moves to the estimate; following again moves nothing."""
    first = load_measures(desk, load).lines[0].solid_m3.mid
    stack_kg = held_kg(desk, load) / 2
    cut_all(desk, (load,), first / 2 / 0.66, "B1", share=0.5)
    note(desk, load, truck=TruckFigures(width_m=2.4, fill_heights_m=(1.9,), piece_length_m=2.5, tiers=4))
    left = held_kg(desk, load)
    together = load_measures(desk, load).together
    assert together is not None
    factor = together.solid_m3.mid / first

    answer = follow_measures(desk, FollowMeasures(key=new_key(), load_id=load, reason="weighed at the mill"))

    assert held_kg(desk, load) == pytest.approx(left * factor, rel=1e-5)
    assert left == pytest.approx(stack_kg, rel=1e-3)
    assert answer["difference_g"] == pytest.approx(1000 * left * (factor - 1), abs=3)
    page = load_measures(desk, load)
    assert page.booked_m3 == pytest.approx(together.solid_m3.mid)
    assert [row.reason for row in page.followed] == ["weighed at the mill"]
    assert page.lines[0].solid_m3.mid == pytest.approx(first)
    again = follow_measures(desk, FollowMeasures(key=new_key(), load_id=load, reason="once more"))
    assert again["difference_g"] == 0
    with desk.book.read() as session:
        assert session.get_one(Load, load).mass_sd_share < 0.2


def test_a_measure_set_aside_counts_no_more_and_the_book_can_go_back(desk: Desk, load: int) -> None:
    before = held_kg(desk, load)
    slip = note(desk, load, weight=WeightFigures(net_kg=80_000.0))
    page = load_measures(desk, load)
    assert page.together is not None
    assert not page.together.agree
    assert page.together.notes
    follow_measures(desk, FollowMeasures(key=new_key(), load_id=load, reason="weighed"))
    assert held_kg(desk, load) > 1.2 * before

    set_measure_aside(desk, SetMeasureAside(key=new_key(), measure_id=slip))
    assert load_measures(desk, load).together is None
    follow_measures(desk, FollowMeasures(key=new_key(), load_id=load, reason="pounds taken for kilograms"))
    assert held_kg(desk, load) == pytest.approx(before, rel=1e-5)
    with pytest.raises(InputError, match="that counts"):
        set_measure_aside(desk, SetMeasureAside(key=new_key(), measure_id=slip))


def test_logs_that_come_later_are_a_measure_too(desk: Desk, load: int) -> None:
    rows = (replace(SOUND, defects=(Defect("hollow", 0.0, 4.0, diameter_m=0.1),)),) * 80
    note(desk, load, logs=rows, over_bark=True)

    line = load_measures(desk, load).lines[1]
    gauged = gauge_logs(rows, over_bark=True)
    assert line.solid_m3 == gauged.solid_m3
    assert len(line.told["logs"]) == 80
    assert line.told["lost_m3"]["hollow"] > 1.0


def test_what_cannot_be_noted_or_followed_is_said(desk: Desk, load: int) -> None:
    with pytest.raises(InputError, match="one way of measuring"):
        note(desk, load)
    with pytest.raises(InputError, match="more than one way"):
        follow_measures(desk, FollowMeasures(key=new_key(), load_id=load, reason="why"))
    solid = load_measures(desk, load).lines[0].solid_m3.mid
    note(desk, load, truck=TruckFigures(width_m=2.4, fill_heights_m=(1.9,), piece_length_m=2.5, tiers=4))
    cut_all(desk, (load,), solid / 0.66, "B1")
    with pytest.raises(InputError, match="used up"):
        follow_measures(desk, FollowMeasures(key=new_key(), load_id=load, reason="why"))
    with pytest.raises(InputError, match="used up"):
        note(desk, load, weight=WeightFigures(net_kg=9000.0))


def test_the_truck_is_measured_as_the_command_measures_it(desk: Desk, load: int) -> None:
    figures = TruckFigures(width_m=2.4, fill_heights_m=(1.9, 2.1), piece_length_m=2.5, tiers=4)
    note(desk, load, truck=figures)
    assert (
        load_measures(desk, load).lines[1].solid_m3 == truck_measure(2.4, (1.9, 2.1), 2.5, tiers=4).solid_m3
    )


# -- a stack on a photo -----------------------------------------------------------------------
def photo_of(desk: Desk, kind: str, subject: int) -> int:
    out = io.BytesIO()
    Image.new("RGB", (1000, 600), (90, 110, 70)).save(out, "PNG")
    command = AddPhoto(key=new_key(), content=out.getvalue(), subject_kind=kind, subject_id=subject)
    return int(add_photo(desk, command)["photo_id"])


def marked(photo: int) -> Marks:
    """A board of 1.0 × 0.5 m at 100 px a metre and a face of 6.0 × 1.5 m."""
    return Marks(
        photo_id=photo,
        board_width_m=1.0,
        board_height_m=0.5,
        corners_px=((300, 200), (400, 200), (400, 250), (300, 250)),
        outline_px=((100, 150), (700, 150), (700, 300), (100, 300)),
        mark_sd_px=1.0,
    )


def test_a_stack_measured_on_a_photo_is_measured_as_by_tape(desk: Desk, stack: int) -> None:
    """9 m² of face, pieces of 0.406 m, three rows: 10.962 m³, and the book follows as it does a tape."""
    marks = marked(photo_of(desk, "stack", stack))
    looked = look_by_photo(desk, stack, marks, rows=3)
    assert looked.outside_m3.mid == pytest.approx(9.0 * 0.406 * 3)
    with desk.book.read() as session:
        assert session.query(StackMeasure).count() == 1

    answer = measure_by_photo(desk, MeasureByPhoto(key=new_key(), stack_id=stack, marks=marks, rows=3))

    assert answer["outside_m3"] == pytest.approx(10.962)
    card = stack_page(desk, stack).card
    assert card.outside_m3 == pytest.approx(10.962, rel=1e-4)
    assert (card.length_m, card.height_m, card.rows) == (pytest.approx(6.0), pytest.approx(1.5), 3)
    kept = marks_of_stack(desk, stack)[answer["measure_id"]]
    assert kept.marks.corners_px == marks.corners_px
    assert kept.area_m2 == looked.measure.area_m2
    said = stack_page(desk, stack).by_photo
    assert said is not None
    assert said.mid == pytest.approx(10.962)
    assert said.low < said.mid < said.high
    assert said.high / said.low == pytest.approx(kept.area_m2.high / kept.area_m2.low)


def test_a_photo_of_something_else_measures_no_stack(desk: Desk, load: int, stack: int) -> None:
    marks = marked(photo_of(desk, "load", load))
    with pytest.raises(InputError, match="photo of this stack"):
        look_by_photo(desk, stack, marks)
    with pytest.raises(InputError, match="photo of this stack"):
        measure_by_photo(desk, MeasureByPhoto(key=new_key(), stack_id=stack, marks=marks))


# -- the yard's own stacking ------------------------------------------------------------------
def pair(desk: Desk, name: str, factor: float, logs: int = 20) -> tuple[int, int]:
    """A load that fills stacks with `factor` times the published share of wood."""
    load = take(desk, (SOUND,) * logs)
    kept = GROSS_M3 * logs * (1 - 0.0095 / 0.4095 - 0.02)
    outside = kept / (solid_share("ranked", "split", 0.4).mid * factor)
    return load, cut_all(desk, (load,), outside, name)


def test_loads_that_went_wholly_into_stacks_teach(desk: Desk) -> None:
    assert yard_factor(desk).loads == 0
    for number in range(5):
        pair(desk, f"C{number}", 1.10)

    page = stacking_page(desk)
    assert page.factor.loads == 5
    line = page.pairs[0]
    assert line.pair.lost_share == pytest.approx(0.0095 / 0.4095 + 0.02, rel=1e-3)
    assert line.share / line.published.mid == pytest.approx(1.10, rel=2e-3)
    assert [wood and wood.id for wood, _, _ in page.kinds] == [MAPLE]
    # Drawn towards the published share, and most of the way to what five loads say.
    assert 1.05 < page.factor.mean.mid < 1.10
    assert page.factor is not None
    assert yard_factor(desk) == page.factor


def test_half_a_load_or_a_rough_one_teaches_nothing(desk: Desk, load: int, stack: int) -> None:
    other = take(desk, (SOUND,) * 20)
    cut_all(desk, (other,), 0.5 * GROSS_M3 * 20 / 0.66, "C1", share=0.5)
    assert yard_factor(desk).loads == 0

    cut_all(desk, (other,), 0.5 * GROSS_M3 * 20 / 0.66, "C2")
    page = stacking_page(desk)
    assert page.factor.loads == 1
    assert [name for _, name in page.pairs[0].stacks] == ["C1", "C2"]


def test_stacks_of_several_loads_are_one_pair_and_a_slip_is_set_aside(desk: Desk) -> None:
    for number in range(4):
        pair(desk, f"C{number}", 1.0)
    two = (take(desk, (SOUND,) * 10), take(desk, (SOUND,) * 10))
    cut_all(desk, two, GROSS_M3 * 20 * 0.957 / 0.664 * 1.55, "D1")

    page = stacking_page(desk)
    assert len(page.pairs) == 5
    assert [line.aside for line in page.pairs] == [False] * 4 + [True]
    assert len(page.pairs[-1].loads) == 2
    assert page.factor.loads == 4
    assert page.notes


def test_new_estimates_use_it_and_the_book_does_not_move(desk: Desk) -> None:
    """Stacks made and loads taken before hold what they held; a stack taken in afterwards holds more wood."""
    stacks = [pair(desk, f"C{number}", 1.10)[1] for number in range(5)]
    with desk.book.read() as session:
        before = {row.stack_id: row.mass_g for row in session.query(StackMeasure)}
    own = yard_factor(desk)
    share = own.share("ranked", "split", 0.4, "acer")
    assert share.mid > 1.03 * solid_share("ranked", "split", 0.4).mid

    pieces = PiecesFacts(name="Z1", piece_length_m=0.4, thickness_m=0.1, stacked_on=date(2026, 5, 1))
    command = OpeningStack(
        key=new_key(),
        shares=((MAPLE, 1.0),),
        harvest=HARVEST,
        pieces=pieces,
        outside=Dimensions(length_m=5.0, heights_m=(1.5,)),
    )
    made = int(opening_stack(desk, command)["stack_id"])
    with desk.book.read() as session:
        after = {row.stack_id: row.mass_g for row in session.query(StackMeasure)}
    density = get_species(MAPLE).basic_density_kg_m3
    assert after[made] == pytest.approx(1000 * 5.0 * 1.5 * 0.4 * share.mid * density, rel=1e-4)
    assert {stack: after[stack] for stack in stacks} == {stack: before[stack] for stack in stacks}

    load = take(desk, (SOUND,) * 10)
    plain, ours = load_page(desk, load).as_arrived.total, load_page(desk, load, factor=own).as_arrived.total
    assert plain is not None
    assert ours is not None
    assert ours.ranked_m3.mid < 0.97 * plain.ranked_m3.mid
    assert ours.solid_m3 == plain.solid_m3


def test_the_factor_is_kept_while_nothing_changes(desk: Desk, on: Callable[[Desk, date], Desk]) -> None:
    pair(desk, "C1", 1.05)
    first = yard_factor(desk)
    assert yard_factor(on(desk, date(2026, 10, 9))) is first
    pair(desk, "C2", 1.05)
    assert yard_factor(desk).loads == 2


def test_what_is_kept_of_the_factor_is_what_is_reckoned_anew(desk: Desk, load: int, stack: int) -> None:
    """After every kind of deed that touches loads and stacks, whether it is one that teaches or not."""
    said: list[tuple[str, int]] = []

    def look(after: str) -> None:
        kept = yard_factor(desk)
        with desk.book.read() as session:
            assert kept == factor_in(session, desk.yard_id), after
        said.append((after, kept.loads))

    look("a rough load and its stack")
    first = take(desk, (SOUND,) * 20)
    look("a load")
    cut_all(desk, (first,), 0.5 * GROSS_M3 * 20 / 0.66, "C1", share=0.5)
    look("half of it")
    made = cut_all(desk, (first,), 0.5 * GROSS_M3 * 20 / 0.66, "C2")
    look("all of it")
    measure_stack(
        desk, MeasureStack(key=new_key(), stack_id=made, outside=Dimensions(length_m=2.0, heights_m=(1.0,)))
    )
    look("a stock-taking")
    empty_stack(desk, EmptyStack(key=new_key(), stack_id=made, reason="burnt"))
    look("a stack that is gone")
    second, _ = pair(desk, "C3", 1.05)
    look("another load")
    undo_stack_up(desk, UndoStackUp(key=new_key(), stack_id=stack_named(desk, "C3"), reason="another yard's"))
    look("its stacking taken back")
    cut_all(desk, (second,), GROSS_M3 * 20 / 0.7, "C4")
    look("stacked anew")

    assert [loads for _, loads in said] == [0, 0, 0, 1, 1, 1, 2, 1, 2]
