"""What forecasts would be made from is remembered between changes, and never longer: on both databases."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from tests.book.test_measurements import LESSON, NOW, STACKED, at, made_up, stack_of
from tests.desk.test_skies import WOODSHED

from rickyard.book import Book
from rickyard.book.measurements import StackLesson
from rickyard.book.sky_tables import WeatherHours
from rickyard.desk import fingerprints, forecasts
from rickyard.desk.context import Desk, new_key
from rickyard.desk.readings import AddReading, JudgeReading, add_reading, judge_reading
from rickyard.desk.skies import (
    ChoosePlace,
    TakeBackWeather,
    TakeInWeather,
    choose_place,
    take_back_weather,
    take_in_weather,
)
from rickyard.desk.stacking import Dimensions, MeasureStack, measure_stack
from rickyard.desk.undoing_measures import UndoMeasure, undo_measure
from rickyard.desk.yards import YardFacts, set_up_yard

Reckoned = list[int]


@pytest.fixture
def again(book: Book, tmp_path: Path) -> Iterator[Callable[[], Book]]:
    """The same book as another process has it open."""
    with ExitStack() as stack:
        photos = tmp_path / "photos"
        yield lambda: stack.enter_context(Book.open(book.target, files=photos))  # type: ignore[attr-defined]


@pytest.fixture
def desk(again: Callable[[], Book]) -> Desk:
    facts = YardFacts(
        name="Thornbeck Yard",
        country="CA",
        subdivision="NB",
        climate_place="Fredericton, NB",
        timezone="America/Moncton",
    )
    return set_up_yard(again(), facts, seed=7, clock=at(NOW))


@pytest.fixture
def reckoned(monkeypatch: pytest.MonkeyPatch) -> Reckoned:
    """Of which stacks it was reckoned what a forecast would be made from."""
    made: Reckoned = []
    real = fingerprints.inputs_of

    def counted(yard, stack, *others):
        made.append(stack.id)
        return real(yard, stack, *others)

    monkeypatch.setattr(fingerprints, "inputs_of", counted)
    return made


def make_all(desk: Desk, told: dict[int, list[dict]] | None = None) -> None:
    for inputs, fresh in forecasts.wanted(desk):
        if not fresh:
            summary, packed = made_up(inputs, np.full(64, 0.3))
            forecasts.keep(desk, inputs, summary | {"lessons": (told or {}).get(inputs.stack_id, [])}, packed)


def stale(desk: Desk) -> set[int]:
    """By the outlooks of the pages, which must say what the worker finds, who remembers nothing."""
    found = {number for number, look in forecasts.outlooks(desk).items() if look.stale}
    assert found == {inputs.stack_id for inputs, fresh in forecasts.wanted(desk) if not fresh}
    return found


def test_it_is_reckoned_once_between_two_changes(desk: Desk, reckoned: Reckoned) -> None:
    first, second = stack_of(desk, "A1"), stack_of(desk, "B2")
    reckoned.clear()
    forecasts.outlooks(desk)
    assert reckoned == [first, second]

    reckoned.clear()
    for asked in (None, [first], [second]):
        forecasts.outlooks(desk, asked)
    assert reckoned == []
    stack_of(desk, "C3")
    forecasts.outlook(desk, first)
    assert reckoned[-1] == first


def test_what_changes_it_is_seen_at_once(desk: Desk) -> None:
    stack, other = stack_of(desk, "A1"), stack_of(desk, "B2", "yellow birch", row="South")
    make_all(desk)
    assert stale(desk) == set()

    def reading() -> int:
        told = AddReading(key=new_key(), stack_id=stack, kind="oven", value=0.4, happened_on=STACKED)
        return int(add_reading(desk, told)["reading_id"])

    number = reading()
    assert stale(desk) == {stack}
    judge_reading(desk, JudgeReading(key=new_key(), reading_id=number, trust="aside"))
    assert stale(desk) == set()
    deeper = Dimensions(length_m=8.0, heights_m=(1.5,), rows=3)
    measured = measure_stack(desk, MeasureStack(key=new_key(), stack_id=stack, outside=deeper))
    assert stale(desk) == {stack}
    undo_measure(
        desk, UndoMeasure(key=new_key(), measure_id=int(measured["measure_id"]), reason="miscounted")
    )
    assert stale(desk) == set()
    file = take_in_weather(desk, TakeInWeather(key=new_key(), content=WOODSHED, name="woodshed.csv"))
    assert stale(desk) == {stack, other}
    take_back_weather(desk, TakeBackWeather(key=new_key(), file_id=int(file["weather_file_id"])))
    assert stale(desk) == set()
    choose_place(desk, ChoosePlace(key=new_key(), place="Saint John, NB"))
    assert stale(desk) == {stack, other}


def test_the_months_go_by(desk: Desk) -> None:
    stack = stack_of(desk)
    make_all(desk)
    assert stale(desk) == set()
    later = replace(desk, clock=at(NOW + timedelta(days=240)))
    assert stale(later) == {stack}


@pytest.mark.parametrize("what", ["lesson", "weather"])
def test_what_another_process_learns_or_fetches_is_seen(
    desk: Desk, again: Callable[[], Book], what: str
) -> None:
    """The worker's own rows come without a deed."""
    first, second = stack_of(desk, "A1"), stack_of(desk, "B2")
    add_reading(desk, AddReading(key=new_key(), stack_id=first, kind="oven", value=0.4, happened_on=STACKED))
    here = Desk(again(), desk.yard_id, desk.clock)
    make_all(desk, {first: [LESSON]})
    make_all(desk)
    assert stale(here) == set()

    with desk.book.write(desk.yard_id) as session:
        if what == "lesson":
            row = session.query(StackLesson).one()
            row.pace, row.learnt_at = 0.5, row.learnt_at + timedelta(microseconds=1)
    if what == "weather":
        take_in_weather(desk, TakeInWeather(key=new_key(), content=WOODSHED, name="woodshed.csv"))
        make_all(desk, {first: [LESSON]})
        make_all(desk)
        assert stale(here) == set()
        with desk.book.write(desk.yard_id) as session:
            hours = session.query(WeatherHours).one()
            hours.first_day, hours.digest = date(2026, 5, 2), "0" * 64
    assert stale(here) == ({second} if what == "lesson" else {first, second})
