"""A whole yard's forecasts made anew, by the worker that the server runs: 100 stacks, 64 members, 18 months."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from rickyard.book import Book
from rickyard.desk import forecasts
from rickyard.desk.context import Desk, new_key
from rickyard.desk.stacking import Dimensions, OpeningStack, PiecesFacts, opening_stack
from rickyard.desk.wood_in import Harvest
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.jobs import ForecastWorker

TODAY = date(2026, 6, 30)
WOODS = ("sugar maple", "yellow birch", "white ash", "red oak", "American beech", "balsam fir", "red maple")
LOOK_EVERY_S = 1.0


def refresh(stacks: int, say: Callable[[str], Any]) -> tuple[float, int, int]:
    """Seconds until every forecast of a new yard is made; members, and days of the last one."""
    with tempfile.TemporaryDirectory() as folder:
        book = Book.open(str(Path(folder) / "book.sqlite"), create=True)
        try:
            desk = _yard(book, stacks)
            inputs = forecasts.wanted(desk)[0][0]
            worker = ForecastWorker(desk)
            began = time.perf_counter()
            worker.start()
            try:
                while (now := forecasts.progress(desk)).done + now.failed < stacks:
                    say(f"{now.done} of {stacks} after {time.perf_counter() - began:.0f} s")
                    time.sleep(LOOK_EVERY_S)
                seconds = time.perf_counter() - began
            finally:
                worker.stop()
            if now.failed:
                raise ArithmeticError(f"{now.failed} forecasts failed")
            return seconds, inputs.members, (inputs.until - inputs.pieces["stacked_on"]).days
        finally:
            book.close()


def _yard(book: Book, stacks: int) -> Desk:
    """Stacks of seven woods and five thicknesses, stacked through one spring."""
    facts = YardFacts(
        name="Thornbeck Yard",
        country="CA",
        subdivision="NB",
        climate_place="Fredericton, NB",
        timezone="America/Moncton",
    )
    desk = set_up_yard(
        book, facts, clock=lambda: datetime(TODAY.year, TODAY.month, TODAY.day, 15, tzinfo=UTC)
    )
    for number in range(stacks):
        opening_stack(
            desk,
            OpeningStack(
                key=new_key(),
                shares=((WOODS[number % len(WOODS)], 1.0),),
                harvest=Harvest(country="CA", subdivision="NB"),
                pieces=PiecesFacts(
                    name=f"S{number + 1}",
                    piece_length_m=0.406,
                    thickness_m=0.08 + 0.015 * (number % 5),
                    stacked_on=date(2026, 3, 1) + timedelta(days=number),
                ),
                outside=Dimensions(length_m=4.0, heights_m=(1.5,), rows=2),
            ),
        )
    return desk
