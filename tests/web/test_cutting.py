"""The saw and the splitter on the phone: from a load to a cut sheet, ticked off without signal, split and stacked."""

from __future__ import annotations

import html
import re
import time
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, Error, Page, expect

from rickyard.desk.context import Desk
from rickyard.desk.cut_sheets import cut_sheet, cut_sheets
from rickyard.desk.split_sheets import splitting_sheets, work_sessions
from rickyard.desk.stacks import stacks

KEPT = "async () => (await caches.match('/kept-at')) !== undefined"
WAITING = """() => new Promise((resolve) => {
  const open = indexedDB.open("rickyard", 1);
  open.onsuccess = () => {
    const all = open.result.transaction("entries").objectStore("entries").getAll();
    all.onsuccess = () => {
      open.result.close();
      resolve(all.result.filter(({ state }) => state === "waiting" || state === "sending").length);
    };
  };
})"""


def until(page: Page, condition: str, wanted: Any = True, seconds: float = 30) -> None:
    """Waits for what the page says of itself; the policy forbids the driver's own way."""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        try:
            if page.evaluate(condition) == wanted:
                return
        except Error as error:
            if "Execution context was destroyed" not in error.message:
                raise
        page.wait_for_timeout(100)
    raise AssertionError(condition)


@pytest.mark.browser
def test_from_a_load_to_a_stack_with_the_sheets(
    browser: Browser, road: Any, desk_of: Desk, small_yard: Any
) -> None:
    """A cut sheet is made, two logs are ticked off without signal, the rounds are split by a sheet and stacked."""
    context = browser.new_context(
        base_url=road.address, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    context.set_default_timeout(20_000)
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(f"/wood-in/{small_yard.logs_load}")
    page.locator("html[data-outbox-ready]").wait_for()
    until(page, KEPT)
    page.get_by_role("link", name="Make a cut sheet").tap()
    page.get_by_role("button", name="Make the cut sheet").tap()
    page.wait_for_url(re.compile(r"/cutting/\d+$"))
    number = int(page.url.rsplit("/", 1)[1])
    expect(page.locator("h1")).to_contain_text("Cut sheet 2")
    expect(page.locator("[data-shown] .cut-mark b").first).to_have_text("16")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    until(page, f"caches.match('/cutting/{number}').then((found) => found !== undefined)")

    road.state = "closed"
    page.goto(f"/cutting/{number}")
    expect(page.locator("#notices")).to_contain_text("as of")
    for log in (1, 2):
        shown = page.locator("[data-shown]")
        expect(shown).to_have_attribute("data-log", str(log))
        shown.get_by_role("button", name="Log is cut").tap()
    expect(page.locator("[data-shown]")).to_have_attribute("data-log", "3")
    expect(page.locator("[data-count-done]")).to_have_text("2")
    expect(page.locator("#outbox-badge")).to_have_text("2 to send")
    page.reload()
    expect(page.locator("[data-count-done]")).to_have_text("2")
    page.locator("[data-chip='2']").tap()
    expect(page.locator("#log-2 [data-kept]")).to_be_visible()
    assert not any(line.done for line in cut_sheet(desk_of, number).lines)

    road.state = "open"
    page.evaluate("dispatchEvent(new Event('online'))")
    until(page, WAITING, 0)
    lines = cut_sheet(desk_of, number).lines
    assert [line.done for line in lines] == [True, True, *[False] * (len(lines) - 2)]

    page.goto(f"/cutting/{number}#log-3")
    page.locator("html[data-outbox-ready]").wait_for()
    log = page.locator("#log-3")
    log.get_by_text("It came out otherwise").tap()
    log.get_by_role("radio", name="rot").check()
    log.locator("[name=found_from]").fill("10")
    log.locator("[name=found_to]").fill("20")
    log.get_by_role("button", name="Plan the rest anew").tap()
    expect(page.locator("#log-3 .warn")).to_contain_text("rot from 10 to 20")
    expect(page.locator("#log-3 .cut-mark").first).to_contain_text("saw before it")
    page.locator("#log-3").get_by_text("Piece by piece").tap()
    page.locator("#log-3 .cut-piece").first.get_by_role("button", name="Cut").tap()
    expect(page.locator("#log-3 .cut-piece").first.get_by_role("button", name="Not cut")).to_be_visible()
    until(page, WAITING, 0)
    assert cut_sheet(desk_of, number).lines[2].pieces_done[0]

    page.get_by_role("link", name="Make a splitting sheet").tap()
    page.get_by_role("button", name="Work it out").tap()
    page.wait_for_url(re.compile(r"/splitting/\d+$"))
    expect(page.locator(".limit-figure")).to_be_visible()
    expect(page.locator(".split-drawing svg").first).to_be_visible()
    page.get_by_role("link", name="Stack what was split").tap()
    split = splitting_sheets(desk_of)[0]
    assert page.input_value("[name=piece_length]") == "16"
    assert float(page.input_value("[name=thickness]")) <= (split.limit_m or 0.0) / 0.0254
    expect(page.locator(f"[name=load][value='{small_yard.logs_load}']")).to_be_checked()
    page.fill("[name=stack_name]", "Z9")
    page.fill("[name=length]", "4")
    page.fill("[name=height]", "4")
    page.get_by_role("button", name="Put the stack in the book").tap()
    page.wait_for_url(re.compile(r"/stacks/\d+$"))
    assert [card.name for card in stacks(desk_of) if card.name == "Z9"] == ["Z9"]
    assert faults == []
    context.close()


def test_a_sheet_is_ticked_off_without_scripts(client: httpx.Client, desk_of: Desk, small_yard: Any) -> None:
    """A plain form leads to the next log; undone by another, and both are printed."""
    path = f"/cutting/{small_yard.cut}"
    told = client.post(f"{path}/log/3/tick", data={"key": "plain-tick-3"})
    assert (told.status_code, told.headers["location"]) == (303, f"{path}#log-4")
    assert cut_sheets(desk_of)[0].logs_done == 2
    client.post(f"{path}/log/3/undo", data={"key": "plain-undo-3"})
    assert cut_sheets(desk_of)[0].logs_done == 1
    wrong = client.post(f"{path}/log/2/found", data={"key": "plain-found-2", "found_from": "x"})
    assert wrong.status_code == 422
    assert "What was found" in wrong.text
    for printed in (f"{path}/sheet.pdf", f"/splitting/{small_yard.split}/sheet.pdf?paper=a4"):
        assert client.get(printed).content.startswith(b"%PDF-")
    assert client.get(f"/splitting/{small_yard.waiting}/sheet.pdf").status_code == 303


def test_a_pasted_list_and_its_faults(client: httpx.Client, desk_of: Desk, small_yard: Any) -> None:
    """A load that was taken in roughly: every bad line is said, and nothing typed is lost."""
    form = {
        "key": "pasted-list-1",
        "load": str(small_yard.rough_load),
        "wares": str(small_yard.ware),
        "wanted-w" + str(small_yard.ware): "1 cord",
        "log_list": "log_id,length_ft,d_large_in,d_small_in\nK1,12,14,16\nK2,,14,12\n",
    }
    refused = client.post("/cutting/new", data=form)
    assert refused.status_code == 422
    assert "K2,,14,12" in refused.text
    assert cut_sheets(desk_of, load_id=small_yard.rough_load) == []
    right = form | {"log_list": "log_id,length_ft,d_large_in,d_small_in\nK1,12,16,14\nK2,10,14,12\n"}
    made = client.post("/cutting/new", data=right | {"log_choice": ""})
    assert made.status_code == 303
    (card,) = cut_sheets(desk_of, load_id=small_yard.rough_load)
    assert (card.logs, card.planned) == (2, True)
    logs = form | {"log_list": "", "load": str(small_yard.logs_load), "log_choice": "2-1"}
    numbers = client.post("/cutting/new", data=logs)
    assert numbers.status_code == 422
    assert "3, 5-9" in numbers.text


BAD_LISTS = {
    "K1,12,14,16,,": "at least as thick as the small end",
    "K1,12,16,14,,11-13:rot": "within the log",
    "K1,12,16,14,,3-2:rot": "from the place nearer the thick end",
    "\n".join(f"K{number},12,16,14,," for number in range(401)): "at most 400 logs on one sheet",
    "\n".join(f"K{number},12,16,14,," for number in range(10_001)): "at most ",
}


@pytest.mark.parametrize("body", BAD_LISTS, ids=range(len(BAD_LISTS)))
def test_a_bad_list_is_refused_and_stays_in_the_form(
    client: httpx.Client, desk_of: Desk, small_yard: Any, body: str
) -> None:
    """Nothing is made of it, and what was typed stands there still, to be put right."""
    before = len(cut_sheets(desk_of))
    form = {
        "key": f"bad-list-{len(body)}",
        "load": str(small_yard.rough_load),
        "wares": str(small_yard.ware),
        "log_list": "log_id,length_ft,d_large_in,d_small_in,species,defects_ft\n" + body,
    }
    refused = client.post("/cutting/new", data=form)
    assert refused.status_code == 422
    assert BAD_LISTS[body] in html.unescape(refused.text)
    assert body.splitlines()[-1] in refused.text
    assert len(cut_sheets(desk_of)) == before


def test_odd_lists_are_planned_and_the_sheet_says_what_is_odd(client: httpx.Client, small_yard: Any) -> None:
    """Defects that overlap, no kerf, mixed units, and a ware longer than the log beside one that fits."""
    made = client.post(
        "/cutting/new",
        data={
            "key": "odd-list-0001",
            "load": str(small_yard.rough_load),
            "wares": str(small_yard.ware),
            "other_length": "90",
            "other_price": "200",
            "kerf": "0",
            "log_list": "log_id,length_ft,d_large_in,d_small_in,species,defects_ft\n"
            "K1,6,16,14,,1-2:rot;1.5-2.5:nail\nK2,1.8 m,16,14,,\n",
        },
    )
    assert made.status_code == 303
    page = html.unescape(client.get(made.headers["location"]).text)
    for said in (
        "written in several units; each was read as written",
        "The kerf is zero",
        "longer than any log",
        "Defects that overlap were taken together: K1.",
    ):
        assert said in page


def test_hours_are_noted(client: httpx.Client, desk_of: Desk, small_yard: Any) -> None:
    form = {
        "key": "hours-noted-1",
        "split_method": "splitting_maul",
        "amount_made": "2 solid m3",
        "hours": "5",
        "piece_length": "16",
        "worked_on": "2026-11-20",
    }
    assert client.post("/splitting/times", data=form).status_code == 303
    newest = next(one for one in work_sessions(desk_of) if one.method == "splitting_maul")
    assert newest.solid_m3 == pytest.approx(2.0)
    wrong = client.post("/splitting/times", data=form | {"key": "hours-noted-2", "hours": "-1"})
    assert wrong.status_code == 422
    other = form | {
        "key": "hours-noted-3",
        "work_step": "stacking",
        "amount_made": "2 cords",
        "pieces_made": "x",
    }
    assert client.post("/splitting/times", data=other).status_code == 303, "how it was split is not asked"
    last = next(one for one in work_sessions(desk_of) if one.step == "stacking")
    assert (last.method, last.pieces, last.cords) == ("", None, pytest.approx(2.0))
    page = client.get("/splitting/times?step=loading").text
    assert re.search(r'<option value="loading"[^>]* selected', page)
    assert "our own from 1 timed session (" in page
    unknown = client.post("/splitting/times", data=form | {"key": "hours-noted-4", "work_step": "resting"})
    assert unknown.status_code == 422


def test_the_same_by_the_api(client: httpx.Client, small_yard: Any) -> None:
    sheet = client.get(f"/api/cut-sheets/{small_yard.cut}").json()
    assert sheet["logs"][0]["done"]
    assert sheet["logs"][1]["found"][0]["kind"] == "metal"
    assert sheet["logs"][0]["marks"][0] == {"at_m": pytest.approx(0.4064), "side": "far"}
    ticked = client.post(
        "/api/deeds/tick-off", json={"key": "api-tick-0004", "sheet_id": small_yard.cut, "log": 4}
    )
    assert ticked.json() == {"sheet_id": small_yard.cut, "log": 4, "done": True}
    assert sheet["net"]["low"] < sheet["net"]["mid"] == pytest.approx(sheet["value"])
    assert sheet["net"]["mid"] < sheet["gross"]["mid"] < sheet["gross"]["high"]
    assert sheet["by_hand"]["solid_m3"] > 0.0
    split = client.get(f"/api/splitting-sheets/{small_yard.split}").json()
    assert split["sheet"]["limit_m"] == 0.118
    assert [one["pattern"] for one in split["classes"]] == ["halves", "wedges"]
    noted = {
        "key": "api-hours-0001",
        "step": "loading",
        "hours": 1.5,
        "cords": 2.0,
        "worked_on": "2026-11-20",
    }
    assert client.post("/api/deeds/time-work", json=noted).json()["session_id"]
    times = client.get("/api/work-times").json()
    maul = next(one for one in times["methods"] if one["id"] == "splitting_maul")
    assert maul["pieces_per_cord"]["mid"] > 0.0
    assert times["thickness_m"] == 0.12
    assert next(one for one in times["sessions"] if one["step"] == "splitting")["pieces"] == 800
    assert {one["id"] for one in times["steps"] if one["sessions"]} >= {"loading"}
    refused = client.post("/api/deeds/time-work", json=noted | {"key": "api-hours-0002", "step": "resting"})
    assert refused.status_code == 422
    for path in ("cut-sheets", "splitting-sheets"):
        assert client.get(f"/api/{path}").status_code == 200
        assert client.get(f"/api/{path}/99").status_code == 404
