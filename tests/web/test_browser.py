"""Pages in a real browser of a phone's size: accessibility, policy, targets, and what scripts add.

Accessibility by axe-core with the rules of WCAG 2.2 A, AA and (contrast) AAA; targets of 48 px are this house's own.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

pytestmark = pytest.mark.browser

AXE = (Path(__file__).parent / "vendor" / "axe.min.js").read_text()
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PARTS = ("/progress", "/species-options", "/place-options", "/household-options", "/load-options")

# Sizes of everything that is tapped. Links inside a sentence and boxes covered by their label are no targets.
SMALL_TARGETS = """
() => [...document.querySelectorAll("a, button, input, select, textarea, summary")]
  .filter((item) => {
    if (item.type === "hidden" || item.closest(".choice") || item.closest("p, .lead, dd, svg, .skip")) return false;
    const box = item.getBoundingClientRect();
    return box.width > 0 && box.height > 0 && (box.height < 47.5 || box.width < 47.5)
      && getComputedStyle(item).visibility !== "hidden" && !item.matches(".skip");
  })
  .map((item) => {
    const box = item.getBoundingClientRect();
    return `${item.tagName} ${item.textContent.trim().slice(0, 30)} ${Math.round(box.width)}x${Math.round(box.height)}`;
  })
"""


def axe(page: Page) -> list[str]:
    """What axe-core finds: rule, element and why, one line each."""
    page.evaluate(AXE)
    found = page.evaluate(
        """(rules) => axe.run(document, {
             runOnly: {type: "tag", values: rules},
             rules: {"color-contrast-enhanced": {enabled: true}},
             resultTypes: ["violations"],
           }).then((result) => result.violations)""",
        RULES,
    )
    return [
        f"{item['id']}: {node['target']} {node.get('failureSummary', '')}"
        for item in found
        for node in item["nodes"]
    ]


def pages_of(paths: dict[str, str]) -> list[str]:
    return [path for path in paths.values() if not path.startswith(PARTS)]


def test_every_page_is_accessible(page: Page, paths: dict[str, str]) -> None:
    """No violation on any page, and nothing sticks out sideways at 390 px."""
    bad: dict[str, Any] = {}
    for path in pages_of(paths):
        page.goto(path)
        found = axe(page)
        wide = page.evaluate("document.documentElement.scrollWidth")
        if wide > 390:
            found.append(f"{wide} px wide")
        if found:
            bad[path] = found

    assert bad == {}


def test_axe_would_find_something(page: Page) -> None:
    """The check above can fail."""
    page.goto("/")
    page.evaluate(
        "document.querySelector('main').insertAdjacentHTML('beforeend', '<input><p class=pale>pale</p>')"
    )
    # 4.5:1 on white: enough for AA, not for AAA.
    page.evaluate(
        "Object.assign(document.querySelector('.pale').style, {color: '#767676', background: '#fff'})"
    )
    found = axe(page)

    assert any(line.startswith("label:") for line in found)
    assert any(line.startswith("color-contrast-enhanced:") for line in found)


def test_targets_are_large(page: Page, paths: dict[str, str]) -> None:
    bad = {}
    for path in pages_of(paths):
        page.goto(path)
        small = page.evaluate(SMALL_TARGETS)
        if small:
            bad[path] = small

    assert bad == {}


def test_french_pages_fit_a_phone_too(browser: Browser, address: str, paths: dict[str, str]) -> None:
    """French is longer: nothing sticks out sideways at 390 px, and what is tapped stays large enough."""
    context = browser.new_context(base_url=address, viewport={"width": 390, "height": 844}, has_touch=True)
    context.add_cookies([{"name": "lang", "value": "fr_CA", "url": address}])
    page = context.new_page()
    bad = {}
    for path in pages_of(paths):
        page.goto(path)
        assert page.evaluate("document.documentElement.lang") == "fr-CA", path
        found = page.evaluate(SMALL_TARGETS)
        wide = page.evaluate("document.documentElement.scrollWidth")
        if wide > 390:
            found.append(f"{wide} px wide")
        if found:
            bad[path] = found
    context.close()

    assert bad == {}


def test_wide_screen_is_accessible_too(browser: Browser, address: str, paths: dict[str, str]) -> None:
    context = browser.new_context(base_url=address, viewport={"width": 1280, "height": 900})
    page = context.new_page()
    bad = {}
    for name in ("/", "/stacks", "/stacks/{stack_id:int}", "/wood-in", "/orders/new yes", "/yard"):
        page.goto(paths[name])
        if (found := axe(page)) or page.evaluate("document.documentElement.scrollWidth") > 1280:
            bad[name] = found
    context.close()

    assert bad == {}


# What holds more than it shows, without a bar to get at it.
CUT_OFF = """
[...document.querySelectorAll("main, main .card, main .table-wrap, main section, main fieldset, main dl")]
  .filter((one) => one.clientWidth > 0 && one.scrollWidth > one.clientWidth + 1)
  .filter((one) => !["auto", "scroll"].includes(getComputedStyle(one).overflowX))
  .map((one) => `${one.tagName} ${one.className}: ${one.scrollWidth} in ${one.clientWidth}`)
"""


def test_nothing_is_cut_off_on_a_desk(browser: Browser, address: str, paths: dict[str, str]) -> None:
    """A narrow column of a wide screen holds what is in it, in French too: no table runs out of its card."""
    context = browser.new_context(base_url=address)
    context.add_cookies([{"name": "lang", "value": "fr_CA", "url": address}])
    page = context.new_page()
    bad = {}
    for path in pages_of(paths):
        page.goto(path)
        for width in (800, 1024, 1280):
            page.set_viewport_size({"width": width, "height": 900})
            if found := page.evaluate(CUT_OFF):
                bad[path, width] = found
    context.close()

    assert bad == {}


def test_form_complaints_come_without_a_new_page(page: Page) -> None:
    """htmx puts the form with its complaints in place; what was typed stays; the focus is on the complaints."""
    page.goto("/wood-in/new")
    page.evaluate("window.marker = 'same page'")
    page.fill("[name=quantity]", "10 face cords")
    page.fill("[name=source]", "Saltbox woodlot")
    page.get_by_role("button", name="Take it in").tap()
    box = page.locator("[data-errors]")
    expect(box).to_be_visible()

    expect(box).to_be_focused()
    assert page.evaluate("window.marker") == "same page"
    assert page.input_value("[name=quantity]") == "10 face cords"
    assert page.input_value("[name=source]") == "Saltbox woodlot"
    expect(page.locator("#quantity")).to_have_attribute("aria-invalid", "true")
    assert axe(page) == []

    box.get_by_role("link", name="How much").tap()
    expect(page.locator("#quantity")).to_be_focused()
    page.fill("[name=quantity]", "10 cords")
    page.fill("[name=wood]", "maple and birch 60/40")
    page.get_by_role("button", name="Take it in").tap()
    page.wait_for_url(re.compile(r"/wood-in/\d+$"))
    expect(page.get_by_role("status")).to_contain_text("in the book")


def test_what_to_expect_appears_while_typing(page: Page) -> None:
    page.goto("/wood-in/new")
    page.fill("[name=quantity]", "10 cords")
    page.locator("[name=wood]").press_sequentially("sugar maple")

    expect(page.locator("#expected")).to_contain_text("What to expect of it")
    expect(page.locator("#expected")).to_contain_text("cords")


def test_species_are_suggested(page: Page) -> None:
    page.goto("/wood-in/new")
    page.locator("[name=wood]").press_sequentially("60% sugar maple and yellow bir")

    expect(page.locator("#species-list option").first).to_have_attribute(
        "value", re.compile(r"^60% sugar maple and .*birch")
    )


def test_the_fan_is_drawn_and_can_be_read_off(page: Page, paths: dict[str, str]) -> None:
    """uPlot takes the place of the server's drawing; a key moves the day; dry basis on request."""
    page.goto(paths["/stacks/{stack_id:int}"])
    chart = page.locator(".chart canvas")
    expect(chart).to_be_visible()
    expect(page.locator("svg.fan")).to_be_hidden()
    readout = page.locator(".readout")
    expect(readout).to_contain_text("Nov 24, 2026")
    expect(readout).to_contain_text("of total mass")
    page.locator(".chart").focus()
    page.keyboard.press("ArrowRight")
    expect(readout).to_contain_text("Dec 1, 2026")
    page.get_by_role("button", name="of dry mass").tap()
    expect(readout).to_contain_text("of dry mass")

    painted = page.evaluate(
        """() => {
          const canvas = document.querySelector(".chart canvas");
          const pixels = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
          return pixels.filter((value, index) => index % 4 === 3 && value > 0).length / (canvas.width * canvas.height);
        }"""
    )
    assert painted > 0.02
    assert axe(page) == []


def test_two_taps_at_the_gate(page: Page) -> None:
    page.goto("/")
    page.get_by_role("link", name="Sell at the gate").first.tap()
    page.locator("button.sale").first.tap()
    page.wait_for_url(re.compile(r"/tickets/\d+$"))

    expect(page.get_by_role("link", name="Open the ticket to print")).to_be_visible()


def test_a_double_tap_is_one_sale(page: Page) -> None:
    page.goto("/gate")
    page.evaluate(
        """() => {
          const button = document.querySelector("button.sale");
          button.click();
          button.click();
        }"""
    )
    expect(page).to_have_url(re.compile(r"/tickets/\d+$"))
    page.wait_for_load_state()
    page.goto("/tickets")

    assert page.locator("main").get_by_text("at the gate").count() == 1


def test_asking_and_promising(page: Page, paths: dict[str, str]) -> None:
    page.goto("/orders/new")
    page.fill("[name=home_name]", "Quentin Marlowe-Pye")
    page.locator("[name=ware]").first.check(force=True)
    page.fill("[name=order_quantity]", "1/2 cord")
    page.fill("[name=wanted_by]", "2026-12-20")
    page.get_by_role("button", name="What can we say?").tap()
    expect(page.locator("#answer")).to_contain_text("Yes, by")
    assert axe(page) == []

    page.get_by_role("button", name="Promise it").tap()
    page.wait_for_url(re.compile(r"/orders/\d+$"))
    expect(page.get_by_text("Promised from")).to_be_visible()


def test_the_menu_opens_by_tap_and_by_key(page: Page) -> None:
    page.goto("/")
    more = page.locator(".nav-more summary")
    more.tap()
    expect(page.locator(".more-list")).to_be_visible()
    assert axe(page) == []
    page.keyboard.press("Escape")
    expect(page.locator(".more-list")).to_be_hidden()
    page.keyboard.press("Enter")
    expect(page.locator(".more-list")).to_be_visible()


def test_skip_link_is_the_first_stop(page: Page) -> None:
    page.goto("/stacks")
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()


@pytest.fixture
def plain(browser: Browser, address: str) -> Iterator[BrowserContext]:
    """A phone that runs no scripts."""
    context = browser.new_context(
        base_url=address, viewport={"width": 390, "height": 844}, java_script_enabled=False
    )
    yield context
    context.close()


def test_without_scripts(plain: BrowserContext, paths: dict[str, str]) -> None:
    """A load is refused with complaints, then taken in; the fan is the server's drawing; the menu opens."""
    page = plain.new_page()
    page.goto("/wood-in/new")
    page.fill("[name=quantity]", "ten")
    page.fill("[name=source]", "Saltbox woodlot")
    page.get_by_role("button", name="Take it in").click()
    expect(page.locator("#quantity-error")).to_be_visible()
    assert page.input_value("[name=source]") == "Saltbox woodlot"
    page.fill("[name=quantity]", "10 cords")
    page.fill("[name=wood]", "sugar maple")
    page.get_by_role("button", name="Take it in").click()
    page.wait_for_url(re.compile(r"/wood-in/\d+$"))

    page.goto(paths["/stacks/{stack_id:int}"])
    expect(page.locator("svg.fan")).to_be_visible()
    page.locator(".nav-more summary").click()
    expect(page.locator(".more-list")).to_be_visible()
    page.goto("/gate")
    page.locator("button.sale").first.click()
    page.wait_for_url(re.compile(r"/tickets/\d+$"))


def test_progress_goes_away_by_itself(
    page: Page, paths: dict[str, str], make_forecasts: Callable[[], None]
) -> None:
    """A reading makes a forecast stale; once it is made anew the bar is gone without a reload."""
    page.goto(paths["/stacks/{stack_id:int}/reading"])
    page.fill("[name=reading]", "21")
    page.get_by_role("button", name="Put it in the book").tap()
    page.wait_for_url(re.compile(r"/stacks/\d+$"))
    page.goto("/")
    page.evaluate("window.marker = 'same page'")
    expect(page.locator("#progress progress")).to_be_visible()
    make_forecasts()

    expect(page.locator("#progress progress")).to_have_count(0, timeout=15_000)
    assert page.evaluate("window.marker") == "same page"


def test_reduced_motion_is_respected(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, reduced_motion="reduce")
    page = context.new_page()
    page.goto("/")
    moving = page.evaluate(
        """() => [...document.querySelectorAll("*")].filter((item) => {
             const style = getComputedStyle(item);
             return style.transitionDuration !== "0s" || style.animationName !== "none";
           }).length"""
    )
    context.close()

    assert moving == 0


def test_print_leaves_out_what_paper_cannot_use(page: Page, paths: dict[str, str]) -> None:
    page.goto(paths["/stacks/{stack_id:int}"])
    expect(page.locator(".chart canvas")).to_be_visible()
    page.emulate_media(media="print")

    expect(page.locator("svg.fan")).to_be_visible()
    for hidden in (".nav", ".top", ".chart"):
        expect(page.locator(hidden)).to_be_hidden()


def test_lines_of_the_drawing_are_not_filled(page: Page, paths: dict[str, str]) -> None:
    """A path is black inside unless the sheet says otherwise; only the band has an inside."""
    page.goto(paths["/stacks/{stack_id:int}"])
    filled = page.evaluate(
        """() => [...document.querySelectorAll("svg.fan path")]
             .filter((path) => getComputedStyle(path).fill !== "none")
             .map((path) => path.getAttribute("class"))"""
    )

    assert set(filled) == {"fan-band"}
