"""What lay where on a day: the page and the API say the same, and no day to come."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
import sqlalchemy as sa
from fastapi import FastAPI

from rickyard.desk.bookkeeping import Period, write_bookkeeping
from rickyard.desk.context import Desk
from rickyard.desk.past_stock import stock_on
from rickyard.web.screens.past_stock import A_PAGE


@pytest.fixture
def web(app: FastAPI, serve: Any) -> Iterator[httpx.Client]:
    with serve(app) as address, httpx.Client(base_url=address, timeout=30) as client:
        yield client


def test_page_and_api_say_what_the_desk_says(web: httpx.Client, small_yard: Any, desk_of: Desk) -> None:
    today = desk_of.today()
    lines = stock_on(desk_of, today)
    whole = sum(line.kg for line in lines)

    said = web.get("/api/stock", params={"on": today.isoformat()}).json()
    page = web.get("/stock", params={"on": today.isoformat()})

    assert whole > 0
    assert abs(said["oven_dry_kg"] - whole) < 1e-6
    assert [(line["place"], line["id"], line["form"]) for line in said["lines"]] == [
        (line.kind, line.number, line.form) for line in lines
    ]
    assert abs(sum(wood["oven_dry_kg"] for wood in said["by_wood"]) - whole) < 1e-6
    assert page.status_code == 200
    for kind, number in list(dict.fromkeys((line.kind, line.number) for line in lines))[:A_PAGE]:
        link = f"/wood-in/{number}" if kind == "load" else f"/stacks/{number}"
        assert f'href="{link}"' in page.text
    assert 'href="/stock"' in web.get("/stacks").text


def test_before_the_book_nothing_lay_there(web: httpx.Client, small_yard: Any) -> None:
    assert web.get("/api/stock", params={"on": "1995-01-01"}).json()["lines"] == []
    assert "no wood lay in the yard" in web.get("/stock", params={"on": "1995-01-01"}).text


def test_a_day_to_come_is_refused_with_the_next_move(
    web: httpx.Client, small_yard: Any, desk_of: Desk
) -> None:
    tomorrow = "2031-01-01"

    page = web.get("/stock", params={"on": tomorrow})
    error = web.get("/api/stock", params={"on": tomorrow})

    assert page.status_code == error.status_code == 422
    assert "Choose a day that has been" in page.text
    assert f'value="{tomorrow}"' in page.text
    assert not re.search(r"By place", page.text)
    assert error.json()["error"]["field"] == "on"
    assert "Choose a day that has been" in error.json()["error"]["message"]
    assert web.get("/stock", params={"on": "the day before"}).status_code == 422


def test_what_happened_since_is_found_by_its_index(small_yard: Any, desk_of: Desk, tmp_path: Path) -> None:
    """Neither the stock of a past day nor the bookkeeping of a period reads a journal of ten years."""
    asked: list[tuple[str, Any]] = []

    def note(_c: Any, _cursor: Any, statement: str, parameters: Any, _context: Any, _many: bool) -> None:
        if "entry.happened_at >= ?" in statement:
            asked.append((statement, parameters))

    today = desk_of.today()
    sa.event.listen(sa.Engine, "before_cursor_execute", note)
    try:
        stock_on(desk_of, today - timedelta(days=7))
        write_bookkeeping(desk_of, Period(today - timedelta(days=30), today), tmp_path / "month.zip")
    finally:
        sa.event.remove(sa.Engine, "before_cursor_execute", note)
    assert len(asked) == 3
    with desk_of.book.read() as session:
        for statement, parameters in asked:
            plan = session.connection().exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters)
            ways = " ".join(line.detail for line in plan.all())
            # By when it happened, or by its number where the first that happened since is known.
            assert re.search(
                r"ix_entry_(happened \(yard_id=\? AND happened_at>|yard_id \(yard_id=\? AND rowid>)\?", ways
            ), statement
