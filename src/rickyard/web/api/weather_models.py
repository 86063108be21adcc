"""What the API answers about the weather."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from rickyard.web.api.models import Out


class WeatherTaken(Out):
    weather_file_id: int
    notes: list[str]


class WeatherFileChanged(Out):
    weather_file_id: int


class ServiceTurned(Out):
    service: str
    on: bool


class PlaceChosen(Out):
    place: str


class WeatherFileOut(Out):
    id: int
    name: str
    format: str
    kind: str
    first_day: date
    last_day: date
    complete: float
    notes: list[str]
    use_offsets: bool


class WeatherServiceOut(Out):
    id: str
    state: str
    answered_at: datetime | None
    issued_at: datetime | None
    observed_until: date | None
    error: str


class WeatherOut(Out):
    """Errors are standard deviations: kelvin, points of relative humidity, share of the wind."""

    place: str
    place_label: str
    temp_error_k: float
    rh_error_points: float
    wind_error_share: float
    observed_until: date | None
    files: list[WeatherFileOut]
    services: list[WeatherServiceOut]
    notes: list[str]


def weather_out(view: Any) -> WeatherOut:
    """The weather page as JSON; sentences in English."""
    return WeatherOut(
        place=view.place.id,
        place_label=view.place.label,
        temp_error_k=view.error.temp_k,
        rh_error_points=view.error.rh_points,
        wind_error_share=view.error.wind_share,
        observed_until=view.observed_until,
        files=[
            WeatherFileOut(
                id=card.id,
                name=card.name,
                format=card.format,
                kind=card.kind,
                first_day=card.first_day,
                last_day=card.last_day,
                complete=card.complete,
                notes=[str(note.text) for note in card.notes],
                use_offsets=card.use_offsets,
            )
            for card in view.files
        ],
        services=[
            WeatherServiceOut(
                id=card.id,
                state=card.state,
                answered_at=card.answered_at,
                issued_at=card.issued_at,
                observed_until=card.observed_until,
                error="" if card.error is None else str(card.error),
            )
            for card in view.services
        ],
        notes=[str(text) for text in view.notes],
    )
