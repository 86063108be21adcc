"""Season: whether odds of several stacks together, and what one stack's readings teach another, are calibrated."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import binomtest

from rickyard import weather
from rickyard.season import Pieces, Reading, forecast
from rickyard.season.readings import (
    OVEN_OWN_SD_DB,
    OVEN_OWN_SD_SHARE,
    PIECE_PACE_SD,
    PIECE_START_SD,
    WEIGHED_SD,
)
from rickyard.weather import HourlyAir

if TYPE_CHECKING:
    from numpy.typing import NDArray

Table = dict[str, object]

WORLDS, MEMBERS, SEED = 40, 32, 11
START, DAY, DAYS = date(2025, 4, 1), 140, 145
WEIGHED_ON, PIECES = (30, 60), 4


def tables() -> list[Table]:
    return [joint_odds()]


def joint_odds() -> Table:
    """Worlds drawn as the members are: two oak stacks of one row, the first measured, both judged."""
    place = weather.find_place("Fredericton")
    air = weather.generate_air(place, START, DAYS, members=MEMBERS + WORLDS, seed=SEED)
    ours, theirs = _columns(air, slice(0, MEMBERS)), _columns(air, slice(MEMBERS, MEMBERS + WORLDS))
    oak = Pieces("quercus_rubra", "split", 0.41, 0.10, stacked_on=START)
    rng = np.random.default_rng(SEED)

    truth = [
        forecast(oak, theirs, members=WORLDS, seed=SEED + 1, stack_key=key, row="North").mc_db
        for key in ("one", "two")
    ]
    before = [
        forecast(oak, ours, members=MEMBERS, seed=SEED, stack_key=key, row="North").mc_db[DAY]
        for key in ("one", "two")
    ]
    dry = float(np.median(before[0]))
    held = np.zeros((2, 2))
    said = {name: [] for name in ("first", "second", "second untaught", "both", "both untaught")}
    happened = {name: [] for name in said}
    moved = np.zeros(2)
    for n in range(WORLDS):
        one = truth[0][:, n].astype(np.float64)
        told = forecast(
            oak, ours, members=MEMBERS, seed=SEED, stack_key="one", row="North", readings=_readings(one, rng)
        )
        lessons = () if told.lesson is None else (told.lesson,)
        taught = forecast(
            oak, ours, members=MEMBERS, seed=SEED, stack_key="two", row="North", lessons=lessons
        )
        paths = (told.mc_db[DAY], taught.mc_db[DAY])
        for stack in range(2):
            for number, path in enumerate((paths[stack], before[stack])):
                low, high = np.percentile(path, (10, 90))
                held[stack, number] += low <= truth[stack][DAY, n] <= high
            moved[stack] += abs(float((paths[stack] <= dry).mean() - (before[stack] <= dry).mean()))
        was = [bool(truth[stack][DAY, n] <= dry) for stack in range(2)]
        for name, path, came in (
            ("first", paths[0] <= dry, was[0]),
            ("second", paths[1] <= dry, was[1]),
            ("second untaught", before[1] <= dry, was[1]),
            ("both", (paths[0] <= dry) & (paths[1] <= dry), all(was)),
            ("both untaught", (before[0] <= dry) & (before[1] <= dry), all(was)),
        ):
            said[name].append(float(path.mean()))
            happened[name].append(float(came))
    rows = []
    for name, words in (
        ("first", "odds of the measured stack"),
        ("second untaught", "odds of the other, nothing taught"),
        ("second", "odds of the other, taught by the first"),
        ("both untaught", "odds of both together, nothing measured"),
        ("both", "odds of both together"),
    ):
        odds, came = np.array(said[name]), np.array(happened[name])
        interval = binomtest(int(came.sum()), WORLDS).proportion_ci(0.9, method="wilson")
        rows.append(
            [
                words,
                f"{100 * odds.mean():.0f} %",
                f"{100 * came.mean():.0f} % ({100 * interval.low:.0f} to {100 * interval.high:.0f})",
                f"{((odds - came) ** 2).mean():.3f}",
            ]
        )
    for stack, words in enumerate(("measured stack", "other stack")):
        low, high = binomtest(int(held[stack, 0]), WORLDS).proportion_ci(0.9, method="wilson")
        rows.append(
            [
                f"10 to 90 % band of the {words}",
                "80 %",
                f"{100 * held[stack, 0] / WORLDS:.0f} % ({100 * low:.0f} to {100 * high:.0f})",
                "",
            ]
        )
    return {
        "title": "Two stacks of one wood and row, one of them measured (simulation)",
        "source": f"simulation: {WORLDS} worlds, {MEMBERS} members; an oven sample and weighings on days "
        f"{WEIGHED_ON[0]} and {WEIGHED_ON[1]} of {PIECES} pieces of the first stack, as wrong as the model assumes",
        "note": f"Odds of being at or below {100 * dry / (1 + dry):.0f} % of total mass on day {DAY}, said and come "
        "true (90 % Wilson interval), with the Brier score (0 is perfect, 0.25 is a coin). The measurement moved the "
        f"odds of its own stack by {100 * moved[0] / WORLDS:.0f} points on average and those of the other by "
        f"{100 * moved[1] / WORLDS:.0f}. Truth and forecast are the same model.",
        "columns": ["what", "said, mean", "came true", "Brier score"],
        "rows": rows,
    }


def _readings(mc_db: NDArray[np.float64], rng: np.random.Generator) -> list[Reading]:
    """Of marked pieces that differ from the stack's mean as the model assumes."""
    start = mc_db[0] * np.exp(PIECE_START_SD / PIECES**0.5 * rng.standard_normal())
    pace = np.exp(PIECE_PACE_SD / PIECES**0.5 * rng.standard_normal())
    among = PIECE_START_SD * start * (1 - 1 / PIECES) ** 0.5
    seen = start + np.hypot(OVEN_OWN_SD_DB + OVEN_OWN_SD_SHARE * start, among) * rng.standard_normal()
    found = [Reading("oven", START, float(seen / (1 + seen)), own=True, pieces=PIECES)]
    for day in WEIGHED_ON:
        # A faster piece is where the mean piece will be later.
        now = float(np.interp(day * pace, np.arange(len(mc_db)), mc_db)) + start - mc_db[0]
        ratio = (1 + now) / (1 + start) + WEIGHED_SD * rng.standard_normal()
        found.append(Reading("weighed", START + timedelta(days=day), float(ratio), pieces=PIECES))
    return found


def _columns(air: HourlyAir, which: slice) -> HourlyAir:
    return HourlyAir(
        air.start,
        air.air_c[:, which],
        air.vapour_pa[:, which],
        air.wind_m_s[:, which],
        air.sun_w_m2[:, which],
        air.rain_mm[:, which],
    )
