"""The thread that asks weather services: asks when one is turned on, nudges the forecasts, stops at once."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from tests.feeds.conftest import StandIn, answers, stand_in
from tests.weather.services import open_meteo

from rickyard.book import Book
from rickyard.desk.context import Desk, new_key
from rickyard.desk.skies import TurnService, sky_view, turn_service
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.jobs import WeatherFetcher

JUNE = date(2026, 6, 10)


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    book = Book.open(str(tmp_path / "book.sqlite"), create=True)
    facts = YardFacts(
        name="Thornbeck Yard",
        country="CA",
        subdivision="NB",
        climate_place="Fredericton, NB",
        timezone="America/Moncton",
    )
    yield set_up_yard(book, facts, clock=lambda: datetime(2026, 6, 10, 15, tzinfo=UTC))
    book.close()


@pytest.fixture
def service() -> Iterator[StandIn]:
    with stand_in() as one:
        yield one


def test_it_asks_once_a_service_is_turned_on_and_nudges(desk: Desk, service: StandIn) -> None:
    fetched = threading.Event()
    fetcher = WeatherFetcher(desk, idle_s=60.0, fetched=fetched.set)
    service.then(answers(lambda path, query: open_meteo(query, JUNE)))
    fetcher.start()
    try:
        assert service.asked == []
        turn_service(
            desk,
            TurnService(
                key=new_key(),
                service="open_meteo",
                on=True,
                agreed=True,
                address=service.url,
                history_address=service.url,
            ),
        )
        fetcher.nudge()
        assert fetched.wait(20)
    finally:
        fetcher.stop()

    card = sky_view(desk).services[0]
    assert card.state == "good"
    assert card.issued_at is not None
    assert {path for path, _ in service.asked} == {"/v1/archive", "/v1/forecast"}
