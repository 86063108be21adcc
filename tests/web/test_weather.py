"""The weather page: place, map, files with their faults, services; with plain HTTP and on the phone."""

from __future__ import annotations

import importlib.util
import re
from datetime import timedelta
from pathlib import Path
from types import ModuleType

import httpx
from playwright.sync_api import Page, expect
from tests.weather.makers import humidity, logger_csv

from rickyard.desk.context import Desk
from rickyard.desk.skies import sky_view
from rickyard.show import find_raw_english
from rickyard.web.sky_map import SIZE_PX, MapView, clear, draw

GOOD = logger_csv(clock=lambda moment: moment + timedelta(hours=1))


def sent(client: httpx.Client, path: str, content: bytes, **said: str) -> httpx.Response:
    return client.post(path, data={"key": "k" * 12, **said}, files={"weather": ("woodshed.csv", content)})


def test_a_file_is_looked_at_taken_in_and_taken_back(client: httpx.Client, desk_of: Desk) -> None:
    look = sent(client, "/weather/look", GOOD)
    assert look.status_code == 200
    assert "Nothing is taken in yet" in look.text
    assert "2026-05" in look.text
    assert sky_view(desk_of).files == ()

    taken = sent(client, "/weather/files", GOOD, use_offsets="on")
    assert taken.status_code == 303
    page = client.get("/weather").text
    assert "woodshed.csv" in page
    assert "Observed from 2026-05-01 to 2026-05-12" in page
    card = sky_view(desk_of).files[0]
    assert card.use_offsets
    assert client.get(f"/weather/files/{card.id}").content == GOOD
    client.post(f"/weather/files/{card.id}/offsets", data={"key": "o" * 12, "use": ""})
    assert not sky_view(desk_of).files[0].use_offsets
    client.post(f"/weather/files/{card.id}/back", data={"key": "b" * 12})
    assert sky_view(desk_of).files == ()


def test_faults_are_listed_with_their_lines_and_nothing_is_taken(client: httpx.Client, desk_of: Desk) -> None:
    lines = GOOD.decode().splitlines()
    lines[9] = lines[9].replace(",", ",warm ", 1)
    lines.insert(30, lines[20])
    answer = sent(client, "/weather/files", "\n".join(lines).encode())

    assert answer.status_code == 422
    assert "Lines 10: the temperature is no number." in answer.text
    fraction = sent(client, "/weather/files", logger_csv(rh=lambda moment: humidity(moment) / 100))
    assert "that is a fraction" in fraction.text
    assert sent(client, "/weather/look", b"").status_code == 422
    assert client.post("/weather/files", data={"key": "n" * 12}).status_code == 422
    assert sky_view(desk_of).files == ()


def test_the_place_by_name_point_and_map(client: httpx.Client, desk_of: Desk) -> None:
    assert (
        client.post("/weather/place", data={"key": "p" * 12, "climate_place": "Nowhere at all"}).status_code
        == 422
    )
    tapped = client.get("/weather/map?lat=45&lon=-66&span=12&tap.x=200&tap.y=100")
    found = re.search(r'name="climate_place" value="([-\d.,]+)"', tapped.text)
    assert found is not None
    lat, lon = (float(part) for part in found.group(1).split(",")[:2])
    assert 45 < lat < 49
    assert -66 < lon < -62
    assert "Places near by" in tapped.text
    client.post("/weather/place", data={"key": "q" * 12, "climate_place": found.group(1)})
    assert sky_view(desk_of).place.id == found.group(1)
    assert "of a listed place" in client.get("/weather/map?pick=0,-30").text
    assert client.get("/weather/map?lat=x&lon=9e99&span=nan&pick=200,400").status_code == 200
    picture = client.get("/weather/map.svg?lat=45&lon=-66&span=12&pick=45,-66")
    assert picture.headers["content-type"] == "image/svg+xml"


def test_services_say_their_terms_and_stay_off_without_a_tick(client: httpx.Client, desk_of: Desk) -> None:
    page = client.get("/weather").text
    assert "non-commercial" in page
    assert "Environment and Climate Change Canada" in page
    refused = client.post("/weather/services/open_meteo", data={"key": "s" * 12, "turn": "on"})
    assert refused.status_code == 422
    assert "terms" in refused.text
    said = {"key": "t" * 12, "turn": "on", "agreed": "on", "access_key": "never-shown-again"}
    assert client.post("/weather/services/open_meteo", data=said).status_code == 303
    page = client.get("/weather").text
    assert "not asked yet" in page
    assert "never-shown-again" not in page
    assert (
        client.post("/weather/services/open_meteo", data={"key": "u" * 12, "turn": "off"}).status_code == 303
    )
    assert not any(card.is_on for card in sky_view(desk_of).services)
    assert client.post("/weather/services/nobody", data={"key": "v" * 12, "turn": "on"}).status_code in (
        404,
        422,
    )


def test_no_raw_english_where_there_is_weather(client: httpx.Client, typed: tuple[str, ...]) -> None:
    client.cookies.set("lang", "en_XA")
    sent(client, "/weather/files", GOOD, use_offsets="on")
    own = (*typed, "woodshed.csv", "2026-05")
    for answer in (
        client.get("/weather"),
        sent(client, "/weather/look", GOOD),
        sent(client, "/weather/look", logger_csv(rh=lambda moment: humidity(moment) / 100)),
        client.get("/weather/map?pick=46.2,-66.1"),
    ):
        assert find_raw_english(answer.text, own) == []


def test_the_map_is_drawn_and_read_the_same_way() -> None:
    """A tap on a place's dot is that place, at every zoom, over the date line too."""
    for lat, lon, span in (
        (45.87, -66.53, 5.0),
        (60.0, 179.5, 30.0),
        (-37.8, 145.0, 12.0),
        (71.0, 25.0, 160.0),
    ):
        view = clear(MapView(lat, lon, span))
        for x, y in ((10, 20), (144, 144), (280, 250)):
            there = view.at(x, y)
            if abs(there[0]) < 89:
                back = view.on(*there)
                assert abs(back[0] - x) < 0.5
                assert abs(back[1] - y) < 0.5
        svg = draw(view)
        assert svg.startswith("<svg")
        assert "style" not in svg
        assert svg.count("<circle") > 3
    near = MapView(45.0, -66.0, 12.0).zoomed(-1)
    assert near.span == 5.0
    assert SIZE_PX == 288


def _house() -> ModuleType:
    """The house's own rules for screens, as they are checked on all pages."""
    spec = importlib.util.spec_from_file_location("web_rules", Path(__file__).with_name("test_browser.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_on_the_phone(page: Page, tmp_path: Path, desk_of: Desk) -> None:
    """Look at a file, take it in, pick the place with a tap; keyboard and contrast are checked."""
    house = _house()
    file = tmp_path / "woodshed.csv"
    file.write_bytes(GOOD)
    page.goto("/weather")
    page.set_input_files("#weather", file)
    page.get_by_role("button", name="Look at it first").tap()
    expect(page.locator("#looked")).to_contain_text("Nothing is taken in yet")
    # The file is still chosen: what was looked at is taken in.
    page.get_by_role("button", name="Take it in").tap()
    page.wait_for_load_state()
    expect(page.get_by_role("status").first).to_contain_text("in the book")
    assert [card.name for card in sky_view(desk_of).files] == ["woodshed.csv"]
    page.locator("main details").evaluate_all("all => all.forEach(one => one.open = true)")
    assert house.axe(page) == []
    assert page.evaluate(house.SMALL_TARGETS) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 390

    page.goto("/weather/map?lat=46&lon=-66&span=12")
    box = page.locator(".map-pick").bounding_box()
    assert box is not None
    page.touchscreen.tap(box["x"] + 150, box["y"] + 120)
    page.wait_for_selector("#picked")
    page.locator("main details").evaluate_all("all => all.forEach(one => one.open = true)")
    assert house.axe(page) == []
    assert page.evaluate(house.SMALL_TARGETS) == []
    page.locator("#picked").get_by_role("button", name="Use this place").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/weather")
    assert 45.5 < sky_view(desk_of).place.lat < 48.5
