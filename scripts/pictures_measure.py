"""Makes docs/images/photo-measure.png for docs/how-much.md: a rendered stack, marked on the page of a small yard."""

from __future__ import annotations

import importlib.util
import io
import shutil
import sys
import tempfile
import threading
import time
from datetime import date
from pathlib import Path
from types import ModuleType

import uvicorn
from playwright.sync_api import sync_playwright

from rickyard.desk.context import new_key
from rickyard.desk.housekeeping import new_book, open_book
from rickyard.desk.photos import AddPhoto, add_photo
from rickyard.desk.stacking import Dimensions, OpeningStack, PiecesFacts, opening_stack
from rickyard.desk.wood_in import Harvest
from rickyard.desk.yards import YardFacts, set_up_yard
from rickyard.web.app import create_app

HERE = Path(__file__).resolve().parent
IMAGES = HERE.parent / "docs" / "images"
CHROMIUM_FLAGS = ["--no-sandbox", "--disable-background-networking"]


def main() -> None:
    IMAGES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        target = str(Path(folder) / "book.sqlite")
        corners, outline, path = make_yard(target)
        server = uvicorn.Server(
            uvicorn.Config(create_app(target, worker=False, hosts=()), port=0, log_level="critical")
        )
        thread = threading.Thread(target=server.run)
        thread.start()
        while not server.started:
            time.sleep(0.02)
        try:
            take(f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}{path}", corners, outline)
        finally:
            server.should_exit = True
            thread.join()


def make_yard(target: str) -> tuple[str, str, str]:
    """A yard with one stack and a photo of it; the marks, and the page's path."""
    new_book(target)
    facts = YardFacts(
        name="Thornbeck Yard",
        country="CA",
        subdivision="NB",
        climate_place="Fredericton, NB",
        timezone="America/Moncton",
        tax_rate=0.15,
        units="metric",
    )
    desk = set_up_yard(open_book(target), facts, seed=1)
    pieces = PiecesFacts(name="C4", piece_length_m=0.40, thickness_m=0.10, stacked_on=date(2026, 5, 1))
    stack = int(
        opening_stack(
            desk,
            OpeningStack(
                key=new_key(),
                shares=(("sugar maple", 1.0),),
                harvest=Harvest(country="CA", subdivision="NB"),
                pieces=pieces,
                outside=Dimensions(length_m=3.6, heights_m=(1.45,)),
            ),
        )["stack_id"]
    )
    scenes = photo_scenes()
    scene = scenes.Scene(
        scenes.uneven(),
        (1.3, 0.35, 1.0, 0.6),
        away_m=3.6,
        yaw_deg=14.0,
        size_px=(2000, 1500),
        focal_px=1550.0,
    )
    out = io.BytesIO()
    scene.picture().save(out, "JPEG", quality=88)
    photo = add_photo(
        desk, AddPhoto(key=new_key(), content=out.getvalue(), subject_kind="stack", subject_id=stack)
    )["photo_id"]
    corners, outline = (
        " ".join(f"{x:.1f},{y:.1f}" for x, y in points) for points in scene.marks(2.0, seed=2)
    )
    desk.book.close()
    return corners, outline, f"/stacks/{stack}/photo?photo={photo}"


def take(address: str, corners: str, outline: str) -> None:
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=found, args=CHROMIUM_FLAGS)
        page = chromium.new_page(viewport={"width": 390, "height": 844}, device_scale_factor=1.5)
        page.goto(address)
        page.get_by_label("Width of the board or frame").fill("100")
        page.get_by_label("Its height").fill("60")
        for _ in range(2):
            page.get_by_role("button", name="Enlarge").click()
        page.get_by_text("The marks as numbers").click()
        for name, marks in (("#corners", corners), ("#outline", outline)):
            page.locator(name).fill(marks)
            page.locator(name).blur()
        page.get_by_role("button", name="How much is it?").click()
        page.locator("#found").wait_for()
        page.evaluate("document.querySelector('.nav').hidden = true")
        page.wait_for_timeout(400)
        page.locator("#photo-form").screenshot(path=IMAGES / "photo-measure.png")
        chromium.close()


def photo_scenes() -> ModuleType:
    """The module of rendered scenes: its folder is no package."""
    spec = importlib.util.spec_from_file_location("photo_scenes", HERE / "accuracy_d" / "photo_scenes.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


if __name__ == "__main__":
    main()
