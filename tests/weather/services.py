"""Answers as the services document them, made of the tables of `makers`, for the servers that stand in for them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date, datetime, timedelta

from tests.weather.makers import humidity, temperature

ECCC_HEAD = (
    '"Longitude (x)","Latitude (y)","Station Name","Climate ID","Date/Time (LST)","Year","Month","Day","Time (LST)",'
    '"Temp (°C)","Temp Flag","Dew Point Temp (°C)","Dew Point Temp Flag","Rel Hum (%)","Rel Hum Flag",'
    '"Precip. Amount (mm)","Precip. Amount Flag","Wind Spd (km/h)","Wind Spd Flag"'
)


def open_meteo(query: Mapping[str, str], today: date, *, warmer_k: float = 0.0) -> bytes:
    """The answer for a forecast (`past_days`, `forecast_days`) or the archive (`start_date`, `end_date`)."""
    if "start_date" in query:
        first, last = date.fromisoformat(query["start_date"]), date.fromisoformat(query["end_date"])
    else:
        first = today - timedelta(days=int(query["past_days"]))
        last = today + timedelta(days=int(query["forecast_days"]) - 1)
    count = 24 * ((last - first).days + 1)
    begin = datetime(first.year, first.month, first.day)  # noqa: DTZ001 - UTC, as the answer's clock
    moments = [begin + timedelta(hours=i) for i in range(count)]
    # On the sun's clock at Fredericton it is four hours earlier.
    local = [moment - timedelta(hours=4) for moment in moments]
    return json.dumps(
        {
            "latitude": float(query["latitude"]),
            "longitude": float(query["longitude"]),
            "elevation": float(query.get("elevation", 20)),
            "utc_offset_seconds": 0,
            "timezone": "GMT",
            "hourly_units": {
                "time": "iso8601",
                "temperature_2m": "°C",
                "relative_humidity_2m": "%",
                "wind_speed_10m": "m/s",
                "precipitation": "mm",
                "shortwave_radiation": "W/m²",
            },
            "hourly": {
                "time": [moment.strftime("%Y-%m-%dT%H:%M") for moment in moments],
                "temperature_2m": [round(_steady(moment) + warmer_k, 1) for moment in local],
                "relative_humidity_2m": [round(humidity(moment)) for moment in local],
                "wind_speed_10m": [3.2] * count,
                "precipitation": [0.0] * count,
                "shortwave_radiation": [max(0.0, 400.0 - 60 * abs(moment.hour - 12)) for moment in local],
            },
        }
    ).encode()


def eccc_month(query: Mapping[str, str], today: date) -> bytes:
    """A month of the station; hours from now on are empty, as in the running month."""
    first = date(int(query["Year"]), int(query["Month"]), 1)
    moment = datetime(first.year, first.month, 1)  # noqa: DTZ001 - local standard time
    rows = [ECCC_HEAD]
    while moment.month == first.month:
        values = ["", "", "", ""]
        if moment.date() < today:
            values = [f"{_steady(moment):.1f}", f"{humidity(moment):.0f}", "0.0", "12"]
        cells = [
            "-66.64",
            "45.95",
            "FERNHOLLOW A",
            "8101500",
            moment.strftime("%Y-%m-%d %H:%M"),
            str(moment.year),
        ]
        cells += [
            f"{moment.month:02d}",
            f"{moment.day:02d}",
            moment.strftime("%H:%M"),
            values[0],
            "",
            "",
            "",
            values[1],
        ]
        cells += ["", values[2], "", values[3], ""]
        rows.append(",".join(f'"{cell}"' for cell in cells))
        moment += timedelta(hours=1)
    return "\r\n".join(rows).encode("utf-8-sig")


def _steady(moment: datetime) -> float:
    """A temperature that suits Fredericton's spring and summer."""
    return temperature(moment.replace(year=2026, month=5)) + 3.0 * (moment.month - 5)
