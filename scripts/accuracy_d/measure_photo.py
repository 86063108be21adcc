"""How well the face of a stack is measured on a photo: rendered poses with known truth, and what a lens adds."""

from __future__ import annotations

import importlib.util
import math
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from rickyard.errors import InputError
from rickyard.measure.photo import photo_measure

HERE = Path(__file__).resolve().parent
HANDS = 200
MARK_SD_PX = 3.0
WITHOUT_PX = 6.0
BOARD = (1.3, 0.35, 1.0, 0.6)
POSES: tuple[tuple[str, dict[str, Any]], ...] = (
    ("from the front, 4.5 m", {}),
    ("20° from the side", {"yaw_deg": 20.0}),
    ("35° from the side, 10° down", {"yaw_deg": 35.0, "pitch_deg": 10.0}),
    ("from the front, held 8° askew", {"roll_deg": 8.0}),
    ("50° from the side", {"yaw_deg": 50.0}),
    ("from 9 m", {"away_m": 9.0}),
    ("board of 0.40 × 0.30 m", {"board_m": (1.6, 0.5, 0.4, 0.3)}),
    ("board of 0.40 × 0.30 m at one end", {"board_m": (0.1, 0.1, 0.4, 0.3)}),
    (
        "35° from the side, board of 0.40 × 0.30 m at one end",
        {"yaw_deg": 35.0, "board_m": (0.1, 0.1, 0.4, 0.3)},
    ),
)
WITHOUT = "from the front, marked without enlarging the photo"
COLUMNS = [
    "face",
    "pose",
    "mean error",
    "root mean square",
    "9 of 10 within",
    "range said",
    "holds the truth",
    "refused",
]
NOTE = (
    "Rendered scenes, so the truth is known: a face of 3.6 × 1.4 m, a board of 1.0 × 0.6 m in its plane if nothing "
    f"else is said, a photo of 4000 × 3000 px, {HANDS} hands whose marks are off by {MARK_SD_PX:.0f} px, in the last "
    f"row by {WITHOUT_PX:.0f} px (one standard deviation). Only the marks err here: the range said also holds the "
    "board's size and the plane (1 %), so it should hold the truth in more than 80 %. A check of geometry and of "
    "marking, not of real stacks: a board that lies 5 cm before the face, seen from 4.5 m, makes the area 2 % too "
    "small."
)
GOOD = 4
"""The first poses: large board in the middle, not more than 35° from the side."""


def scenes() -> ModuleType:
    """The module beside this one: the folder is not a package."""
    spec = importlib.util.spec_from_file_location("accuracy_photo_scenes", HERE / "photo_scenes.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    # Dataclasses look their module up by its name.
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def tables() -> list[dict[str, Any]]:
    found = scenes()
    return [_poses(found), _lens(found)]


def tried(scene: Any, hands: int = HANDS, sd_px: float = MARK_SD_PX) -> dict[str, float]:
    """A scene marked by so many hands: errors of the area, how often the range held the truth, or it was refused."""
    errors, held, said = [], 0, []
    for seed in range(hands):
        corners, outline = scene.marks(sd_px, seed)
        outline = np.clip(outline, 0, scene.size_px)
        try:
            found = photo_measure(
                scene.board_m[2:],
                [tuple(point) for point in corners],
                [tuple(point) for point in outline],
                picture_px=scene.size_px,
                mark_sd_px=sd_px,
                seed=seed,
            )
        except InputError:
            continue
        errors.append(found.area_m2.mid / scene.area_m2 - 1.0)
        held += found.area_m2.low <= scene.area_m2 <= found.area_m2.high
        said.append(found.log_sd[3])
    if not said:
        return {"refused": 1.0}
    return {
        "mean": float(np.mean(errors)),
        "rms": math.sqrt(float(np.mean(np.square(errors)))),
        "p90": float(np.quantile(np.abs(errors), 0.9)),
        "held": held / len(said),
        "said": float(np.mean(said)),
        "refused": 1.0 - len(said) / hands,
    }


def _poses(found: ModuleType) -> dict[str, Any]:
    rows = []
    for shape, outline in (("rectangle", found.rectangle()), ("uneven", found.uneven())):
        for name, pose, sd_px in (*((*item, MARK_SD_PX) for item in POSES), (WITHOUT, {}, WITHOUT_PX)):
            scene = replace(found.Scene(outline, BOARD), **pose)
            seen = tried(scene, sd_px=sd_px)
            figures = ["–"] * 5
            if seen["refused"] < 1.0:
                figures = [
                    f"{100 * seen['mean']:+.1f} %",
                    f"{100 * seen['rms']:.1f} %",
                    f"{100 * seen['p90']:.1f} %",
                    f"{100 * 1.2816 * seen['said']:.1f} %",
                    f"{100 * seen['held']:.0f} %",
                ]
            rows.append([shape, name, *figures, f"{100 * seen['refused']:.0f} %"])
    return {
        "title": "A stack's face from a photo, by pose",
        "note": NOTE,
        "columns": COLUMNS,
        "rows": rows,
    }


def _lens(found: ModuleType) -> dict[str, Any]:
    rows = []
    for k1 in (-0.10, -0.05, -0.02, 0.02, 0.05):
        for where, board in (("middle", BOARD), ("one end", (0.1, 0.1, 1.0, 0.6))):
            scene = replace(found.Scene(found.rectangle(), board), k1=k1)
            exact = scene.marks(0.0, 0)
            area = photo_measure(
                board[2:],
                [tuple(point) for point in exact[0]],
                [tuple(point) for point in np.clip(exact[1], 0, scene.size_px)],
                picture_px=scene.size_px,
            ).area_m2.mid
            rows.append([f"{k1:+.2f}", where, f"{100 * (area / scene.area_m2 - 1):+.1f} %"])
    return {
        "title": "What a lens that bends lines does to it",
        "note": "The same scene from the front, marked without error; k1 is the first radial term, with distances in "
        "focal lengths; below zero it is a barrel. Phones straighten their main lens themselves; an extra-wide lens is "
        "often left bent. It is not undone here: use the main lens, and keep the stack off the photo's edges.",
        "columns": ["k1", "board", "error of the area"],
        "rows": rows,
    }
