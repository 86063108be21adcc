"""The whole way on a phone: wood is offered as logs, taken, cut by a sheet, split by a sheet and stacked."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from rickyard.book import check
from rickyard.desk.context import Desk
from rickyard.desk.cut_sheets import cut_sheet
from rickyard.desk.loads import load_page
from rickyard.desk.offer_views import offer
from rickyard.desk.split_sheets import splitting_sheet
from rickyard.desk.stacks import stack_page, stacks

# The second log holds a nail, the third rot all through its butt, the fourth is bent.
LOGS = (
    "species,length_ft,small_in,large_in,count,sweep_in,defects\n"
    "sugar maple,8,11,13,2,,\n"
    "sugar maple,8,10,12,1,,2-2.5ft:metal\n"
    "sugar maple,8,10,12,1,,0-1.5ft:rot\n"
    "sugar maple,8,9,10,1,4,\n"
)
FT = 0.3048


def number_in(page: Page) -> int:
    found = re.search(r"/(\d+)(?:[?#].*)?$", page.url)
    assert found, page.url
    return int(found[1])


def narrow(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= innerWidth"))


@pytest.mark.browser
def test_from_an_offer_to_a_stack_without_typing_an_address(page: Page, desk_of: Desk) -> None:
    page.goto("/")
    page.get_by_role("navigation").get_by_role("link", name="Wood in").first.tap()
    page.get_by_role("link", name="Wood on offer").first.tap()
    page.get_by_role("link", name="Somebody offers wood").tap()
    page.get_by_text("Logs, measured one by one").tap()
    page.fill("[name=paste]", LOGS)
    page.fill("[name=source]", "Otter Creek lot")
    page.fill("[name=asked]", "40")
    page.get_by_text("Day, hauling").tap()
    page.fill("[name=offered_on]", "2026-11-20")
    page.get_by_role("button", name="What is it worth?").tap()
    page.wait_for_url(re.compile(r"/offers/\d+$"))
    card = offer(desk_of, number_in(page))
    assert card.worth is not None
    expect(page.locator("#worth")).to_contain_text("They ask $40.00")
    assert narrow(page)

    page.get_by_role("button", name="Take it").tap()
    page.wait_for_url(re.compile(r"/wood-in/\d+$"))
    load = load_page(desk_of, number_in(page))
    assert [log.number for log in load.logs] == [1, 2, 3, 4, 5]
    assert load.logs[3].volume_m3 < load.logs[3].gross_m3, "rot is taken off"
    assert load.logs[2].volume_m3 < load.logs[2].gross_m3, "and metal"
    assert sum(log.volume_m3 for log in load.logs) == pytest.approx(card.worth.offered.solid_m3.mid, rel=1e-6)

    page.locator("a.is-main", has_text="Make a cut sheet").tap()
    page.get_by_role("button", name="Make the cut sheet").tap()
    page.wait_for_url(re.compile(r"/cutting/\d+$"))
    sheet_id = number_in(page)
    sheet = cut_sheet(desk_of, sheet_id)
    nail, rot = ((line.plan.cuts, line.known[0]) for line in sheet.lines[2:4])
    for cuts, known in (nail, rot):
        assert cuts
        assert not any(cut.from_m < known.to_m - 1e-6 and cut.to_m > known.from_m + 1e-6 for cut in cuts)
    assert (nail[1].from_m, nail[1].to_m) == pytest.approx((2 * FT, 2.5 * FT))
    page.locator("html[data-outbox-ready]").wait_for()
    page.locator("[data-chip='3']").tap()
    expect(page.locator("#log-3")).to_contain_text("metal from 24 to 30")
    page.locator("[data-chip='1']").tap()
    assert narrow(page)
    for log in range(1, 6):
        shown = page.locator("[data-shown]")
        expect(shown).to_have_attribute("data-log", str(log))
        shown.get_by_role("button", name="Log is cut").tap()
        expect(page.locator("[data-count-done]")).to_have_text(str(log))
    expect(page.get_by_text("All logs of this sheet are cut.")).to_be_visible()
    for _ in range(100):
        if cut_sheet(desk_of, sheet_id).card.done:
            break
        page.wait_for_timeout(100)
    assert cut_sheet(desk_of, sheet_id).card.done

    page.get_by_role("link", name="Now split: how thick?").tap()
    length = page.input_value("[name=piece_length]")
    assert sheet.plan is not None
    assert float(length) == pytest.approx(sheet.plan.wares[0].length_m / 0.0254, abs=0.05)
    page.get_by_role("button", name="Work it out").tap()
    page.wait_for_url(re.compile(r"/splitting/\d+$"))
    expect(page.locator(".limit-figure")).to_be_visible()
    split = splitting_sheet(desk_of, number_in(page))
    assert sum(one.rounds or 0 for one in split.classes) == sum(len(line.plan.cuts) for line in sheet.lines)
    assert narrow(page)

    page.get_by_role("link", name="Stack what was split").tap()
    assert page.input_value("[name=piece_length]") == length
    expect(page.locator(f"[name=load][value='{load.row.id}']")).to_be_checked()
    page.fill("[name=stack_name]", "Z7")
    page.fill("[name=length]", "6")
    page.fill("[name=height]", "2.5")
    page.get_by_role("button", name="Put the stack in the book").tap()
    page.wait_for_url(re.compile(r"/stacks/\d+$"))
    stack = stack_page(desk_of, number_in(page))
    assert [card.name for card in stacks(desk_of) if card.id == stack.card.id] == ["Z7"]
    assert load_page(desk_of, load.row.id).row.left_share == pytest.approx(0.0, abs=1e-6)
    report = check(desk_of.book)
    assert (report.problems, report.balance_g) == ((), 0)
