"""The weather in the book: files taken in and back, services asked, and forecasts that hang on what is known."""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import func, select
from tests.feeds.conftest import StandIn, answers, stand_in, status
from tests.weather.makers import START, logger_csv, temperature
from tests.weather.services import eccc_month, open_meteo

from rickyard.book.sky_tables import WeatherFile, WeatherHours, WeatherIssue, WeatherService
from rickyard.desk import fetching, forecasts
from rickyard.desk.context import Desk, new_key
from rickyard.desk.forecast_inputs import ForecastInputs
from rickyard.desk.skies import (
    ChoosePlace,
    TakeBackWeather,
    TakeInWeather,
    TurnService,
    UseOffsets,
    choose_place,
    look,
    sky_view,
    take_back_weather,
    take_in_weather,
    turn_service,
    use_offsets,
    weather_file_bytes,
)
from rickyard.desk.sky_rows import sky_of
from rickyard.errors import ClashError, InputError
from rickyard.feeds import Client
from rickyard.weather import WeatherFileError

JUNE = date(2026, 6, 10)
# The logger's clock follows summer time.
WOODSHED = logger_csv(clock=lambda moment: moment + timedelta(hours=1))


@pytest.fixture
def service() -> Iterator[StandIn]:
    with stand_in() as one:
        yield one


@pytest.fixture
def client() -> Client:
    return Client(wait=lambda _: None, read_s=0.5)


def file_of(**what: object) -> TakeInWeather:
    values = {"key": new_key(), "content": WOODSHED, "name": "woodshed.csv"} | what
    return TakeInWeather(**values)  # type: ignore[arg-type]


def rows(desk: Desk, table: type) -> int:
    with desk.book.read() as session:
        return session.scalar(select(func.count()).select_from(table)) or 0


def freshness(desk: Desk) -> list[bool]:
    return [fresh for _, fresh in forecasts.wanted(desk)]


def test_a_file_is_taken_in_and_back(desk: Desk) -> None:
    answer = take_in_weather(desk, file_of())
    file_id = int(answer["weather_file_id"])
    view = sky_view(desk)

    assert [card.name for card in view.files] == ["woodshed.csv"]
    card = view.files[0]
    assert (card.format, card.kind, card.first_day, card.last_day) == (
        "logger",
        "observed",
        START.date(),
        date(2026, 5, 12),
    )
    assert card.offsets is not None
    assert card.offsets.days == 12
    assert view.offsets == card.offsets
    assert view.observed_until == date(2026, 5, 12)
    assert weather_file_bytes(desk, file_id) == ("woodshed.csv", WOODSHED)

    take_back_weather(desk, TakeBackWeather(key=new_key(), file_id=file_id))
    view = sky_view(desk)
    assert view.files == ()
    assert view.offsets is None
    assert view.observed_until is None
    assert rows(desk, WeatherHours) == 0
    # The original and the row that speaks of it stay.
    assert weather_file_bytes(desk, file_id)[1] == WOODSHED
    with pytest.raises(InputError, match="weather file of this yard"):
        take_back_weather(desk, TakeBackWeather(key=new_key(), file_id=file_id))


def test_the_same_key_takes_a_file_in_once(desk: Desk) -> None:
    command = file_of()
    first = take_in_weather(desk, command)

    assert take_in_weather(desk, command) == first
    assert rows(desk, WeatherFile) == 1
    with pytest.raises(ClashError):
        take_in_weather(desk, replace(command, name="other.csv"))
    with pytest.raises(InputError, match="not in the book yet"):
        take_in_weather(desk, file_of(name="again.csv"))


def test_a_bad_file_writes_nothing_anywhere(desk: Desk) -> None:
    lines = logger_csv().decode().splitlines()
    bad = "\n".join([*lines[:50], lines[20], *lines[50:]]).encode()

    with pytest.raises(WeatherFileError, match="51"):
        take_in_weather(desk, file_of(content=bad))
    assert rows(desk, WeatherFile) == rows(desk, WeatherHours) == 0
    assert list(desk.book.files.all()) == []


def test_looking_writes_nothing(desk: Desk) -> None:
    seen = look(desk, file_of())

    assert seen.record.format == "logger"
    assert [month for month, _, _ in seen.months] == ["2026-05"]
    assert rows(desk, WeatherFile) == 0
    assert list(desk.book.files.all()) == []


def test_only_stacks_whose_weather_changed_become_stale(desk: Desk, stack: int) -> None:
    """A file of the time before the stack stood changes nothing; one of its first month does, until taken back."""
    inputs = forecasts.wanted(desk)[0][0]
    forecasts.keep(desk, inputs, *_small(inputs))
    assert freshness(desk) == [True]
    assert inputs.sky_print == ""

    winter = logger_csv(
        start=datetime(2025, 5, 1),  # noqa: DTZ001
        temp=lambda moment: temperature(moment.replace(year=2026)),
    )
    take_in_weather(desk, file_of(content=winter, use_offsets=False))
    early = forecasts.wanted(desk)[0][0]
    forecasts.keep(desk, early, *_small(early))
    answer = take_in_weather(desk, file_of(use_offsets=False))
    assert freshness(desk) == [False]
    now = forecasts.wanted(desk)[0][0]
    assert now.sky_print != early.sky_print
    # The worker's process gets all of it by the pipe.
    sent = pickle.loads(pickle.dumps(now))
    assert sent.fingerprint == now.fingerprint
    assert sent.sky.fingerprint(date(2026, 4, 15), 60) == now.sky.fingerprint(date(2026, 4, 15), 60)
    take_back_weather(desk, TakeBackWeather(key=new_key(), file_id=int(answer["weather_file_id"])))
    assert freshness(desk) == [True]


def test_offsets_can_be_left_out_again(desk: Desk, stack: int) -> None:
    file_id = int(take_in_weather(desk, file_of(use_offsets=True))["weather_file_id"])
    with_offsets = forecasts.wanted(desk)[0][0].fingerprint
    use_offsets(desk, UseOffsets(key=new_key(), file_id=file_id, use=False))

    assert sky_view(desk).offsets is None
    assert forecasts.wanted(desk)[0][0].fingerprint != with_offsets
    typical_days = logger_csv(hours=24 * 3)
    short = int(take_in_weather(desk, file_of(content=typical_days, name="short.csv"))["weather_file_id"])
    with pytest.raises(InputError, match="five whole days"):
        use_offsets(desk, UseOffsets(key=new_key(), file_id=short, use=True))


def test_a_forecast_made_with_observed_weather_says_so(desk: Desk, stack: int) -> None:
    """Two stacks of members: with the file the first weeks hang on it, and the page's notes say what was observed."""
    plain = forecasts.make(_small_inputs(desk))[0]
    take_in_weather(desk, file_of(use_offsets=False))
    known = forecasts.make(_small_inputs(desk))[0]
    said = str([item["msgid"] for item in known["warnings"]])

    assert "Observed from" in said
    assert "Observed from" not in str(plain["warnings"])
    assert known["p50"] != plain["p50"]


def test_the_place_is_chosen_by_name_or_point(desk: Desk) -> None:
    choose_place(desk, ChoosePlace(key=new_key(), place="46.4,-66.1,120"))
    view = sky_view(desk)

    assert view.place.id == "46.4000,-66.1000,120"
    assert view.nearest[0][1] < 100
    assert view.error.temp_k > 1.0
    with pytest.raises(InputError):
        choose_place(desk, ChoosePlace(key=new_key(), place="45.87,200"))


def test_a_service_is_off_until_the_owner_agrees(desk: Desk) -> None:
    assert fetching.due(desk) == []
    with pytest.raises(InputError, match="terms"):
        turn_service(desk, TurnService(key=new_key(), service="open_meteo", on=True))
    with pytest.raises(InputError, match="station"):
        turn_service(desk, TurnService(key=new_key(), service="eccc", on=True, agreed=True))
    with pytest.raises(InputError, match="one of"):
        turn_service(desk, TurnService(key=new_key(), service="nobody", on=True, agreed=True))
    assert fetching.due(desk) == []
    assert {card.state for card in sky_view(desk).services} == {"off"}


def in_june(desk: Desk, on: Callable[[Desk, date], Desk]) -> Desk:
    return on(desk, JUNE)


def test_a_service_is_asked_kept_and_asked_again(
    desk: Desk, stack: int, on: Callable[[Desk, date], Desk], service: StandIn, client: Client
) -> None:
    june = in_june(desk, on)
    turn_on(june, service)
    service.then(answers(lambda path, query: open_meteo(query, JUNE)))

    assert fetching.due(june) == ["open_meteo"]
    assert fetching.fetch(june, "open_meteo", client)
    assert fetching.due(june) == []
    with june.book.read() as session:
        sky = sky_of(session, june.yard(session))
        again = sky_of(session, june.yard(session))
    assert sky is again
    assert sky.issue is not None
    assert sky.issue.record.start == JUNE
    # From before the stacking on 15 April to yesterday, archive and the service's own past in one.
    assert sky.observed[0].start <= date(2026, 4, 1)
    assert sky.observed[0].last == date(2026, 6, 9)
    assert sky.observed[0].complete == 1.0
    card = sky_view(june).services[0]
    assert (card.state, card.observed_until, card.key_said) == ("good", date(2026, 6, 9), True)

    later = replace(june, clock=lambda: datetime(2026, 6, 12, 15, tzinfo=UTC))
    assert fetching.due(later) == ["open_meteo"]
    service.asked.clear()
    service.then(answers(lambda path, query: open_meteo(query, JUNE + timedelta(days=2), warmer_k=1.0)))
    assert fetching.fetch(later, "open_meteo", client)
    archive = dict(service.asked)["/v1/archive"]
    # Only the end of what is known is asked for again.
    assert archive["start_date"] >= "2026-05-28"
    assert rows(desk, WeatherIssue) == 2
    assert rows(desk, WeatherHours) == 1


def test_a_failing_service_leaves_what_was_known(
    desk: Desk, stack: int, on: Callable[[Desk, date], Desk], service: StandIn, client: Client
) -> None:
    june = in_june(desk, on)
    turn_on(june, service)
    service.then(answers(lambda path, query: open_meteo(query, JUNE)))
    fetching.fetch(june, "open_meteo", client)
    before = forecasts.wanted(june)[0][0].fingerprint
    later = replace(june, clock=lambda: datetime(2026, 6, 11, 15, tzinfo=UTC))
    service.then(status(429, Retry_After="7200"))

    assert not fetching.fetch(later, "open_meteo", client)
    card = sky_view(later).services[0]
    assert card.state == "failing"
    assert "too often" in str(card.error)
    assert card.again_at == datetime(2026, 6, 11, 17, tzinfo=UTC)
    assert forecasts.wanted(june)[0][0].fingerprint == before
    assert fetching.due(later) == []
    assert fetching.due(replace(june, clock=lambda: datetime(2026, 6, 11, 17, 1, tzinfo=UTC))) == [
        "open_meteo"
    ]


def test_turned_off_while_it_was_asked(
    desk: Desk, on: Callable[[Desk, date], Desk], service: StandIn, client: Client
) -> None:
    june = in_june(desk, on)
    turn_on(june, service)

    def turn_off_meanwhile(path: str, query: dict[str, str]) -> bytes:
        turn_service(june, TurnService(key=new_key(), service="open_meteo", on=False))
        return open_meteo(query, JUNE)

    service.then(answers(turn_off_meanwhile))
    fetching.fetch(june, "open_meteo", client)

    assert rows(desk, WeatherIssue) == rows(desk, WeatherHours) == 0


def test_a_station_of_observations(
    desk: Desk, stack: int, on: Callable[[Desk, date], Desk], service: StandIn, client: Client
) -> None:
    june = in_june(desk, on)
    command = TurnService(
        key=new_key(), service="eccc", on=True, agreed=True, history_address=service.url, station="49568"
    )
    turn_service(june, command)
    service.then(answers(lambda path, query: eccc_month(query, JUNE)))
    assert fetching.fetch(june, "eccc", client)

    with june.book.read() as session:
        sky = sky_of(session, june.yard(session))
        kept = session.scalar(select(WeatherService.access_key))
    assert sky.issue is None
    assert sky.observed[0].station == "FERNHOLLOW A"
    assert kept == ""


def turn_on(desk: Desk, service: StandIn) -> None:
    turn_service(
        desk,
        TurnService(
            key=new_key(),
            service="open_meteo",
            on=True,
            agreed=True,
            address=service.url,
            history_address=service.url,
            access_key="abc",
        ),
    )


def _small_inputs(desk: Desk) -> ForecastInputs:
    inputs = forecasts.wanted(desk)[0][0]
    return replace(inputs, members=4, shares=inputs.shares[:1], until=date(2026, 7, 1))


def _small(inputs: ForecastInputs) -> tuple[dict[str, object], bytes]:
    return forecasts.make(replace(inputs, members=2, shares=inputs.shares[:1], until=date(2026, 5, 1)))
