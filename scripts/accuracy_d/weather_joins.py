"""What real weather does to a ready date: real hours against the normals of the same place, and a yard's own month.

For every file the same splits of sugar maple are dried in its real hours and in the ensemble's weather.
Member j is the same wood in both, so that its difference is the weather's alone.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import numpy as np

from rickyard import season
from rickyard.weather import Sky, WeatherRecord, air_for, offsets_of, place_at
from rickyard.weather.places import Place

DATA = Path(__file__).resolve().parent.parent.parent / "tests" / "weather" / "data"
YEAR = 2025
MEMBERS, SEED = 16, 11
HORIZON_DAYS = 150
STACKED = ((4, 1), (5, 15))
TARGET_MC_WET = 0.20
LOGGER_DAYS = 30
OBSERVED_DAYS = 45
NORMALS, LOGGER, OBSERVED = "normals", "normals and a logger's month", "observed for 45 days"

Table = dict[str, object]


@dataclass(frozen=True)
class Outcome:
    """Days by which the forecast's ready day is later than the real one: by members [days]."""

    station: str
    stacked_on: date
    real_day: float
    differences: dict[str, np.ndarray]

    def middle(self, way: str) -> float:
        return float(np.median(self.differences[way]))

    def band(self, way: str) -> tuple[float, float]:
        low, high = np.percentile(self.differences[way], [10, 90])
        return float(low), float(high)

    def holds(self, way: str) -> bool:
        low, high = self.band(way)
        return low <= 0.0 <= high


@cache
def records() -> list[tuple[str, Place, WeatherRecord]]:
    """The year files, put on one calendar year as logger files of a yard at the station."""
    found: list[tuple[str, Place, WeatherRecord]] = []
    with np.load(DATA / "hourly_checks.npz") as packed:
        for i, about in enumerate(json.loads(str(packed["about"]))):
            hours = packed[f"hours{i}"].astype(np.float32)
            hours[hours == -32768] = np.nan
            air, rh, wind = hours[0] / 10.0, hours[1], hours[2] / 10.0
            first = date.fromisoformat(about["start"])
            days = [first + timedelta(days=k) for k in range(len(air) // 24)]
            # Whole calendar years; the 29th of February of 2012 is left out.
            keep = np.repeat([(d.month, d.day) != (2, 29) and d.year == days[10].year for d in days], 24)
            record = WeatherRecord(
                "logger",
                "observed",
                about["name"],
                None,
                None,
                None,
                date(YEAR, 1, 1),
                air_c=air[keep],
                rh_pct=rh[keep],
                wind_m_s=wind[keep],
                sun_w_m2=np.full(int(keep.sum()), np.nan, dtype=np.float32),
                rain_mm=np.full(int(keep.sum()), np.nan, dtype=np.float32),
            )
            place = place_at(about["lat"], about["lon"], about["elev_m"])
            found.append((f"{about['name']} ({about['kind']})", place, record))
    return found


@cache
def outcomes() -> list[Outcome]:
    result: list[Outcome] = []
    for name, place, record in records():
        for month, day in STACKED:
            stacked_on = date(YEAR, month, day)
            days = min(HORIZON_DAYS, (date(YEAR, 12, 31) - stacked_on).days)
            real = _ready(Sky(place, observed=(record,)), stacked_on, days)
            before = record.between(stacked_on - timedelta(days=LOGGER_DAYS), LOGGER_DAYS)
            seen = record.between(date(YEAR, 1, 1), (stacked_on - date(YEAR, 1, 1)).days + OBSERVED_DAYS)
            assert before is not None
            assert seen is not None
            ways = {
                NORMALS: Sky(place),
                LOGGER: Sky(place, offsets=offsets_of(before, place)),
                OBSERVED: Sky(place, observed=(seen,)),
            }
            differences = {way: _ready(sky, stacked_on, days) - real for way, sky in ways.items()}
            result.append(Outcome(name, stacked_on, float(np.median(real)), differences))
    return result


def _ready(sky: Sky, stacked_on: date, days: int) -> np.ndarray:
    """First day at or below the target of each member [days from stacking]; the horizon if it is not reached."""
    pieces = season.Pieces(
        species_id="acer_saccharum",
        form="split",
        length_m=0.41,
        thickness_m=0.08,
        cover="top",
        exposure="normal",
        stacked_on=stacked_on,
        start_mc_db=0.75,
    )
    air = air_for(sky, stacked_on, days + 1, members=MEMBERS, seed=SEED)
    made = season.forecast(pieces, air, members=MEMBERS, seed=SEED, until=stacked_on + timedelta(days=days))
    ready = made.ready_day(TARGET_MC_WET).astype(float)
    return np.where(ready < 0, float(days), ready)


def summary(way: str) -> dict[str, float]:
    """Over all files and stacking days: bias, mean absolute error and width of the band [days], and share held."""
    middles = np.array([item.middle(way) for item in outcomes()])
    bands = [item.band(way) for item in outcomes()]
    held = [item.holds(way) for item in outcomes()]
    return {
        "bias": float(middles.mean()),
        "bias_se": float(middles.std(ddof=1) / np.sqrt(len(middles))),
        "mae": float(np.abs(middles).mean()),
        "width": float(np.mean([high - low for low, high in bands])),
        "held": float(np.mean(held)),
        "held_count": float(sum(held)),
        "count": float(len(held)),
    }


def tables() -> list[Table]:
    ways = (NORMALS, LOGGER, OBSERVED)
    whole = []
    for way in ways:
        found = summary(way)
        low, high = _wilson(found["held_count"], found["count"])
        whole.append(
            [
                way,
                f"{found['bias']:+.1f} ± {found['bias_se']:.1f}",
                f"{found['mae']:.1f}",
                f"{found['width']:.0f}",
                f"{found['held_count']:.0f} of {found['count']:.0f} ({100 * found['held']:.0f} %, "
                f"95 %: {100 * low:.0f}-{100 * high:.0f})",
            ]
        )
    rows = [
        [
            item.station,
            item.stacked_on.strftime("%d %b"),
            f"{item.real_day:.0f}",
            *(
                f"{item.middle(way):+.0f} ({item.band(way)[0]:+.0f} to {item.band(way)[1]:+.0f})"
                for way in ways
            ),
        ]
        for item in outcomes()
    ]
    source = "hourly files of ECCC (2012, CWEC), NOAA (2013) and NREL (TMY3); see docs/notice.d/weather.md"
    return [
        {
            "title": "Ready dates by real hours against normals of the same place",
            "source": source,
            "note": (
                "Sugar maple splits of 8 cm, stacked on 1 April and 15 May, ready at 20 % of total mass; "
                "days by which the forecast is late (+) or early, wood by wood. "
                "The band is the 10th to 90th percentile of members. "
                f"A logger's month is the file's own {LOGGER_DAYS} days before stacking, held against normals alone. "
                f"Observed: the file's own hours until {OBSERVED_DAYS} days after stacking, then the members. "
                "Not independent: normals of Vancouver and Montréal are means of their CWEC files. One year of one "
                "file is one draw of the weather, and two stacking days of a file share it; typical years are "
                f"milder than real ones. Wood not ready within {HORIZON_DAYS} days counts with the last day."
            ),
            "columns": [
                "weather",
                "bias, days",
                "mean absolute error, days",
                "width of the band, days",
                "real date inside",
            ],
            "rows": whole,
        },
        {
            "title": "The same, file by file",
            "source": source,
            "note": "Days late (+) or early of the median, and the band.",
            "columns": ["file", "stacked", "real, days", *ways],
            "rows": rows,
        },
    ]


def _wilson(held: float, count: float) -> tuple[float, float]:
    """95 % interval of a share."""
    z = 1.96
    share = held / count
    middle = (share + z**2 / (2 * count)) / (1 + z**2 / count)
    half = z / (1 + z**2 / count) * np.sqrt(share * (1 - share) / count + z**2 / (4 * count**2))
    return max(middle - half, 0.0), min(middle + half, 1.0)
