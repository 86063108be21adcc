"""Measuring a stack from the phone: marked pieces, an oven sample and two weighings without signal, and what the
forecast makes of them; readings confirmed or set aside; what was taught, looked at and forgotten."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from rickyard.desk import forecasts
from rickyard.desk.clashes import clashes
from rickyard.desk.context import Desk, new_key
from rickyard.desk.learning import taught_page
from rickyard.desk.readings import readings
from rickyard.desk.stacking import Dimensions, OpeningStack, PiecesFacts, opening_stack
from rickyard.desk.witness import witness_page
from rickyard.desk.wood_in import Harvest

NOW = date(2026, 11, 24)


def post(client: httpx.Client, path: str, number: int, **fields: str) -> httpx.Response:
    return client.post(path, data=fields | {"key": f"measure-{number:04d}"})


def test_marking_and_weighing_by_plain_forms(client: httpx.Client, desk_of: Desk, small_yard: Any) -> None:
    """Pounds by default, a unit where one is typed; lines left empty say nothing; one more line without scripts."""
    stack = small_yard.dry
    page = client.get(f"/stacks/{stack}/mark").text
    assert page.count('name="mark-') == 4
    more = post(client, f"/stacks/{stack}/mark", 0, lines="4", more="1")
    assert more.text.count('name="mark-') == 5
    marked = {"lines": "4", "marked_on": "2026-09-01", "mark-0": "1", "mass-0": "4 lb"}
    marked |= {"mark-1": "2", "mass-1": "2 kg", "mark-2": "3", "scale_step": "5 g"}
    assert post(client, f"/stacks/{stack}/mark", 1, **marked).status_code == 303
    pieces = witness_page(desk_of, stack).pieces
    assert [(piece.label, round(piece.start_kg, 3)) for piece in pieces] == [("1", 1.814), ("2", 2.0)]

    shown = client.get(f"/stacks/{stack}/weigh").text
    assert 'value="1"' in shown
    weighed = {"lines": "2", "weighed_on": "2026-10-05", "mark-0": "1", "mass-0": "3.6"}
    weighed |= {"mark-1": "2", "gone-1": "on", "wet": "on"}
    assert post(client, f"/stacks/{stack}/weigh", 2, **weighed).status_code == 303
    (line,) = readings(desk_of, stack)
    assert (round(line.value, 3), line.pieces, line.wet) == (0.9, 1, True)
    # The step of the scale is that of the marking.
    ((inputs, _),) = [pair for pair in forecasts.wanted(desk_of) if pair[0].stack_id == stack]
    assert inputs.readings[0][1].step == pytest.approx(0.005 / (3.6 * 0.45359), rel=1e-3)
    page = client.get(f"/stacks/{stack}").text
    assert "3.60 lb" in page
    assert "wet from rain" in page


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"lines": "2"}, "mass-0"),
        ({"lines": "1", "mark-0": "1", "mass-0": "heavy"}, "mass-0"),
        ({"lines": "1", "mark-0": "", "mass-0": "2"}, "mark-0"),
        ({"lines": "1", "mark-0": "1", "mass-0": "900 lb"}, "mass-0"),
        ({"lines": "2", "mark-0": "1", "mass-0": "2", "mark-1": "1", "mass-1": "3"}, "mark-0"),
        ({"lines": "1", "mark-0": "1", "mass-0": "2", "weighed_on": "2026-12-24"}, "weighed_on"),
    ],
)
def test_a_weighing_that_says_nothing_is_asked_again(
    client: httpx.Client, desk_of: Desk, small_yard: Any, fields: dict[str, str], field: str
) -> None:
    stack = small_yard.dry
    answer = post(client, f"/stacks/{stack}/weigh", 3, **({"weighed_on": "2026-11-01"} | fields))

    assert answer.status_code == 422
    assert f'href="#{field}"' in answer.text
    assert readings(desk_of, stack) == []


def test_several_readings_at_once_and_what_is_said_of_them(
    client: httpx.Client, desk_of: Desk, small_yard: Any
) -> None:
    stack = small_yard.dry
    base = {"kind": "meter", "happened_on": "2026-11-01", "read_species": ""}
    for number, (fields, said) in enumerate(
        [
            ({"reading": "22 24, 26"}, "read"),
            ({"reading": "80"}, "read_beyond"),
            ({"reading": "18", "temperature": "-6"}, "read_frozen"),
            ({"reading": "15", "face": "surface"}, "read_surface"),
        ]
    ):
        answer = post(client, f"/stacks/{stack}/reading", 10 + number, **(base | fields))
        assert answer.status_code == 303, answer.text
        assert answer.cookies["said"] == said
    lines = readings(desk_of, stack)
    assert (lines[-1].value, lines[-1].pieces, lines[-1].scatter) == (24.0, 3, 2.0)
    refused = post(client, f"/stacks/{stack}/reading", 20, **(base | {"reading": "22 240"}))
    assert refused.status_code == 422
    assert 'id="reading-error"' in refused.text
    assert len(readings(desk_of, stack)) == 4


def test_a_questioned_reading_is_confirmed_or_set_aside(
    client: httpx.Client, desk_of: Desk, small_yard: Any
) -> None:
    """The stack page asks; one tap answers, and another takes it back."""
    stack = small_yard.mixed
    assert "Is this reading right?" in client.get("/").text
    page = client.get(f"/stacks/{stack}").text
    asked = re.findall(r'action="(/readings/(\d+)/judge)"(?:(?!</form>).)*value="right"', page, re.DOTALL)
    assert len(asked) == 1
    path, number = asked[0]
    for step, trust in enumerate(("right", "", "aside")):
        assert post(client, path, 30 + step, trust=trust).status_code == 303
        (line,) = [line for line in readings(desk_of, stack) if line.id == int(number)]
        assert line.trust == trust
    assert "set aside" in client.get(f"/stacks/{stack}").text
    assert client.get(f"/api/stacks/{stack}/readings").json()[-1]["trust"] in ("", "aside")
    assert post(client, "/readings/9999/judge", 40, trust="right").status_code == 404


def test_what_the_yard_has_taught_is_shown_and_forgotten(client: httpx.Client, desk_of: Desk) -> None:
    page = client.get("/yard/taught").text
    assert "sugar maple" in page
    assert "Back row" in page
    assert client.get("/api/taught").json()["lines"] != []
    assert post(client, "/yard/taught/forget", 50, forget="species:nothing").status_code == 422
    assert post(client, "/yard/taught/forget", 51, forget="all").status_code == 303
    assert taught_page(desk_of).lines == ()
    assert "Nothing yet" in client.get("/yard/taught").text


# -- a phone without signal --------------------------------------------------------------------

KEPT = "async () => (await caches.match('/kept-at')) !== undefined"


@pytest.fixture
def yard(browser: Browser, road: Any) -> Iterator[BrowserContext]:
    context = browser.new_context(
        base_url=road.address, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    context.set_default_timeout(20_000)
    yield context
    context.close()


def kept(page: Page) -> None:
    page.goto("/")
    page.locator("html[data-outbox-ready]").wait_for()
    page.evaluate("navigator.serviceWorker.ready.then(() => undefined)")
    for _ in range(300):
        if page.evaluate(KEPT) and page.evaluate("navigator.serviceWorker.controller !== null"):
            return
        page.wait_for_timeout(100)
    raise AssertionError("the phone kept no pages")


def enter(page: Page, path: str, **fields: str) -> None:
    page.goto(path)
    page.locator("html[data-outbox-ready]").wait_for()
    for name, value in fields.items():
        box = page.locator(f"[name='{name.replace('_n', '-')}']")
        if box.get_attribute("type") == "checkbox":
            box.locator("xpath=ancestor::label").tap()
        else:
            box.fill(value)
    page.get_by_role("button", name="Put it in the book").tap()
    page.wait_for_url("**/outbox")


def widths(desk: Desk, stack: int, day: date) -> tuple[float, float]:
    """The kept forecast is made anew by the real model; the band of that day and of the day of ready."""
    ((inputs, _),) = [pair for pair in forecasts.wanted(desk) if pair[0].stack_id == stack]
    forecasts.keep(desk, inputs, *forecasts.make(inputs))
    look = forecasts.outlook(desk, stack)
    assert not look.stale
    low, _, high = look.moisture_on(day) or (0.0, 0.0, 0.0)
    ready = [(when or look.dates[-1]).toordinal() for when in (look.ready_p10, look.ready_p90)]
    return high - low, ready[1] - ready[0]


@pytest.mark.browser
def test_an_oven_sample_and_two_weighings_without_signal_narrow_the_band(
    yard: BrowserContext, road: Any, desk_of: Desk
) -> None:
    """The easy path on the phone: mark, oven sample, two weighings, all typed without signal; sent when there is
    some; the forecast is made again by the real model, and its band and that of the day of ready are narrower."""
    stacked = date(2026, 4, 20)
    opening = OpeningStack(
        key=new_key(),
        shares=(("white ash", 1.0),),
        harvest=Harvest(country="CA", subdivision="NB", county="York"),
        pieces=PiecesFacts(name="D4", piece_length_m=0.4064, thickness_m=0.10, stacked_on=stacked),
        outside=Dimensions(length_m=4.0, heights_m=(1.5,), rows=1),
    )
    stack = int(opening_stack(desk_of, opening)["stack_id"])
    before, ready_before = widths(desk_of, stack, stacked + timedelta(days=90))
    look = forecasts.outlook(desk_of, stack)
    page = yard.new_page()
    kept(page)
    road.state = "closed"

    page.goto(f"/stacks/{stack}")
    page.get_by_role("link", name="Mark pieces").tap()
    expect(page.locator("h1")).to_contain_text("Mark pieces")
    enter(
        page,
        f"/stacks/{stack}/mark",
        mass_n0="4.4 lb",
        mass_n1="5.1 lb",
        mass_n2="3.9 lb",
        marked_on=stacked.isoformat(),
    )
    start = look.p50[0]
    enter(
        page,
        f"/stacks/{stack}/reading?kind=oven",
        wet_mass="250",
        dry_mass=f"{250 * (1 - start):.1f}",
        own="on",
        happened_on=stacked.isoformat(),
    )
    for days in (30, 60):
        ratio = (1 - start) / (1 - look.p50[days])
        enter(
            page,
            f"/stacks/{stack}/weigh",
            mass_n0=f"{4.4 * ratio:.2f}",
            mass_n1=f"{5.1 * ratio:.2f}",
            mass_n2=f"{3.9 * ratio:.2f}",
            weighed_on=(stacked + timedelta(days=days)).isoformat(),
        )
    expect(page.locator("[data-state=waiting]")).to_have_count(4)
    assert readings(desk_of, stack) == []

    road.state = "open"
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(page.locator("[data-state=done]")).to_have_count(4, timeout=60_000)

    fresh = readings(desk_of, stack)
    assert sorted(line.kind for line in fresh) == ["oven", "weighed", "weighed"]
    assert all(line.pieces == 3 for line in fresh)
    assert not [clash for clash in clashes(desk_of) if clash.stack_id == stack]
    after, ready_after = widths(desk_of, stack, stacked + timedelta(days=90))
    # By then ash is near what the air holds it to; the weather to come is most of what is left of the band.
    assert after < 0.9 * before
    assert ready_after < ready_before
    page.goto(f"/stacks/{stack}")
    expect(page.locator("main")).to_contain_text("of the weight when marked")
    expect(page.locator("main")).to_contain_text("Weigh the marked pieces now: a month has passed.")
    assert "D4" in [lesson.stack_name for lesson in taught_page(desk_of).lessons]
