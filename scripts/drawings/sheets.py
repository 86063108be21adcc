"""Photographs the drawings: all with their names, and sheets without names to find out whether they speak."""

from __future__ import annotations

import csv
import io
import random
import re
import shutil
from pathlib import Path

from pen import GREY, INK, PAINTERS, PALE, PAPER
from PIL import Image, ImageColor
from playwright.sync_api import sync_playwright

from rickyard.web.assets import ROOT as STATIC
from rickyard.web.drawings import drawing

FOLDER = STATIC / "drawings"
GROUND = "#f4efe3"


def _address(character: str, state: str) -> str:
    found = drawing(character, state)
    assert found is not None
    return f"{(STATIC / found.file).as_uri()}#{found.view}"


def contact_sheet(to: Path) -> None:
    """Every drawing with its name, small enough for the repository."""
    rows = "".join(
        f"<section><h2>{character}</h2>"
        + "".join(
            f'<figure><img src="{_address(character, state)}" width=80 height=80>'
            f"<figcaption>{state}</figcaption></figure>"
            for state in states
        )
        + "</section>"
        for character, states in PAINTERS.items()
    )
    style = (
        f"body{{margin:8px;background:{GROUND};font:11px sans-serif;columns:2;column-gap:8px}}"
        "section{break-inside:avoid;margin:0 0 6px}h2{font-size:12px;margin:0 0 2px}"
        "figure{display:inline-block;margin:0 3px 2px 0;width:80px;text-align:center;overflow:hidden}"
    )
    picture = Image.open(io.BytesIO(_photograph(f"<style>{style}</style>{rows}", 1400))).convert("RGB")
    picture.quantize(palette=_palette(), dither=Image.Dither.NONE).save(to, optimize=True)


def _palette() -> Image.Image:
    """The drawings' own colours and what lies between each and the ink; a counted palette drops the rare ones."""
    found = {GROUND} | {
        c for path in FOLDER.glob("*.svg") for c in re.findall(r"#[0-9a-f]{6}", path.read_text())
    }
    ink = ImageColor.getrgb(INK)
    values: list[int] = []
    for colour in sorted(found):
        whole = ImageColor.getrgb(colour)
        for part in (1.0, 0.5) if colour not in (PAPER, PALE, GREY) else (1.0, 0.75, 0.5, 0.25):
            values += [round(a * part + b * (1 - part)) for a, b in zip(whole, ink, strict=False)]
    palette = Image.new("P", (1, 1))
    palette.putpalette(values[: 256 * 3])
    return palette


def quiz(folder: Path, seed: int, pixels: int) -> None:
    """All drawings shuffled together under numbers, without a word; which is which stands apart in key.csv."""
    folder.mkdir(parents=True, exist_ok=True)
    drawn = [(character, state) for character, painters in PAINTERS.items() for state in painters]
    random.Random(seed).shuffle(drawn)
    with (folder / "key.csv").open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(("number", "character", "state"))
        rows.writerows((i + 1, *names) for i, names in enumerate(drawn))
    page = "".join(
        f'<figure><img src="{_address(character, state)}" width={pixels} height={pixels}>'
        f"<figcaption>{i + 1}</figcaption></figure>"
        for i, (character, state) in enumerate(drawn)
    )
    style = (
        f"body{{margin:8px;background:{GROUND};font:12px sans-serif;width:{(pixels + 10) * 12}px}}"
        "figure{display:inline-block;margin:0 5px 4px 5px;text-align:center}"
    )
    (folder / "sheet.png").write_bytes(_photograph(f"<style>{style}</style>{page}", (pixels + 10) * 12 + 16))


def _photograph(body: str, width: int) -> bytes:
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=found, args=["--no-sandbox"])
        page = chromium.new_page(viewport={"width": width, "height": 600})
        # From a file beside the pictures: a page without an address may not show files.
        sheet = FOLDER / "sheet.html"
        sheet.write_text(f"<!doctype html><meta charset=utf-8>{body}", encoding="utf-8")
        try:
            page.goto(sheet.as_uri())
            page.wait_for_function("[...document.images].every(image => image.complete)")
            taken = page.screenshot(full_page=True)
        finally:
            sheet.unlink()
            chromium.close()
    return taken
