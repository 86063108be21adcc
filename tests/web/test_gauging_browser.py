"""Measuring on a phone: logs with defects, a weight beside a load, how you stack, a tree, a stack on a photo."""

from __future__ import annotations

import importlib.util
import io
import re
import sys
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from rickyard.book.models import PhotoGauging, StackMeasure
from rickyard.desk.context import Desk, new_key
from rickyard.desk.load_measures import load_measures
from rickyard.desk.loads import load_page
from rickyard.desk.photo_measure import marks_of_stack
from rickyard.desk.photos import AddPhoto, RemovePhoto, add_photo, remove_photo

pytestmark = pytest.mark.browser
SCENES = Path(__file__).resolve().parents[2] / "scripts" / "accuracy_d" / "photo_scenes.py"


def fits(page: Page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_hollow_log_is_typed_and_said(page: Page, desk_of: Desk) -> None:
    page.goto("/wood-in/logs")
    page.get_by_label("From whom or where").fill("Larkspur Farm")
    line = page.get_by_role("group", name="Log 1")
    line.get_by_label("Wood", exact=True).fill("sugar maple")
    line.get_by_label("Length", exact=True).fill("8")
    line.get_by_label("Middle ⌀").fill("14")
    line.get_by_text("Bent, hollow, rotten").tap()
    line.get_by_label("Greatest sag").fill("3")
    line.get_by_label("Defect").select_option("hollow")
    line.get_by_label("How wide").fill("20 in")
    line.get_by_label("to", exact=True).fill("3")
    line.get_by_label("More of them").fill("5-5.5ft:metal")
    fits(page)
    page.get_by_role("button", name="What is it?").tap()

    expect(page.locator("[data-errors]")).to_contain_text("Measure the hole, not the log")
    # The fold stays open with what is wrong in it.
    size = page.get_by_role("group", name="Log 1").get_by_label("How wide")
    expect(size).to_be_visible()
    size.fill("6 in")
    page.get_by_role("button", name="What is it?").tap()
    expect(page.get_by_role("heading", name="What was taken off")).to_be_visible()
    page.get_by_role("button", name="Take it in").tap()
    page.wait_for_url(re.compile(r"/wood-in/\d+$|/outbox$"))
    page.wait_for_timeout(50)
    load_id = int(re.findall(r"\d+", page.url)[-1])

    log = load_page(desk_of, load_id).logs[0]
    assert dict(log.lost_m3).keys() == {"hollow", "metal"}
    assert log.sweep_m == pytest.approx(0.0762)
    assert log.volume_m3 == pytest.approx(log.gross_m3 - sum(lost for _, lost in log.lost_m3))
    page.goto(f"/wood-in/{load_id}")
    page.get_by_text("1 log").tap()
    expect(page.get_by_role("cell", name=re.compile("hollow off; .* metal off; sags 3 in"))).to_be_visible()
    fits(page)


def test_a_weighing_ticket_beside_a_rough_load(page: Page, small_yard: Any, desk_of: Desk) -> None:
    page.goto(f"/wood-in/{small_yard.rough_load}")
    page.get_by_role("link", name="Note another measure").tap()
    page.get_by_role("button", name="Note it").tap()
    expect(page.locator("[data-errors]")).to_contain_text("Net weight")
    page.get_by_label("Net weight").fill("9 t")
    fits(page)
    page.get_by_role("button", name="Note it").tap()
    page.wait_for_url(re.compile(rf"/wood-in/{small_yard.rough_load}#measures$"))

    section = page.locator("#measures")
    expect(section).to_contain_text("by weight")
    expect(section).to_contain_text("Together")
    assert load_measures(desk_of, small_yard.rough_load).law
    fits(page)
    page.get_by_role("link", name="Let the book follow").tap()
    page.get_by_label("Why").fill("weighed at the bridge")
    page.get_by_role("button", name="Let the book follow").tap()
    page.wait_for_url(re.compile("#measures$"))
    expect(section).to_contain_text("weighed at the bridge")
    page.get_by_role("button", name="Set it aside").tap()
    expect(section).to_contain_text("set aside")


def test_how_you_stack_says_that_nothing_is_learnt_yet(page: Page) -> None:
    page.goto("/yard/taught")
    page.get_by_role("link", name="How you stack").tap()
    expect(page.get_by_role("main")).to_contain_text("Nothing yet")
    fits(page)


def test_how_much_is_in_a_tree(page: Page) -> None:
    page.goto("/wood-in")
    page.get_by_role("link", name="How much is it?").tap()
    page.get_by_label("What tree").fill("sugar maple")
    page.get_by_role("button", name="How much?").tap()
    expect(page.locator("[data-errors]")).to_contain_text("give one of them")
    page.get_by_label("or girth there").fill("44")
    page.get_by_label("in the open").check()
    page.get_by_role("button", name="How much?").tap()
    found = page.locator("#found")
    expect(found).to_contain_text("Split and stacked")
    expect(found).to_contain_text("estimated")
    fits(page)


@pytest.fixture
def scene() -> Any:
    """A stack's face of uneven height with a board in it, seen 15° from the side."""
    spec = importlib.util.spec_from_file_location("photo_scenes_in_browser", SCENES)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module.Scene(
        module.uneven(), (1.3, 0.35, 1.0, 0.6), yaw_deg=15.0, size_px=(1600, 1200), focal_px=1240.0
    )


def test_a_stack_is_measured_on_a_photo(page: Page, small_yard: Any, desk_of: Desk, scene: Any) -> None:
    """Tapped where the rendered scene has its corners: the area is the scene's within three percent."""
    out = io.BytesIO()
    scene.picture().save(out, "JPEG", quality=85)
    stack = small_yard.mixed
    command = AddPhoto(key=new_key(), content=out.getvalue(), subject_kind="stack", subject_id=stack)
    photo = int(add_photo(desk_of, command)["photo_id"])
    page.goto(f"/stacks/{stack}/measure")
    page.get_by_role("link", name="Measure it on a photo instead").tap()
    page.locator(f"a[href='/stacks/{stack}/photo?photo={photo}']").tap()
    page.get_by_label("Width of the board or frame").fill("100 cm")
    page.get_by_label("Its height").fill("60 cm")
    page.get_by_role("button", name="Enlarge").tap()
    fits(page)
    corners, outline = scene.marks(0.0, 0)
    tap(page, corners[0])
    expect(page.locator("[data-said]")).to_have_text("Tap corner 2 of the board.")
    for point in (*corners[1:], *outline):
        tap(page, point)
    page.get_by_role("button", name="Take the last point back").tap()
    expect(page.locator(".mark-dot.is-outline")).to_have_count(len(outline) - 1)
    tap(page, outline[-1])
    # A corner is moved away with the arrow keys and back.
    dot = page.get_by_role("button", name="Corner 1 of the board")
    dot.focus()
    for key in ("ArrowUp", "ArrowDown"):
        page.keyboard.press(key)
    page.get_by_role("button", name="How much is it?").tap()

    expect(page.locator("#found")).to_contain_text("Face of the stack")
    expect(page.locator(".mark-dot.is-outline")).to_have_count(len(outline))
    page.get_by_role("button", name="Put it in the book").tap()
    page.wait_for_url(re.compile(rf"/stacks/{stack}$"))
    with desk_of.book.read() as session:
        kept = session.query(PhotoGauging).one()
        measure = session.get_one(StackMeasure, kept.measure_id)
    assert kept.area_m2 == pytest.approx(scene.area_m2, rel=0.03)
    assert kept.low_m2 < scene.area_m2 < kept.high_m2
    assert kept.photo_id == photo
    assert measure.outside_m3 == pytest.approx(kept.area_m2 * 0.4064 * measure.rows, rel=1e-3)

    # The photo goes, the marks and the measure stay.
    remove_photo(desk_of, RemovePhoto(key=new_key(), photo_id=photo))
    assert [item.photo_id for item in marks_of_stack(desk_of, stack).values()] == [None]


def tap(page: Page, point: Any) -> None:
    """Scrolls the photo so that a point of it is in the middle of its window, and taps it."""
    x, y = page.evaluate(
        """([x, y]) => {
          const svg = document.getElementById("marking"), view = svg.parentElement;
          view.scrollIntoView({ block: "center" });
          const dot = svg.viewBox.baseVal.width / svg.getBoundingClientRect().width;
          view.scrollLeft = x / dot - view.clientWidth / 2;
          view.scrollTop = y / dot - view.clientHeight / 2;
          const box = svg.getBoundingClientRect();
          return [box.left + x / dot, box.top + y / dot];
        }""",
        [float(point[0]), float(point[1])],
    )
    page.mouse.click(x, y)
