"""The drawings of the tree key: every state that can be drawn is, in one hand, small, plain SVG, told apart in grey."""

from __future__ import annotations

import csv
import io
import os
import re
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page

import rickyard
from rickyard.web.assets import ROOT as STATIC
from rickyard.web.drawing_words import ALT
from rickyard.web.drawings import drawing, standalone

ROOT = Path(__file__).resolve().parents[2]
FOLDER = STATIC / "drawings"
CHARACTERS = Path(rickyard.__file__).parent / "identify" / "data" / "characters.csv"
MATCHED = Path(__file__).parent / "data" / "drawings_matched.csv"

NOT_TO_BE_DRAWN = {"crush_smell", "wood_smell", "weight"}
MOST_BYTES = 400_000
SIDE = 400
SVG = "{http://www.w3.org/2000/svg}"
ALLOWED = {
    "svg": {"viewBox", "width", "height"},
    "view": {"id", "viewBox"},
    "g": {"id", "transform", "fill", "stroke", "stroke-width", "stroke-linecap", "stroke-linejoin"},
    "rect": {"width", "height", "rx", "fill", "stroke"},
    "path": {"d", "fill", "stroke", "stroke-width", "stroke-dasharray"},
    "circle": {"cx", "cy", "r", "fill", "stroke", "stroke-width"},
    "ellipse": {"cx", "cy", "rx", "ry", "fill", "stroke", "stroke-width"},
}
"""Shapes only: no text, raster, style, script, class or reference."""
WIDTHS = {1.2, 1.7, 2.4, 3.6, 5.6}
INK, PAPER, PALE, WHITE = "#1b1a16", "#fffdf7", "#e6dfcf", "#ffffff"


def states_of_the_key() -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    with CHARACTERS.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            found.setdefault(row["character_id"], []).append(row["state_id"])
    return found


def sheets() -> list[Path]:
    return sorted(FOLDER.glob("*.svg"))


def run_script(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(ROOT / "scripts" / "drawings"), *arguments],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ
        | {"PYTHONPATH": os.pathsep.join([str(ROOT / "src"), os.environ.get("PYTHONPATH", "")])},
    )


def test_files_are_what_the_script_draws() -> None:
    done = run_script("--check")

    assert done.returncode == 0, done.stdout + done.stderr


def test_the_check_finds_a_changed_a_foreign_and_a_missing_file(tmp_path: Path) -> None:
    copy = tmp_path / "drawings"
    shutil.copytree(FOLDER, copy)
    (copy / "bark.svg").write_text((copy / "bark.svg").read_text().replace("M", "M1 ", 1))
    (copy / "grain.svg").unlink()
    (copy / "other.svg").write_text("<svg/>")

    done = run_script("--check", "--folder", str(copy))

    assert done.returncode == 1
    assert "bark.svg, grain.svg, other.svg" in done.stdout


def test_every_state_that_can_be_drawn_is_drawn() -> None:
    """All characters but smells and weight; in the key's own names and no others."""
    key = states_of_the_key()
    views = Counter(view.get("id") for path in sheets() for view in ET.parse(path).iter(f"{SVG}view"))

    assert views == Counter(f"{character}.{state}" for character, words in ALT.items() for state in words)
    assert key.keys() - ALT.keys() == NOT_TO_BE_DRAWN
    for character, words in ALT.items():
        assert set(words) == set(key[character]), character


def test_the_list_says_what_the_pages_say() -> None:
    with (FOLDER / "drawings.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))

    assert {(row["character"], row["state"]): row["alt"] for row in rows} == {
        (character, state): str(text) for character, words in ALT.items() for state, text in words.items()
    }
    for row in rows:
        found = drawing(row["character"], row["state"])
        assert found is not None
        assert f"{found.file}#{found.view}" == f"drawings/{row['file']}"


def test_words_tell_the_states_of_a_character_apart() -> None:
    for character, words in ALT.items():
        texts = [str(text) for text in words.values()]
        assert len(set(texts)) == len(texts), character
        assert all(12 <= len(text) <= 110 and not text.endswith(".") for text in texts), character


@pytest.mark.parametrize("path", sheets(), ids=lambda path: path.stem)
def test_a_sheet_is_plain_shapes_in_one_hand(path: Path) -> None:
    root = ET.fromstring(path.read_text(encoding="utf-8"))
    for element in root.iter():
        name = element.tag.removeprefix(SVG)
        assert name in ALLOWED, name
        assert set(element.attrib) <= ALLOWED[name], (name, element.attrib)
        assert not (element.text or "").strip()
        for paint in ("fill", "stroke"):
            assert re.fullmatch(r"none|#[0-9a-f]{6}", element.get(paint, "none")), element.attrib

    assert len(root.findall(f"{SVG}view")) == len(root.findall(f"{SVG}g/{SVG}g"))


def test_lines_keep_to_one_scale_of_widths() -> None:
    """Nearly all inked lines are of five widths; what remains are dots, tubes and a few bands of their own."""
    found: Counter[float] = Counter()
    for path in sheets():
        for element in ET.fromstring(path.read_text(encoding="utf-8")).iter(f"{SVG}path"):
            if element.get("fill", "none") != "none" and element.get("stroke", INK) == INK:
                found[int(element.get("stroke-width", "10")) / 4] += 1
    in_scale = sum(count for width, count in found.items() if min(abs(width - w) for w in WIDTHS) <= 0.2)

    assert in_scale / sum(found.values()) > 0.97, found


def test_the_whole_set_is_small() -> None:
    sizes = {path.name: path.stat().st_size for path in sheets()}

    assert sum(sizes.values()) < MOST_BYTES
    assert len(sizes) <= 10, "a phone fetches them one by one"


def test_a_state_can_be_cut_out_for_a_paper() -> None:
    for character, words in ALT.items():
        for state in words:
            root = ET.fromstring(standalone(character, state))
            assert root.get("viewBox") is not None
            group = root.find(f"{SVG}g/{SVG}g")
            assert group is not None, (character, state)
            assert group.get("id") == f"{character}.{state}-"
    with pytest.raises(KeyError):
        standalone("arr", "none")
    assert drawing("wood_smell", "sour") is None


# -- as they are painted ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    opened = browser.new_page(viewport={"width": 1100, "height": 600})
    yield opened
    opened.close()


@pytest.mark.browser
def test_every_drawing_fits_its_view(page: Page) -> None:
    """Shapes with their line widths stay inside the 400 by 400 of their state."""
    page.set_content(
        "".join(f"<div id='{path.stem}'>{path.read_text(encoding='utf-8')}</div>" for path in sheets())
    )
    outside = page.evaluate(
        """side => [...document.querySelectorAll("g[id]")].flatMap(group =>
            [...group.children].flatMap(shape => {
                const box = shape.getBBox();
                const style = getComputedStyle(shape);
                const half = style.stroke === "none" ? 0 : parseFloat(style.strokeWidth) / 2;
                const over = Math.max(half - box.x, half - box.y,
                    box.x + box.width + half - side, box.y + box.height + half - side);
                const name = group.id;
                return over > 0.5 ? [`${name} ${over.toFixed(1)} ${shape.outerHTML.slice(0, 40)}`] : [];
            }))""",
        SIDE,
    )

    assert not outside, "\n".join(outside)


OWN_TONES = {INK, PAPER, PALE, WHITE, "#b5ac99", "#655e51"}


def without_tints(text: str) -> str:
    """The same sheet for eyes and light that see no colour: a tint becomes the nearest of the palette's own tones."""

    def tone(found: re.Match[str]) -> str:
        if found.group() in OWN_TONES:
            return found.group()
        r, g, b = (int(found.group()[i : i + 2], 16) for i in (1, 3, 5))
        return PALE if 0.299 * r + 0.587 * g + 0.114 * b >= 112 else "#655e51"

    return re.sub(r"#[0-9a-f]{6}", tone, text)


@pytest.mark.browser
@pytest.mark.parametrize("pixels", [80])
def test_states_differ_without_any_colour(page: Page, pixels: int) -> None:
    """At 80 px, all tints gone, any two states of a character still look different."""
    page.set_content("<body>")
    page.evaluate("document.body.style.margin = document.body.style.lineHeight = 0")
    spots: dict[str, tuple[int, int]] = {}
    down = 0
    for path in sheets():
        text = without_tints(path.read_text(encoding="utf-8"))
        wide, high = (
            round(int(side) * pixels / SIDE) for side in ET.fromstring(text).attrib["viewBox"].split()[2:]
        )
        for view in ET.fromstring(text).iter(f"{SVG}view"):
            x, y = (round(int(side) * pixels / SIDE) for side in view.attrib["viewBox"].split()[:2])
            spots[view.attrib["id"]] = (x, down + y)
        sized = text.replace(
            f'width="{SIDE}" height="{SIDE}"', f'width="{wide}" height="{high}" display="block"', 1
        )
        page.evaluate("text => document.body.insertAdjacentHTML('beforeend', text)", sized)
        down += high
    page.set_viewport_size({"width": 2100, "height": pixels})
    shot = np.asarray(Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("L"), float)
    assert shot.shape == (down, 2100)

    def tile(character: str, state: str) -> np.ndarray:
        x, y = spots[f"{character}.{state}"]
        return shot[y : y + pixels, x : x + pixels]

    too_alike: list[tuple[str, str, str, float]] = []
    for character, words in ALT.items():
        for one, two in combinations(words, 2):
            apart = float(np.abs(tile(character, one) - tile(character, two)).mean())
            if apart < LEAST_APART:
                too_alike.append((character, one, two, round(apart, 2)))

    assert not too_alike, "\n".join(map(str, too_alike))


LEAST_APART = 2.5
"""Mean difference of grey (0 to 255) over the tile. One clearly inked stroke across a tile makes about 5."""


# -- whether they speak -----------------------------------------------------------------------------------


def test_uncaptioned_drawings_were_matched_to_their_states() -> None:
    """The first look at uncaptioned, shuffled drawings, before any was redrawn for having been missed."""
    with MATCHED.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    drawn = {(character, state) for character, words in ALT.items() for state in words}

    assert {(row["character"], row["state"]) for row in rows} == drawn
    right = sum(
        (row["named_character"], row["named_state"]) == (row["character"], row["state"]) for row in rows
    )
    assert right / len(rows) >= 0.9
    assert all(
        row["after"] in ("redrawn", "kept")
        for row in rows
        if (row["named_character"], row["named_state"]) != (row["character"], row["state"])
    )
