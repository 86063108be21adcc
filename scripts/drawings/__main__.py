"""Draws the states of the tree key's characters into the web's static files.

    python scripts/drawings                    write the sheets and their list
    python scripts/drawings --check            write nothing; fail if they are stale
    python scripts/drawings --sheet            photograph all with their names: docs/images/key_contact_sheet.png
    python scripts/drawings --quiz OUT 7 80    an uncaptioned sheet in the folder OUT, shuffled by seed 7, 80 px

A sheet a subject: `leaves.svg` holds a row for each of its characters, each state under its own name
(`leaves.svg#arr.opposite`), so that a phone keeps all in a few files. Which sheet holds what is said by
`rickyard.web.drawings`, and the words for each picture stand in `rickyard.web.drawing_words`.
"""

from __future__ import annotations

import argparse
import csv
import importlib
import io
import sys
from pathlib import Path

from pen import INK, LINE, PAINTERS, PAPER, SCALE, VIEW, painted, whole

from rickyard.web.drawing_words import ALT
from rickyard.web.drawings import SHEETS

ROOT = Path(__file__).resolve().parents[2]
OUT = ROOT / "src" / "rickyard" / "web" / "static" / "drawings"
LIST = "drawings.csv"
GAP = 10.0
# Each registers its painters when it is read.
for _subject in SHEETS:
    importlib.import_module(_subject)


def sheet(subject: str) -> str:
    """A row of states for each character; the space between them keeps a scaled picture free of its neighbour."""
    side, step = whole(VIEW), whole(VIEW + GAP)
    names = {
        (character, state): (k * step, i * step)
        for i, character in enumerate(SHEETS[subject])
        for k, state in enumerate(PAINTERS[character])
    }
    width, height = (max(spot[axis] for spot in names.values()) + side for axis in (0, 1))
    # The size is that of one state: it gives a page the right shape when a part of the file is shown.
    text = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{side}" height="{side}" '
        f'viewBox="0 0 {width} {height}">'
    )
    for (character, state), (x, y) in names.items():
        text += f'<view id="{character}.{state}" viewBox="{x} {y} {side} {side}"/>'
    text += (
        f'<g fill="none" stroke="{INK}" stroke-width="{whole(LINE)}" stroke-linecap="round" '
        'stroke-linejoin="round">'
    )
    for (character, state), (x, y) in names.items():
        text += (
            f'\n<g id="{character}.{state}-" transform="translate({x} {y})"><rect width="{side}" height="{side}" '
            f'rx="{8 * SCALE}" fill="{PAPER}" stroke="none"/>{painted(character, state)}</g>'
        )
    return text + "\n</g></svg>\n"


def listed() -> str:
    """The list of all drawings with their words."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(("character", "state", "file", "alt"))
    for subject, characters in SHEETS.items():
        for character in characters:
            for state in PAINTERS[character]:
                where = f"{subject}.svg#{character}.{state}"
                rows.writerow((character, state, where, ALT[character][state].msgid))
    return text.getvalue()


def files() -> dict[str, str]:
    return {f"{subject}.svg": sheet(subject) for subject in SHEETS} | {LIST: listed()}


def stale(folder: Path) -> list[str]:
    """Files that are not what the drawings say now, those too many and those missing."""
    wanted = files()
    there = (
        {path.name: path.read_text(encoding="utf-8") for path in folder.iterdir()} if folder.is_dir() else {}
    )
    return sorted(name for name in wanted.keys() | there.keys() if wanted.get(name) != there.get(name))


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--check", action="store_true", help="write nothing; fail if files are stale")
    parser.add_argument("--sheet", action="store_true", help="photograph all drawings with their names")
    parser.add_argument(
        "--quiz", nargs=3, metavar=("OUT", "SEED", "PIXELS"), help="uncaptioned, shuffled sheets"
    )
    parser.add_argument("--folder", type=Path, default=OUT, help="where the files stand")
    asked = parser.parse_args(arguments)
    folder = asked.folder
    if asked.check:
        wrong = stale(folder)
        if wrong:
            print(f"Stale: {', '.join(wrong)}. Run: python scripts/drawings")
        return 1 if wrong else 0
    folder.mkdir(parents=True, exist_ok=True)
    wanted = files()
    for path in folder.iterdir():
        if path.name not in wanted:
            path.unlink()
    for name, text in wanted.items():
        (folder / name).write_text(text, encoding="utf-8")
    if asked.sheet or asked.quiz:
        import sheets

        if asked.sheet:
            sheets.contact_sheet(ROOT / "docs" / "images" / "key_contact_sheet.png")
        if asked.quiz:
            sheets.quiz(Path(asked.quiz[0]), int(asked.quiz[1]), int(asked.quiz[2]))
    return 0


if __name__ == "__main__":
    sys.exit(main())
