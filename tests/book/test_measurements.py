"""Measurements in the book, on both databases: marked pieces and weights in any order, readings judged, lessons
kept and forgotten, and what is worth measuring next."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import permutations

import numpy as np
import pytest

from rickyard import season
from rickyard.book import Book, check
from rickyard.book.models import Reading, StackLesson
from rickyard.desk import forecasts
from rickyard.desk.clashes import clashes
from rickyard.desk.closing import EmptyStack, empty_stack
from rickyard.desk.context import Desk, new_key
from rickyard.desk.forecast_inputs import ForecastInputs
from rickyard.desk.households import SetHousehold, set_household
from rickyard.desk.learning import ForgetLessons, forget_lessons, taught_page
from rickyard.desk.orders import PlaceOrder, place_order
from rickyard.desk.readings import AddReading, JudgeReading, add_reading, cautions_of, judge_reading, readings
from rickyard.desk.stacking import Dimensions, OpeningStack, PiecesFacts, opening_stack
from rickyard.desk.today import today
from rickyard.desk.wares import SetWare, WareFacts, set_ware
from rickyard.desk.witness import (
    MarkPieces,
    WeighPieces,
    mark_pieces,
    next_labels,
    weigh_pieces,
    witness_page,
)
from rickyard.desk.wood_in import Harvest
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.errors import InputError

STACKED, NOW = date(2026, 4, 1), date(2026, 7, 10)


def at(day: date):
    return lambda: datetime(day.year, day.month, day.day, 15, tzinfo=UTC)


@pytest.fixture
def desk(book: Book):
    facts = YardFacts(
        name="Thornbeck Yard",
        country="CA",
        subdivision="NB",
        climate_place="Fredericton, NB",
        timezone="America/Moncton",
    )
    return set_up_yard(book, facts, seed=7, clock=at(NOW))


def stack_of(desk: Desk, name: str = "A1", species: str = "Quercus rubra", row: str = "North") -> int:
    command = OpeningStack(
        key=new_key(),
        shares=((species, 1.0),),
        harvest=Harvest(country="CA", subdivision="NB", county="York"),
        pieces=PiecesFacts(
            name=name, piece_length_m=0.41, thickness_m=0.10, stacked_on=STACKED, row_label=row
        ),
        outside=Dimensions(length_m=8.0, heights_m=(1.5,), rows=2),
    )
    return int(opening_stack(desk, command)["stack_id"])


@pytest.fixture
def stack(desk: Desk) -> int:
    return stack_of(desk)


def mark(desk: Desk, stack: int, *kg: float, on: date = STACKED, step: float | None = 0.005):
    pieces = tuple((str(number + 1), mass) for number, mass in enumerate(kg))
    return mark_pieces(
        desk, MarkPieces(key=new_key(), stack_id=stack, pieces=pieces, marked_on=on, step_kg=step)
    )


def weigh(desk: Desk, stack: int, *kg: float | None, on: date, **said):
    weights = tuple((str(number + 1), mass) for number, mass in enumerate(kg))
    return weigh_pieces(
        desk, WeighPieces(key=new_key(), stack_id=stack, weights=weights, happened_on=on, **said)
    )


def day(n: int) -> date:
    return STACKED + timedelta(days=n)


def one(desk: Desk, stack: int):
    (line,) = [line for line in readings(desk, stack) if line.kind == "weighed"]
    return line


def codes(desk: Desk) -> set[str]:
    return {clash.code for clash in clashes(desk)}


def test_marked_pieces_are_weighed_and_come_to_one_ratio(desk, stack) -> None:
    mark(desk, stack, 2.0, 3.0, 2.5)
    answer = weigh(desk, stack, 1.8, 2.7, 2.3, on=day(30))
    line = one(desk, stack)
    page = witness_page(desk, stack)

    assert answer["clashes"] == []
    assert line.value == pytest.approx(6.8 / 7.5)
    assert (line.pieces, line.since) == (3, STACKED)
    assert line.scatter == pytest.approx(np.std([0.9, 0.9, 0.92], ddof=1))
    assert [piece.last_kg for piece in page.pieces] == [1.8, 2.7, 2.3]
    assert page.weigh_now
    assert page.days_since == (NOW - day(30)).days
    assert next_labels(page, 2) == ["4", "5"]


def test_a_marking_that_comes_late_counts_as_if_it_had_come_first(desk) -> None:
    """A phone's outbox and another's: marking, two weighings and an own oven sample in every order, one result."""
    found = []
    for number, order in enumerate(permutations(range(4))):
        if number % 5:
            continue
        stack = stack_of(desk, f"S{number}")
        deeds = [
            lambda s=stack: mark(desk, s, 2.0, 3.0),
            lambda s=stack: weigh(desk, s, 1.8, 2.7, on=day(30)),
            lambda s=stack: weigh(desk, s, 1.6, None, on=day(60)),
            lambda s=stack: add_reading(
                desk,
                AddReading(key=new_key(), stack_id=s, kind="oven", value=0.44, happened_on=STACKED, own=True),
            ),
        ]
        for index in order:
            deeds[index]()
        found.append(
            [(r.happened_on, r.kind, round(r.value, 6), r.pieces, r.since) for r in readings(desk, stack)]
        )
    assert all(lines == found[0] for lines in found)
    assert found[0][0][2:4] == (0.8, 1)
    assert found[0][2][3:] == (2, STACKED)


ODD_WEIGHTS = (
    ((1.8, 2.7, 4.0), "piece_heavy", 2),
    ((1.8, 2.7, 0.4), "piece_light", 2),
    ((1.8, 2.7, 1.7), "piece_stands_out", 2),
    ((1.8, 2.7, 2.25, 5.0), "piece_unknown", 3),
    ((None, None, None), "pieces_missing", 0),
    ((1.8, 2.7, None), None, 2),
)


def test_weights_that_cannot_be_are_kept_and_shown(desk) -> None:
    """Too heavy, too light, another piece, never marked, not found: the report stands, what fits counts."""
    for number, (kg, code, pieces) in enumerate(ODD_WEIGHTS):
        stack = stack_of(desk, f"A{number}")
        mark(desk, stack, 2.0, 3.0, 2.5)
        weigh(desk, stack, *kg, on=day(30))
        line = one(desk, stack)

        assert {clash.code for clash in clashes(desk, stack_id=stack)} == ({code} if code else set())
        assert line.pieces == pieces, code
        assert [mass for _, mass in line.weights] == list(kg)
        if pieces == 2:
            assert line.value == pytest.approx(0.9)
        ((inputs, _),) = [pair for pair in forecasts.wanted(desk) if pair[0].stack_id == stack]
        assert len(inputs.readings) == (1 if pieces else 0)


def test_heavier_than_last_time_asks_about_rain(desk, stack) -> None:
    mark(desk, stack, 2.0, 3.0)
    weigh(desk, stack, 1.7, 2.5, on=day(30))
    wet = weigh(desk, stack, 1.9, 2.8, on=day(40), wet=True)
    dry = weigh(desk, stack, 1.9, 2.8, on=day(41))

    assert wet["clashes"] == []
    assert len(dry["clashes"]) == 1
    assert codes(desk) == {"pieces_heavier"}


def test_late_reports_are_taken_with_a_clash(desk, stack) -> None:
    mark(desk, stack, 2.0, 3.0, on=STACKED - timedelta(days=3))
    empty_stack(desk, EmptyStack(key=new_key(), stack_id=stack, reason="sold out"))
    weigh(desk, stack, 1.7, 2.5, on=day(30))

    assert codes(desk) == {"marked_before_stacking", "stack_closed"}
    assert one(desk, stack).pieces == 2
    assert check(desk.book).problems == ()


def test_a_piece_marked_twice_shows_and_the_later_counts(desk, stack) -> None:
    mark(desk, stack, 2.0)
    mark(desk, stack, 2.2)
    weigh(desk, stack, 1.1, on=day(30))

    assert codes(desk) == {"marked_twice"}
    assert one(desk, stack).value == pytest.approx(0.5)


def test_pieces_of_one_wood_speak_for_that_wood(desk, stack) -> None:
    pieces = (("1", 2.0), ("2", 3.0))
    mark_pieces(
        desk,
        MarkPieces(key=new_key(), stack_id=stack, pieces=pieces, marked_on=STACKED, species="Quercus rubra"),
    )
    weigh(desk, stack, 1.8, 2.7, on=day(30))
    line = one(desk, stack)

    assert line.species is not None
    assert line.species.id == "quercus_rubra"


def test_a_replaced_piece_starts_anew(desk, stack) -> None:
    """Piece 2 was sold and another marked with its number: only pieces of one day are added up."""
    mark(desk, stack, 2.0, 3.0, 2.5)
    mark_pieces(desk, MarkPieces(key=new_key(), stack_id=stack, pieces=(("2", 2.8),), marked_on=day(20)))
    weigh(desk, stack, 1.8, 2.7, 2.25, on=day(30))
    line = one(desk, stack)

    assert (line.pieces, line.since) == (2, STACKED)
    assert line.value == pytest.approx(0.9)
    assert {piece.label: piece.start_kg for piece in witness_page(desk, stack).pieces}["2"] == 2.8


NONSENSE = (
    ({"weights": ()}, "pieces"),
    ({"weights": (("1", 1.0), ("1", 2.0))}, "mark"),
    ({"weights": (("1", 500.0),)}, "mass"),
    ({"weights": (("1", float("nan")),)}, "mass"),
    ({"weights": (("", 1.0),)}, "mark"),
    ({"step_kg": 50.0}, "scale_step"),
    ({"happened_on": date(2026, 12, 1)}, "happened_on"),
)


def test_nonsense_is_refused_and_nothing_written(desk, stack) -> None:
    for said, field in NONSENSE:
        plain = WeighPieces(key=new_key(), stack_id=stack, weights=(("1", 1.0),), happened_on=day(30))
        with pytest.raises(InputError) as caught:
            weigh_pieces(desk, replace(plain, **said))
        assert caught.value.field == field
    assert readings(desk, stack) == []
    with pytest.raises(InputError):
        mark(desk, stack, *[1.0] * 13)
    assert witness_page(desk, stack).pieces == ()
    assert check(desk.book).problems == ()


def test_several_pieces_by_a_meter_and_its_cautions(desk, stack) -> None:
    command = AddReading(
        key=new_key(),
        stack_id=stack,
        kind="meter",
        value=0.0,
        shown=(22.0, 24.0, 26.0),
        happened_on=day(60),
        temp_c=-4.0,
        face="surface",
    )
    add_reading(desk, command)
    (line,) = readings(desk, stack)

    assert (line.value, line.pieces, line.scatter, line.face) == (24.0, 3, 2.0, "surface")
    assert len(cautions_of(command)) == 2
    assert line.typed["shown"] == [22.0, 24.0, 26.0]
    with pytest.raises(InputError):
        add_reading(desk, replace(command, key=new_key(), shown=(22.0, 250.0)))


def test_an_oven_sample_is_reckoned_from_its_masses(desk, stack) -> None:
    plain = AddReading(
        key=new_key(), stack_id=stack, kind="oven", value=0.0, happened_on=day(0), masses=(250.0, 150.0)
    )
    add_reading(desk, plain)
    assert readings(desk, stack)[0].value == pytest.approx(0.4)
    assert readings(desk, stack)[0].typed["masses"] == [250.0, 150.0]
    for masses in ((250.0,), (150.0, 250.0), (250.0, 250.0), (250.0, 1.0)):
        with pytest.raises(InputError):
            add_reading(desk, replace(plain, key=new_key(), masses=masses))
    assert len(readings(desk, stack)) == 1


def test_a_reading_is_confirmed_or_set_aside_by_a_deed(desk, stack) -> None:
    answer = add_reading(
        desk, AddReading(key=new_key(), stack_id=stack, kind="oven", value=0.1, happened_on=day(5))
    )

    def judged(trust: str):
        judge_reading(desk, JudgeReading(key=new_key(), reading_id=answer["reading_id"], trust=trust))
        ((inputs, _),) = forecasts.wanted(desk)
        return inputs

    before = forecasts.wanted(desk)[0][0].fingerprint
    assert judged("right").readings[0][1].trust == "right"
    assert judged("aside").readings == ()
    assert readings(desk, stack)[0].value == 0.1
    assert judged("").fingerprint == before
    with pytest.raises(InputError):
        judge_reading(desk, JudgeReading(key=new_key(), reading_id=999, trust="right"))
    with pytest.raises(InputError):
        judged("perhaps")


def made_up(inputs: ForecastInputs, now: np.ndarray) -> tuple[dict, bytes]:
    """A forecast of members that are as moist as `now` says in July, and dry in that order."""
    count = (inputs.until - STACKED).days + 1
    mc_db = now[None, :] * np.linspace(1.3, 0.4, count)[:, None]
    quantiles = np.percentile(mc_db / (1 + mc_db), (10, 50, 90), axis=1)
    summary = {
        "dates": [STACKED.isoformat(), count],
        **{
            name: [round(float(x), 4) for x in row]
            for name, row in zip(("p10", "p50", "p90"), quantiles, strict=True)
        },
        "ready": [None, None, None],
        "odds": [],
        "parts": [],
        "warnings": [],
        "doubted": [],
        "lessons": [],
    }
    packed = io.BytesIO()
    np.savez_compressed(packed, mc_db=np.round(mc_db * 10000).astype(np.uint16))
    return summary, packed.getvalue()


def test_what_to_measure_next_ranks_by_what_it_would_settle(desk) -> None:
    """Three stacks: one decides a promise, one is promised and sure, one has no promise but old pieces to weigh."""
    torn, sure, free = (stack_of(desk, name, row="") for name in ("A1", "B2", "C3"))
    rng = np.random.default_rng(1)
    spread = {torn: 0.30 + 0.04 * rng.standard_normal(64), sure: np.full(64, 0.18)}
    spread[free] = 0.30 + 0.005 * rng.standard_normal(64)
    mark(desk, free, 2.0, 3.0)
    for inputs, _ in forecasts.wanted(desk):
        forecasts.keep(desk, inputs, *made_up(inputs, spread[inputs.stack_id]))
    facts = WareFacts(
        name="Dry oak", species=("Quercus rubra",), piece_length_m=0.41, max_mc_wet=0.20, price_minor=38000
    )
    ware = int(set_ware(desk, SetWare(key=new_key(), facts=facts))["ware_id"])
    home = int(set_household(desk, SetHousehold(key=new_key(), name="Delphine Fernhollow"))["household_id"])
    look = forecasts.outlook(desk, torn)
    dates = [d for d in look.dates if d > NOW]
    even = next(d for d in dates if (look.odds_on(d, 0.20) or 0) >= 0.5)
    for number in (torn, sure):
        place_order(
            desk,
            PlaceOrder(
                key=new_key(),
                household_id=home,
                ware_id=ware,
                ranked_m3=3.0,
                wanted_by=even,
                portions=((number, 3.0),),
                despite_odds=True,
            ),
        )
    wanted = today(desk).readings_wanted
    by_stack = {item.stack.id: item for item in wanted}

    assert wanted[0].stack.id == torn
    assert by_stack[torn].at_stake_m3 == pytest.approx(3.0)
    assert by_stack[torn].worth.clear_then > by_stack[torn].worth.clear_now
    assert sure not in by_stack
    assert by_stack[free].due
    assert (by_stack[free].action, by_stack[torn].action) == ("weigh", "oven")


LESSON = {
    "species_id": "quercus_rubra",
    "thickness_class": "middle",
    "row": "North",
    "pace": 0.3,
    "exposure": 0.1,
    "precision": (40.0, 0.0, 5.0),
}


def test_lessons_are_kept_shown_make_others_stale_and_are_forgotten(desk) -> None:
    """A lesson of one oak stack makes the other oak stack's forecast stale, not its own and not the birch's."""
    first, second, birch = (
        stack_of(desk, name, species, row)
        for name, species, row in (
            ("A1", "Quercus rubra", "North"),
            ("B2", "Quercus rubra", "South"),
            ("C3", "yellow birch", "South"),
        )
    )
    add_reading(desk, AddReading(key=new_key(), stack_id=first, kind="oven", value=0.4, happened_on=STACKED))

    def make(told: dict[int, list[dict]]) -> None:
        for inputs, fresh in forecasts.wanted(desk):
            if not fresh:
                summary, packed = made_up(inputs, np.full(64, 0.3))
                summary["lessons"] = told.get(inputs.stack_id, [])
                forecasts.keep(desk, inputs, summary, packed)

    def stale() -> set[int]:
        return {inputs.stack_id for inputs, fresh in forecasts.wanted(desk) if not fresh}

    make({first: [LESSON]})
    assert stale() == {second}
    inputs = {item.stack_id: item for item, _ in forecasts.wanted(desk)}
    assert inputs[second].lessons == (season.Lesson(stack_key=str(first), **LESSON),)
    assert inputs[first].lessons == inputs[birch].lessons == ()
    assert not inputs[first].teach
    make({})
    assert stale() == set()
    page = taught_page(desk)
    species = next(line for line in page.lines if line.kind == "species")
    assert species.species is not None
    assert species.species.id == "quercus_rubra"
    assert 1.0 < species.factor < 1.35
    assert species.high / species.low < species.first_high / species.first_low
    assert species.stacks == 1
    assert [(line.stack_name, line.forgotten) for line in page.lessons] == [("A1", False)]

    answer = forget_lessons(desk, ForgetLessons(key=new_key(), what="species", name="quercus_rubra"))
    assert answer == {"forgotten": 1}
    assert taught_page(desk).lines == ()
    assert stale() == {second}
    make({})
    with pytest.raises(InputError):
        forget_lessons(desk, ForgetLessons(key=new_key(), what="all"))
    # Read again, the stack teaches again.
    add_reading(desk, AddReading(key=new_key(), stack_id=first, kind="oven", value=0.3, happened_on=day(40)))
    make({first: [LESSON]})
    assert [line.forgotten for line in taught_page(desk).lessons] == [False]
    # All its readings set aside, it teaches nothing.
    for line in readings(desk, first):
        judge_reading(desk, JudgeReading(key=new_key(), reading_id=line.id, trust="aside"))
    make({})
    with desk.book.read() as session:
        assert session.query(StackLesson).count() == 0
        assert session.query(Reading).count() == 2


def test_another_yards_lessons_and_readings_are_not_ours(desk, stack) -> None:
    other = Desk(desk.book, desk.yard_id + 1, desk.clock)
    answer = add_reading(
        desk, AddReading(key=new_key(), stack_id=stack, kind="oven", value=0.4, happened_on=STACKED)
    )
    forecasts.keep(
        desk,
        *(lambda inputs: (inputs, *({**made_up(inputs, np.full(64, 0.3))[0], "lessons": [LESSON]}, b"")))(
            forecasts.wanted(desk)[0][0]
        ),
    )

    assert taught_page(other).lines == ()
    assert taught_page(desk).lines != ()
    assert answer["reading_id"] > 0
