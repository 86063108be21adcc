"""Makes weather tables as loggers write them, for the tests of readers and joins."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime, timedelta

START = datetime(2026, 5, 1)  # noqa: DTZ001 - a logger's own clock
PLACE = "Fredericton, NB"


def temperature(moment: datetime) -> float:
    """A plausible spring at Fredericton [°C], warmest at 15 h."""
    day = (moment - START).total_seconds() / 86400.0
    swing = 6.0 * math.cos(2 * math.pi * (moment.hour + moment.minute / 60.0 - 15.0) / 24.0)
    return round(10.0 + 0.08 * day + 2.0 * math.sin(day / 3.0) + swing, 2)


def humidity(moment: datetime) -> float:
    """Percent, dampest before sunrise."""
    swing = -18.0 * math.cos(2 * math.pi * (moment.hour - 15.0) / 24.0)
    return round(65.0 + swing + 4.0 * math.sin((moment - START).days), 1)


def logger_csv(
    *,
    start: datetime = START,
    hours: int = 24 * 12,
    step_min: int = 60,
    head: str = "Date/Time,Temperature (°C),Relative Humidity (%)",
    when: Callable[[datetime], str] = lambda moment: moment.strftime("%Y-%m-%d %H:%M"),
    temp: Callable[[datetime], float | str] = temperature,
    rh: Callable[[datetime], float | str] = humidity,
    clock: Callable[[datetime], datetime] = lambda moment: moment,
) -> bytes:
    """A logger's table. `start` and the steps are on standard time; `clock` shows what the logger's clock says."""
    delimiter = ";" if ";" in head else ","
    rows = [head]
    for i in range(hours * 60 // step_min):
        moment = start + timedelta(minutes=i * step_min)
        cells = (when(clock(moment)), str(temp(moment)), str(rh(moment)))
        rows.append(
            delimiter.join(
                cell.replace(".", ",") if delimiter == ";" and j else cell for j, cell in enumerate(cells)
            )
        )
    return ("\n".join(rows) + "\n").encode()
