"""Draws the states of the tree key's characters into the web's static files.

    python scripts/drawings                  write the sprites and their list
    python scripts/drawings --check          write nothing; fail if they are stale
    python scripts/drawings --sheet OUT.png  photograph all drawings with their names, for whoever judges them

One sprite a character: `arr.svg` holds its states side by side, each under its own name (`arr.svg#opposite`).
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import bark
import grain
import fruits
import leaves
import needles
import twigs
import wood
from pen import INK, LINE, PAINTERS, PAPER, VIEW, num, painted

GAP = 10.0


def sprite(character: str) -> str:
    """All states of a character; the space between them keeps a scaled picture free of its neighbour."""
    states = list(PAINTERS[character])
    width = len(states) * (VIEW + GAP) - GAP
    text = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {VIEW:g}">'
    for i, state in enumerate(states):
        text += f'<view id="{state}" viewBox="{i * (VIEW + GAP):g} 0 {VIEW:g} {VIEW:g}"/>'
    text += (
        f'<g fill="none" stroke="{INK}" stroke-width="{num(round(LINE * 10))}" stroke-linecap="round" '
        'stroke-linejoin="round">'
    )
    for i, state in enumerate(states):
        x = i * (VIEW + GAP)
        moved = f' transform="translate({x:g})"' if x else ""
        text += (
            f'\n<g id="{state}-"{moved}><rect width="100" height="100" rx="8" fill="{PAPER}" stroke="none"/>'
            f"{painted(character, state)}</g>"
        )
    return text + "\n</g></svg>\n"
