"""Answers on pages: what is asked comes from the address, waiting is said, and the paper is the page's own."""

from __future__ import annotations

import io
import itertools
import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, datetime
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader

from rickyard.desk.answers import logs_question, stack_questions
from rickyard.desk.context import Desk
from rickyard.desk.forecasts import outlook
from rickyard.desk.loads import load_page
from rickyard.jobs import Answers
from rickyard.season import months_of
from rickyard.show import Voice
from rickyard.web import sections
from rickyard.web.app import create_app

TODAY_OF_YARD = date(2026, 11, 24)
CSS = Path(sections.__file__).parent / "static" / "css" / "rickyard.css"


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb by WCAG."""
    parts = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


def test_the_scale_reads_in_grey_and_by_every_eye() -> None:
    """Each step is clearly darker than the one before, whatever colours an eye tells apart."""
    css = CSS.read_text()
    found = [re.search(rf"\.wet-{step} {{ fill: (#\w+); }}", css) for step in range(len(sections.STEPS) + 1)]
    shades = [luminance(match[1]) for match in found if match]

    assert len(shades) == len(sections.STEPS) + 1
    ratios = [(light + 0.05) / (dark + 0.05) for light, dark in itertools.pairwise(shades)]
    assert min(ratios) > 1.2
    assert (shades[0] + 0.05) / (shades[-1] + 0.05) > 10


def test_months_show_what_the_outlook_says(desk_of: Desk, small_yard: Any) -> None:
    look = outlook(desk_of, small_yard.mixed)
    bars = sections.month_bars(look, date(2026, 5, 1), label=Voice().short_month)
    rows = {month: (within, by) for month, within, by in months_of(look.dates, sections.ready_days(look))}

    assert bars[0].month == date(2026, 5, 1)
    assert [(bar.within, bar.by_end) for bar in bars] == [rows[bar.month] for bar in bars]
    assert bars[-1].by_end >= 0.985 or len(bars) == sections.MOST_MONTHS
    for bar in bars:
        assert bar.before_y - bar.top_y == pytest.approx(120 * bar.within)
    assert sections.month_bars(look, look.dates[-1], label=str) == ()


def test_questions_follow_the_stack(desk_of: Desk, small_yard: Any) -> None:
    """The same question has the same key; another day, another key; none of a stack that is not there."""
    look = outlook(desk_of, small_yard.mixed)
    asked = stack_questions(desk_of, small_yard.mixed, look)
    assert asked is not None
    what_if, inside = asked
    again = stack_questions(desk_of, small_yard.mixed, look)
    assert again is not None
    assert [one.key for one in again] == [what_if.key, inside.key]
    other = stack_questions(desk_of, small_yard.mixed, look, by=date(2027, 6, 1))
    assert other is not None
    assert other[0].key != what_if.key
    assert other[1].key == inside.key
    assert TODAY_OF_YARD in inside.days
    assert stack_questions(desk_of, 99999, look) is None


def test_layers_are_on_the_page(client: httpx.Client, small_yard: Any) -> None:
    page = client.get(f"/stacks/{small_yard.mixed}").text

    assert "By layer of the stack" in page
    assert all(f'class="is-head">{name}</td>' in page for name in ("top", "middle", "bottom"))
    assert "How it keeps" in page
    assert "Weak evidence" in page


def test_the_picture_holds_its_figures(client: httpx.Client, paths: dict[str, str]) -> None:
    """Figures stand in the picture with their basis, and the same day's are said beside it with their spread."""
    page = client.get(paths["/stacks/{stack_id:int}/section"]).text.replace("\u00a0", " ")
    written = re.findall(r'class="cut-text"[^>]*>([^<]*)<', page)

    assert len(written) == 4
    assert all(re.fullmatch(r"\d+% wet", words) for words in written)
    core = re.search(r"<dt>Core</dt><dd>(\d+% wet) \(\d+% to \d+%\)", page)
    assert core is not None
    assert written[0] == core[1]
    assert "Wettest tenth of the wood" in page


def test_logs_as_they_lie(desk_of: Desk, small_yard: Any, client: httpx.Client) -> None:
    """Of the size of the measured logs, in the shares of what is not cut yet; and what the page says of it."""
    asked = logs_question(desk_of, small_yard.logs_load)
    assert asked is not None
    page = load_page(desk_of, small_yard.logs_load)
    assert asked.measured
    assert min(log.length_m for log in page.logs) <= asked.length_m <= max(log.length_m for log in page.logs)
    assert sum(share for _, share in asked.shares) == pytest.approx(1.0)
    rough = logs_question(desk_of, small_yard.rough_load)
    assert rough is not None
    assert not rough.measured

    found = asked.answer()
    low, middle, high = found.mc_wet
    assert 0.05 < low < middle < high < 0.75
    # Whole logs of a foot, laid down in October: half of them are not dry before the next summer.
    assert found.ready[1] is None or found.ready[1] > date(2027, 6, 1)
    said = client.get(f"/wood-in/{small_yard.logs_load}/lying").text.replace("\u00a0", " ")
    assert re.search(r"Moisture on [^<]*</dt><dd>\d+% wet \(\d+% to \d+%\)", said)
    assert "if left whole" in said
    assert client.get("/wood-in/99999/lying").status_code == 404


def test_the_plan_is_refused_by_field(client: httpx.Client, paths: dict[str, str]) -> None:
    good = paths["/what-if answered"]
    for wrong, field in (
        (good.replace("white+ash", "granite"), "wood"),
        (good.replace("thickness=12+cm", "thickness=5+m"), "thickness"),
        (good.replace("wanted_by=2027-08-01", "wanted_by=2026-11-01"), "wanted_by"),
        (good.replace("stacked_on=2026-11-25", "stacked_on=2036-11-25"), "stacked_on"),
    ):
        answer = client.get(wrong)
        assert answer.status_code == 422, wrong
        assert f'href="#{field}"' in answer.text, wrong


def test_the_calendar_is_refused_by_field(client: httpx.Client) -> None:
    answer = client.get("/calendar?wood=granite&thicknesses=10cm&cover=top")

    assert answer.status_code == 422
    assert 'href="#wood"' in answer.text
    # What cannot be printed leads back to the page that says why.
    assert client.get("/calendar.pdf?wood=granite").status_code == 303


def test_a_stack_that_stands_no_more_has_no_answers(client: httpx.Client) -> None:
    assert client.get("/stacks/99999/what-if").status_code == 404
    assert client.get("/stacks/99999/section").status_code == 404


def test_calendar_on_a_phone_and_on_paper(page: Page, paths: dict[str, str]) -> None:
    """The form gives the table; the paper says what the page says."""
    page.goto("/calendar?units=metric")
    page.fill("[name=wood]", "white ash")
    for box in page.locator("[name=thicknesses]").all():
        box.set_checked(box.get_attribute("value") == "10cm", force=True)
    page.get_by_role("button", name="Make the calendar").tap()
    table = page.locator("table.calendar")
    expect(table.locator("tbody tr")).to_have_count(12)
    april = table.locator("tbody tr").nth(3).locator("td b").inner_text()
    link = page.get_by_role("link", name="To print, A4").get_attribute("href")
    assert link is not None
    answer = page.request.get(link)
    assert answer.headers["content-type"] == "application/pdf"
    reader = PdfReader(io.BytesIO(answer.body()))
    text = " ".join(reader.pages[0].extract_text().split())
    assert april in text
    assert "Fredericton, NB" in text
    assert float(reader.pages[0].mediabox.width) == pytest.approx(842, abs=1)


def test_plan_on_a_phone(page: Page, paths: dict[str, str]) -> None:
    page.goto(paths["/what-if answered"])

    expect(page.locator(".limits")).to_contain_text("Split no thicker than")
    rows = page.locator(".outcomes tbody tr")
    expect(rows.first).to_contain_text("As planned")
    finer = page.locator(".outcomes tr", has_text="Split finer")
    expect(finer).to_contain_text("sooner")
    expect(finer).to_contain_text("h a cord")
    assert page.evaluate("document.documentElement.scrollWidth") == 390


def test_the_day_slider_moves_the_picture(page: Page, paths: dict[str, str]) -> None:
    """By the keyboard, in place; and by its links without scripts."""
    page.goto(paths["/stacks/{stack_id:int}/section"])
    page.evaluate("window.marker = 'same page'")
    before = page.locator("#section p b").first.inner_text()
    page.focus("#at")
    page.keyboard.press("ArrowRight")
    expect(page.locator("#section p b").first).not_to_have_text(before)
    assert page.evaluate("window.marker") == "same page"


def test_without_scripts_links_show_another_day(
    browser: Browser, address: str, paths: dict[str, str]
) -> None:
    context = browser.new_context(base_url=address, java_script_enabled=False)
    page = context.new_page()
    page.goto(paths["/stacks/{stack_id:int}/section"])
    before = page.locator("#section p b").first.inner_text()
    page.locator(".days-form a").last.click()
    after = page.locator("#section p b").first.inner_text()
    context.close()

    assert before != after


def test_the_stack_page_fills_in(
    browser: Browser,
    small_yard: Any,
    serve: Callable[[FastAPI], AbstractContextManager[str]],
    now: Callable[[], datetime],
) -> None:
    """With answers in the background: the page is there at once, says that it waits, and fills in by itself."""
    app = create_app(small_yard.target, worker=False, clock=now, hosts=(), answers=Answers())
    with serve(app) as address:
        context = browser.new_context(base_url=address, viewport={"width": 390, "height": 844})
        page = context.new_page()
        page.set_default_timeout(120_000)
        # As it comes at first: the process that answers has not even started by then.
        asked = page.request.get(f"/stacks/{small_yard.dry}/section").text()
        assert 'class="progress' in asked
        assert 'class="cut' not in asked
        page.goto(f"/stacks/{small_yard.dry}")
        page.locator("#section").scroll_into_view_if_needed()
        expect(page.locator("#section svg.cut").first).to_be_visible(timeout=120_000)
        expect(page.locator("#what-if .progress, #what-if .outcomes, #what-if .said").first).to_be_visible()
        assert page.evaluate("document.documentElement.scrollWidth") == 390
        context.close()
