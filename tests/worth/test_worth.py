"""What wood on offer is worth: one example step by step, and what must hold of every offer."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rickyard.cut import Saw, Session, Ware, cut_log, plan_cuts, sound_share
from rickyard.errors import InputError
from rickyard.measure import CORD_M3, Defect, LogRow, Spread, learn_yard_factor, measure_tree, solid_share
from rickyard.wood import UNNAMED, db_from_wet, find_species, solid_volume_factor
from rickyard.worth import (
    COST_KINDS,
    STEPS,
    Costs,
    Margin,
    Months,
    Netted,
    OfferedTree,
    PricedWare,
    Worth,
    assumed,
    logs_wood,
    main_drivers,
    netted,
    of_mix,
    rough_wood,
    step_hours,
    trees_wood,
    worth_of,
)

MAPLE, BIRCH, SPRUCE = (find_species(name) for name in ("sugar maple", "yellow birch", "red spruce"))
STOVE = PricedWare("stove 16 in", "split", 0.4064, 38000 / CORD_M3)
GREEN = PricedWare("green 16 in", "split", 0.4064, 29000 / CORD_M3, None)


def cords(count: float, *woods: tuple[object, float]) -> object:
    return rough_wood(count * CORD_M3, "stacked_m3", woods or [(MAPLE, 1.0)])


def test_one_example_step_by_step() -> None:
    """Ten solid cubic metres of sugar maple, one ware, every cost told: each figure by hand."""
    costs = Costs(
        wage_minor_h=2000,
        machine_minor_h=500,
        fuel_minor_l=100,
        vehicle_minor_km=50,
        space_minor_cord_month=200,
        metal_minor=3000,
        interest_year=0.06,
        delivery_km=20.0,
        trip_cords=2.0,
        kerf_m=0.0,
        hours=(("sawing", 1.0), ("splitting", 2.0), ("stacking", 1.5), ("loading", 0.5), ("delivering", 1.0)),
    )
    piece = 0.41
    ware = PricedWare("stove", "split", piece, 10_000.0, 0.20)
    found = worth_of(
        rough_wood(10.0, "solid_m3", [(MAPLE, 1.0)]),
        [ware],
        costs=costs,
        margin=Margin("cord", 5000.0),
        haul_minor=7700,
        months={MAPLE.id: Months(Spread(6.0, 9.0, 12.0))},
    )

    # A ninth is lost to splinters, ends and handling; what is left fills its share of a ranked stack.
    solid = 10.0 * (1.0 - 0.11)
    made_m3 = solid / solid_share("ranked", "split", piece).mid
    # Dried to 20 % of total mass it has shrunk.
    sold_m3 = made_m3 * solid_volume_factor(MAPLE, db_from_wet(0.20))
    made, sold = made_m3 / CORD_M3, sold_m3 / CORD_M3
    value = sold_m3 * 10_000.0
    green_t = (
        solid
        * (
            MAPLE.basic_density_kg_m3 * (1.0 + MAPLE.green_mc_db)
            + MAPLE.bark_volume_ratio * MAPLE.bark_basic_density_kg_m3 * (1.0 + MAPLE.bark_green_mc_db)
        )
        / 1000.0
    )
    parts = {
        "sawing": 1.0 * made * 2000,
        "splitting": 2.0 * made * 2000,
        "stacking": 1.5 * made * 2000,
        "loading": 0.5 * sold * 2000,
        "delivering": 1.0 * sold * 2000,
        "machine": (1.0 + 2.0) * made * 500,
        "fuel": 1.91 * green_t * 100,
        "haul": 7700.0,
        "vehicle": sold / 2.0 * 2.0 * 20.0 * 50,
        "space": sold * 9.0 * 200,
        "waiting": value * 0.06 * 9.0 / 12.0,
        "metal": 0.005 * made * 3000,
    }
    assert {part.kind: part.minor for part in found.parts} == {
        kind: pytest.approx(minor, abs=0.51) for kind, minor in parts.items()
    }
    assert found.cords == pytest.approx(sold)
    assert found.value.mid == round(value)
    assert found.hours.mid == pytest.approx(4.5 * made + 1.5 * sold)
    assert found.wanted_minor == round(5000.0 * sold)
    assert found.most_to_pay.mid == found.value.mid - found.cost_minor - found.wanted_minor
    assert found.most_to_pay.mid == pytest.approx(value - sum(parts.values()) - 5000.0 * sold, abs=8)
    assert found.margin_per_hour(0) == pytest.approx((value - sum(parts.values())) / found.hours.mid, abs=0.2)


quantities = st.floats(0.05, 60.0)
wholes = st.integers(-2_000_000, 2_000_000)
margins = st.one_of(
    st.builds(Margin, st.just("share"), st.floats(0.0, 0.9)),
    st.builds(Margin, st.sampled_from(("cord", "load", "hour")), st.floats(0.0, 50_000.0)),
)
own_costs = st.builds(
    Costs,
    wage_minor_h=st.one_of(st.none(), st.integers(0, 10_000)),
    machine_minor_h=st.one_of(st.none(), st.integers(0, 10_000)),
    space_minor_cord_month=st.one_of(st.none(), st.integers(0, 2000)),
    interest_year=st.floats(0.0, 0.3),
    delivered_share=st.floats(0.0, 1.0),
    method=st.sampled_from(("hydraulic_splitter", "splitting_maul", "processor")),
)


@settings(max_examples=40)
@given(quantities, own_costs, margins, wholes, st.sampled_from(("stacked_m3", "loose_m3", "solid_m3")))
def test_what_holds_of_every_offer(count: float, costs: Costs, margin: Margin, price: int, kind: str) -> None:
    found = worth_of(
        rough_wood(count, kind, [(MAPLE, 0.7), (BIRCH, 0.3)], origin="yard", rot_share=0.1),
        [STOVE, GREEN],
        costs=costs,
        margin=margin,
        haul_minor=1234,
        draws=200,
    )

    assert [part.kind for part in found.parts] == list(COST_KINDS)
    assert sum(part.minor for part in found.parts) == found.cost_minor
    # A unit more paid leaves a unit less.
    assert found.margin_minor(price) - found.margin_minor(price + 1) == 1
    # At the most to pay exactly the chosen margin is left.
    assert found.margin_minor(found.most_to_pay.mid) == found.wanted_minor
    for money in (found.value, found.cost, found.left, found.most_to_pay):
        assert money.low <= money.mid <= money.high
    assert found.hours.mid == pytest.approx(sum(step.hours for step in found.steps))
    assert 0.0 < found.odds(price) < 1.0
    assert found.odds(price) >= found.odds(price + 1000)
    # A straight line tells most of it, and never more than all but for chance.
    assert 0.5 < sum(one.share for one in found.drivers) < 1.2


@settings(max_examples=20)
@given(st.floats(1.01, 3.0), quantities)
def test_dearer_wares_make_it_worth_more(times: float, count: float) -> None:
    """And more of the same wood at the same price is never worth less by the cord."""
    offered = rough_wood(count, "stacked_m3", [(MAPLE, 1.0)])
    plain = worth_of(offered, [STOVE], draws=100)
    dearer = worth_of(offered, [replace(STOVE, minor_per_m3=times * STOVE.minor_per_m3)], draws=100)

    assert dearer.value.mid > plain.value.mid
    assert dearer.most_to_pay.mid > plain.most_to_pay.mid
    assert dearer.cost_minor == pytest.approx(plain.cost_minor, abs=2)


def test_the_range_comes_of_the_draws_not_of_a_clamp() -> None:
    """The middle lies well within; the same seed says the same; twice the draws move it by little."""
    offered = cords(10)
    found = worth_of(offered, [STOVE])
    assert found.most_to_pay.low < found.most_to_pay.mid < found.most_to_pay.high
    assert worth_of(offered, [STOVE]) == found
    assert worth_of(offered, [STOVE], seed=1) != found
    again = worth_of(offered, [STOVE], draws=20_000, seed=7)
    reach = found.most_to_pay.high - found.most_to_pay.low
    assert again.most_to_pay.low == pytest.approx(found.most_to_pay.low, abs=0.08 * reach)
    assert again.most_to_pay.high == pytest.approx(found.most_to_pay.high, abs=0.08 * reach)
    # At the most to pay the chosen margin is left on average: about as often as not.
    assert 0.4 < found.odds(found.most_to_pay.mid) < 0.7


def test_a_measured_offer_is_surer_and_says_what_drives_it() -> None:
    told = Costs(hours=tuple((step, 1.0) for step in STEPS))
    rough = worth_of(cords(10), [STOVE], costs=told)
    log = LogRow(species_id=MAPLE.id, length_m=3.66, mid_d_m=0.30)
    listed = worth_of(logs_wood([log] * 90), [STOVE], costs=told)

    def wide(worth: Worth) -> float:
        return (worth.value.high - worth.value.low) / worth.value.mid

    assert wide(listed) < wide(rough)
    assert main_drivers(rough)[0].name in ("quantity", "price")
    assert "quantity" in {one.name for one in main_drivers(rough)}
    guessed = worth_of(cords(10), [STOVE])
    assert main_drivers(guessed)[0].name == "splitting", "hours that nobody timed come first"


def test_logs_go_through_the_cutting_plan() -> None:
    """What the plan gives, times what is not lost; no piece holds metal, nor rot however small."""
    plain = LogRow(species_id=MAPLE.id, length_m=2.0, small_d_m=0.28, large_d_m=0.32)
    nailed = replace(plain, defects=(Defect("metal", 0.5, 0.9),))
    rotten = replace(plain, defects=(Defect("rot", 0.0, 1.0, share=0.25),))
    logs = [plain, plain, nailed, rotten]
    costs = Costs(kerf_m=0.008)
    found = worth_of(logs_wood(logs), [STOVE], costs=costs)

    plan = plan_cuts([cut_log(row) for row in logs], [Ware("stove", 0.4064, 1.0)], Saw(0.008))
    pieces = [sum(cut.solid_m3 for cut in one.cuts) for one in plan.logs]
    assert len(plan.logs[2].cuts) < len(plan.logs[0].cuts)
    assert [len(one.cuts) for one in plan.logs] == [4, 4, 3, 2]
    assert sum(one.solid_m3 for one in found.yields) == pytest.approx(sum(pieces) * (1.0 - 0.05))
    assert [sound_share(row) for row in logs[:3]] == [1.0, 1.0, 1.0]
    assert sound_share(rotten) == pytest.approx(0.875, abs=0.01)
    (through,) = plan_cuts([cut_log(rotten, small_cores=True)], [Ware("stove", 0.4064, 1.0)], Saw(0.008)).logs
    assert len(through.cuts) == 4
    assert any("core of under half the cut: 1" in str(note) for note in found.notes)


def test_the_best_ware_is_chosen_after_its_waiting() -> None:
    """Green sells at once: with dear space and long drying it is the better ware, else dry is."""
    slow = {MAPLE.id: Months(Spread(20.0, 24.0, 30.0))}
    dear = Costs(space_minor_cord_month=1500)
    assert worth_of(cords(5), [STOVE, GREEN], costs=dear, months=slow).yields[0].ware == GREEN
    assert worth_of(cords(5), [STOVE, GREEN]).yields[0].ware == STOVE


def test_trees_are_their_stems() -> None:
    tree = OfferedTree(MAPLE, 0.45, 20.0, 3)
    offered = trees_wood([tree], country="CA")
    one = measure_tree(MAPLE, 0.45, 20.0, country="CA")
    assert offered.solid_m3.mid == pytest.approx(3 * one.usable_m3)
    street = trees_wood([tree], country="CA", origin="yard")
    assert street.solid_m3.high / street.solid_m3.low > offered.solid_m3.high / offered.solid_m3.low
    metal = {part.kind: part.minor for part in worth_of(street, [STOVE]).parts}["metal"]
    assert metal > {part.kind: part.minor for part in worth_of(offered, [STOVE]).parts}["metal"]


def test_hours_are_assumed_until_timed_or_told() -> None:
    known = {rate.step: rate for rate in step_hours(Costs())}
    assert known["splitting"].per_cord.mid == 2.5
    assert known["stacking"].source
    timed = {rate.step: rate for rate in step_hours(Costs(), [Session("hydraulic_splitter", 10.0, 15.0)] * 6)}
    assert 1.5 < timed["splitting"].per_cord.mid < 1.7
    assert timed["splitting"].own > 0.9
    told = {rate.step: rate for rate in step_hours(Costs(hours=(("splitting", 1.2),)))}
    assert (told["splitting"].per_cord.mid, told["splitting"].own) == (1.2, 1.0)
    processor = {rate.step: rate for rate in step_hours(Costs(method="processor"))}
    assert processor["sawing"].per_cord == Spread.exactly(0.0)
    assert Costs(method="processor").minor("machine_minor_h") == 3000


def test_every_step_learns_from_its_own_sessions_only() -> None:
    """Each from what stands without them; shorter pieces take more cuts; a step that was told as a figure stays."""
    before = {rate.step: rate for rate in step_hours(Costs())}
    for step in STEPS:
        method = "hydraulic_splitter" if step == "splitting" else ""
        half = Session(method, 8.0, 4.0 * before[step].per_cord.mid, step=step)
        after = {rate.step: rate for rate in step_hours(Costs(), [half] * 8)}
        assert 0.5 < after[step].per_cord.mid / before[step].per_cord.mid < 0.65
        assert (after[step].sessions, before[step].sessions) == (8, 0)
        assert 0.75 < after[step].own < 1.0
        assert after[step].per_cord.high < before[step].per_cord.mid
        assert {other: rate for other, rate in after.items() if other != step} == {
            other: rate for other, rate in before.items() if other != step
        }
        told = Costs(hours=((step, 7.0),))
        assert {rate.step: rate for rate in step_hours(told, [half])}[step].per_cord.mid == 7.0
    short = Session("", 8.0, 12.0, step="sawing", piece_length_m=0.205)
    alike = Session("", 8.0, 6.0, step="sawing")
    assert step_hours(Costs(), [short])[0] == step_hours(Costs(), [alike])[0]
    brought = Session("", 8.0, 4.0, step="delivering")
    share = step_hours(Costs(delivered_share=0.25), [brought])[-1]
    assert share.per_cord.mid == pytest.approx(0.25 * step_hours(Costs(), [brought])[-1].per_cord.mid)
    assert step_hours(Costs(method="processor"), [alike])[0].per_cord == Spread.exactly(0.0)


def test_every_assumed_figure_says_where_it_is_from() -> None:
    for one in assumed().values():
        assert one.basis, one.name
        assert one.source, one.name
        assert not (one.source == "no source" and "published" in one.basis), one.name


def test_a_wide_name_is_sold_as_what_it_may_be_and_said() -> None:
    hard = replace(STOVE, species=frozenset({MAPLE.id, BIRCH.id}))
    found = worth_of(rough_wood(5.0, "stacked_m3", [(UNNAMED, 1.0)]), [hard])
    assert any("wide name" in str(note) for note in found.notes)
    assert not any("wide name" in str(note) for note in worth_of(cords(5), [hard]).notes)


def test_wood_that_nobody_buys_is_worth_nothing_and_said() -> None:
    hard = replace(STOVE, species=frozenset({MAPLE.id}))
    mixed = worth_of(rough_wood(10.0, "stacked_m3", [(MAPLE, 0.5), (SPRUCE, 0.5)]), [hard])
    alone = worth_of(rough_wood(5.0, "stacked_m3", [(MAPLE, 1.0)]), [hard])
    assert mixed.value.mid == pytest.approx(alone.value.mid, abs=2)
    assert any("red spruce" in str(note) for note in mixed.notes)
    with pytest.raises(InputError, match="something sold"):
        worth_of(rough_wood(5.0, "stacked_m3", [(SPRUCE, 1.0)]), [hard])


@pytest.mark.parametrize("kind", ["stacked_m3", "loose_m3", "solid_m3", "green_kg"])
def test_no_wood_is_a_clear_error(kind: str) -> None:
    with pytest.raises(InputError, match="wood above zero"):
        rough_wood(0.0, kind, [(MAPLE, 1.0)])


def test_nonsense_is_refused() -> None:
    with pytest.raises(InputError, match="at least one log"):
        logs_wood([])
    with pytest.raises(InputError, match="thicker than 4 in"):
        trees_wood([OfferedTree(MAPLE, 0.06)])
    with pytest.raises(InputError, match="1 to 200 trees"):
        trees_wood([])
    with pytest.raises(InputError, match="rot_share"):
        rough_wood(1.0, "solid_m3", [(MAPLE, 1.0)], rot_share=1.5)
    with pytest.raises(InputError, match="margin"):
        Margin("share", 2.0)
    with pytest.raises(InputError, match="step"):
        Costs(hours=(("felling", 2.0),))
    with pytest.raises(InputError, match="wage_minor_h"):
        Costs(wage_minor_h=-1)
    with pytest.raises(InputError, match="Kindling"):
        replace(STOVE, form="kindling")
    with pytest.raises(InputError, match="quantity"):
        rough_wood(math.nan, "solid_m3", [(MAPLE, 1.0)])


def test_many_different_logs_are_reckoned_without_a_plan_and_said() -> None:
    rows = [LogRow(species_id=MAPLE.id, length_m=2.0 + number / 1000, mid_d_m=0.3) for number in range(301)]
    found = worth_of(logs_wood(rows), [STOVE], draws=50)
    assert any("without a cutting plan" in str(note) for note in found.notes)
    few = worth_of(logs_wood(rows[:3]), [STOVE], draws=50)
    # Without a plan more is taken to be lost, whether or not pieces fit these lengths.
    sawn = sum(row.net().net_m3 for row in rows) * 0.4064 / 0.4144
    assert [one.solid_m3 for one in found.yields] == [pytest.approx(sawn * (1.0 - 0.11))]
    assert not any("without a cutting plan" in str(note) for note in few.notes)


def test_a_cubic_metre_is_valued_net_of_what_hangs_on_the_ware() -> None:
    """A solid cubic metre of sugar maple as 41 cm and as 30.75 cm pieces, dry and green, each figure by hand.

    41 cm: s is the share of wood in its stacks, k what is left of the volume when it is dry. It makes 1/s stacked m³
    and sells k/s of it at 100.00. Work for a cord: 1 h sawing, 2 h splitting at 20 + 5 an hour and 1.5 h stacking at
    20: 105.00. Space 2.00 a cord and month for 9 months of k/s; waiting 6 % a year for 9 months: 4.5 % of the gross.
    30.75 cm: 0.41 / 0.3075 = 4/3 as many cuts and splits: 4/3 · 75 + 30 = 130.00. Green: nothing shrinks, nothing is
    stacked or waits: 75.00 a cord.
    """
    costs = Costs(
        wage_minor_h=2000,
        machine_minor_h=500,
        space_minor_cord_month=200,
        interest_year=0.06,
        hours=(("sawing", 1.0), ("splitting", 2.0), ("stacking", 1.5), ("loading", 0.5), ("delivering", 1.0)),
    )
    rates = {rate.step: rate for rate in step_hours(costs)}
    months = Months(Spread(6.0, 9.0, 12.0))
    k = solid_volume_factor(MAPLE, db_from_wet(0.20))

    def found(length_m: float, wet: float | None) -> Netted:
        ware = PricedWare("x", "split", length_m, 10_000.0, wet)
        return netted(MAPLE, ware, costs, rates, months, learn_yard_factor(()))

    for length, wet, work in ((0.41, 0.20, 10_500.0), (0.3075, 0.20, 13_000.0), (0.41, None, 7_500.0)):
        made = 1.0 / solid_share("ranked", "split", length).mid
        dry = wet is not None
        sold = made * k if dry else made
        gross = sold * 10_000.0
        net = gross - made / CORD_M3 * work
        if dry:
            net -= 200.0 * 9.0 * sold / CORD_M3 + 0.045 * gross
        one = found(length, wet)
        assert one.gross.mid == pytest.approx(gross)
        assert one.net.mid == pytest.approx(net)
        assert one.gross.low < gross < one.gross.high
        assert one.net.low < net < one.net.high

    # A mix is the mean by volume: three parts of one to one of another.
    long, short = found(0.41, 0.20), found(0.3075, 0.20)
    mix = of_mix([(long, 3.0), (short, 1.0)])
    assert mix.net.mid == pytest.approx((3.0 * long.net.mid + short.net.mid) / 4.0)
