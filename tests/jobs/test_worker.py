"""The worker makes what is stale in a process of its own, says what failed, and stops at once."""

from __future__ import annotations

import multiprocessing
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from rickyard.book import Book
from rickyard.book.models import StackForecast
from rickyard.desk import forecast_inputs, forecasts
from rickyard.desk.context import Desk, new_key
from rickyard.desk.forecast_inputs import ForecastInputs
from rickyard.desk.stacking import Dimensions, OpeningStack, PiecesFacts, opening_stack
from rickyard.desk.wood_in import Harvest
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.jobs import ForecastWorker


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Desk]:
    """A yard with one thin-pieced stack and a small ensemble."""
    monkeypatch.setattr(forecast_inputs, "MEMBERS", 8)
    book = Book.open(str(tmp_path / "book.sqlite"), create=True)
    facts = YardFacts(
        name="Thornbeck Yard",
        country="CA",
        subdivision="NB",
        climate_place="Fredericton, NB",
        timezone="America/Moncton",
    )
    made = set_up_yard(book, facts, clock=lambda: datetime(2026, 10, 1, 15, tzinfo=UTC))
    opening_stack(
        made,
        OpeningStack(
            key=new_key(),
            shares=(("white ash", 1.0),),
            harvest=Harvest(country="CA", subdivision="NB"),
            pieces=PiecesFacts(name="A1", piece_length_m=0.3, thickness_m=0.05, stacked_on=date(2026, 5, 1)),
            outside=Dimensions(length_m=4.0, heights_m=(1.5,), rows=2),
        ),
    )
    yield made
    book.close()


def wait_until(true: Callable[[], bool], seconds: float = 120.0) -> None:
    deadline = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < deadline, "it did not happen in time"
        time.sleep(0.05)


def test_it_makes_what_is_stale(desk: Desk) -> None:
    worker = ForecastWorker(desk)
    worker.start()
    try:
        wait_until(lambda: forecasts.progress(desk).done == 1)
    finally:
        worker.stop()

    outlook = forecasts.outlook(desk, 1)
    assert outlook.known
    assert not outlook.stale
    assert multiprocessing.active_children() == []


def test_two_makers_share_the_stacks(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each stack is made once, by one of them."""
    for number in range(3):
        opening_stack(
            desk,
            OpeningStack(
                key=new_key(),
                shares=(("white ash", 1.0),),
                harvest=Harvest(country="CA", subdivision="NB"),
                pieces=PiecesFacts(
                    name=f"B{number}", piece_length_m=0.3, thickness_m=0.05, stacked_on=date(2026, 5, 1)
                ),
                outside=Dimensions(length_m=4.0, heights_m=(1.5,), rows=2),
            ),
        )
    kept: list[int] = []
    keep = forecasts.keep

    def counting(desk: Desk, inputs: ForecastInputs, *made: object) -> None:
        kept.append(inputs.stack_id)
        keep(desk, inputs, *made)  # type: ignore[arg-type]

    monkeypatch.setattr(forecasts, "keep", counting)
    worker = ForecastWorker(desk, makers=2)
    worker.start()
    try:
        wait_until(lambda: len(multiprocessing.active_children()) == 2)
        wait_until(lambda: forecasts.progress(desk).done == 4, 300.0)
    finally:
        worker.stop()

    assert sorted(kept) == [1, 2, 3, 4]
    assert multiprocessing.active_children() == []


def test_a_failure_is_kept_in_words_and_not_tried_again(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """A place that no longer resolves: the stack's page can say why there is no forecast."""
    honest = forecast_inputs.inputs_of

    def broken(*arguments: object) -> ForecastInputs:
        from dataclasses import replace

        return replace(honest(*arguments), place="no such place at all")  # type: ignore[arg-type]

    monkeypatch.setattr(forecasts, "inputs_of", broken)
    worker = ForecastWorker(desk)
    worker.start()
    try:
        wait_until(lambda: forecasts.progress(desk).failed == 1)
    finally:
        worker.stop()

    with desk.book.read() as session:
        row = session.query(StackForecast).one()
        assert "no such place at all" in row.error
    assert forecasts.progress(desk).done == 1


def test_it_stops_in_the_middle_of_a_forecast(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """An ensemble that would take minutes does not hold the server up."""
    monkeypatch.setattr(forecast_inputs, "MEMBERS", 2000)
    worker = ForecastWorker(desk)
    worker.start()
    wait_until(lambda: len(multiprocessing.active_children()) == 1)
    time.sleep(1.0)

    began = time.monotonic()
    worker.stop()

    # Not a test of speed: it is the difference between dropping the forecast and waiting for it.
    assert time.monotonic() - began < 30
    assert multiprocessing.active_children() == []
    assert forecasts.progress(desk).done == 0


def test_a_forecast_that_kills_its_process_does_not_stop_the_others(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The process is killed from outside in the middle of its work: said in words, and not tried for ever."""
    monkeypatch.setattr(forecast_inputs, "MEMBERS", 2000)
    worker = ForecastWorker(desk)
    worker.start()
    try:
        wait_until(lambda: len(multiprocessing.active_children()) == 1)
        time.sleep(1.0)
        multiprocessing.active_children()[0].kill()
        wait_until(lambda: forecasts.progress(desk).failed == 1)
    finally:
        worker.stop()

    assert "died" in forecasts.outlook(desk, 1).error
