"""The face of a stack from a photo: rendered scenes with known truth, cases by hand, and what is refused."""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.measure.photo import photo_measure, points_from

SCRIPTS = Path(__file__).resolve().parents[2] / "scripts" / "accuracy_d"
PICTURE = (4000, 3000)
# A board of 1.0 × 0.5 m seen straight from the front, 500 px a metre, its top left corner at (1000, 1000).
BOARD = (1.0, 0.5)
CORNERS = [(1000.0, 1000.0), (1500.0, 1000.0), (1500.0, 1250.0), (1000.0, 1250.0)]
FACE = [(500.0, 800.0), (2500.0, 800.0), (2500.0, 1500.0), (500.0, 1500.0)]


@pytest.fixture(scope="module")
def accuracy() -> ModuleType:
    spec = importlib.util.spec_from_file_location("accuracy_measure_photo", SCRIPTS / "measure_photo.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def measured(corners=CORNERS, outline=FACE, **more):
    return photo_measure(BOARD, corners, outline, picture_px=PICTURE, **more)


def test_from_the_front_by_hand() -> None:
    """2000 × 700 px at 500 px a metre are 4.0 × 1.4 m."""
    found = measured()
    assert found.area_m2.mid == pytest.approx(5.6)
    assert (found.length_m, found.height_m) == (pytest.approx(4.0), pytest.approx(1.4))
    assert found.oblique_deg == pytest.approx(0.0, abs=1e-3)
    assert found.area_m2.low < 5.6 < found.area_m2.high
    outside = found.outside_m3(0.4, 2)
    assert outside.mid == pytest.approx(5.6 * 0.4 * 2)
    assert outside.high / outside.mid > found.area_m2.high / 5.6


@pytest.mark.parametrize("shape", ["rectangle", "uneven"])
def test_good_poses_are_within_three_percent(accuracy: ModuleType, shape: str) -> None:
    """Nine of ten hands, marks off by 3 px: large board in the middle, up to 35° from the side."""
    found = accuracy.scenes()
    for name, pose in accuracy.POSES[: accuracy.GOOD]:
        scene = replace(found.Scene(getattr(found, shape)(), accuracy.BOARD), **pose)
        seen = accuracy.tried(scene, hands=60)
        assert seen["refused"] == 0.0
        assert seen["p90"] <= 0.03, name
        assert abs(seen["mean"]) <= 0.005, name
        assert seen["held"] >= 0.8, name


def test_without_error_every_pose_gives_the_truth(accuracy: ModuleType) -> None:
    """A pinhole's straight lines stay straight: the geometry itself errs by nothing."""
    found = accuracy.scenes()
    for _, pose in accuracy.POSES[:7]:
        scene = replace(found.Scene(found.uneven(), accuracy.BOARD), **pose)
        corners, outline = scene.marks(0.0, 0)
        area = photo_measure(scene.board_m[2:], corners, outline, picture_px=PICTURE, mark_sd_px=1.0).area_m2
        assert area.mid == pytest.approx(scene.area_m2, rel=1e-9)


def test_the_angle_of_sight_is_the_camera_s(accuracy: ModuleType) -> None:
    """At the board's middle, in the middle of the photo; a board as wide as this one is seen under 13°."""
    found = accuracy.scenes()
    for yaw in (0.0, 20.0, 50.0):
        scene = replace(found.Scene(found.rectangle(), (1.6, 0.6, 0.4, 0.2)), yaw_deg=yaw)
        corners, outline = scene.marks(0.0, 0)
        said = photo_measure((0.4, 0.2), corners, outline, picture_px=PICTURE, mark_sd_px=1.0)
        assert said.oblique_deg == pytest.approx(yaw, abs=1.0)


def test_the_picture_shows_the_board_where_the_marks_are(accuracy: ModuleType) -> None:
    """The rendered scene and its projected marks are of one world: red just inside the first corner, not outside."""
    found = accuracy.scenes()
    scene = replace(
        found.Scene(found.uneven(), accuracy.BOARD),
        yaw_deg=25.0,
        roll_deg=5.0,
        size_px=(800, 600),
        focal_px=620.0,
    )
    picture = np.asarray(scene.picture()).astype(int)
    corners, outline = scene.marks(0.0, 0)
    middle = corners.mean(axis=0)
    x, y = corners[0] + 0.06 * (middle - corners[0])
    assert tuple(picture[int(y), int(x)]) == (214, 40, 30)
    x, y = corners[0] - 0.06 * (middle - corners[0])
    assert tuple(picture[int(y), int(x)]) != (214, 40, 30)
    assert np.all(outline > 0)


def test_a_bent_lens_costs_what_the_page_says(accuracy: ModuleType) -> None:
    """It is a limit, not undone: a barrel of k1 = −0.05 takes more than one percent off."""
    errors = {(row[0], row[1]): float(row[2].split()[0]) for row in accuracy.tables()[1]["rows"]}
    assert errors["-0.05", "middle"] < -1.0
    assert abs(errors["-0.02", "middle"]) < 1.0


def test_marks_move_the_range_and_seeds_repeat() -> None:
    narrow, wide = measured(mark_sd_px=2.0), measured(mark_sd_px=8.0)
    assert wide.log_sd[0] == pytest.approx(4 * narrow.log_sd[0], rel=0.15)
    assert measured(mark_sd_px=8.0) == wide
    assert wide.area_m2.mid == narrow.area_m2.mid


@given(turn=st.integers(0, 3), flip=st.booleans())
def test_only_one_order_of_corners_is_taken(turn: int, flip: bool) -> None:
    order = CORNERS[turn:] + CORNERS[:turn]
    order = order[::-1] if flip else order
    if order == CORNERS:
        assert measured(order).area_m2.mid == pytest.approx(5.6)
        return
    with pytest.raises(InputError, match="top left, top right, bottom right, bottom left") as caught:
        measured(order)
    assert caught.value.field == "corners"


@pytest.mark.parametrize(
    ("corners", "outline", "field", "said"),
    [
        (CORNERS[:3], FACE, "corners", "four corners"),
        ([CORNERS[0], CORNERS[2], CORNERS[1], CORNERS[3]], FACE, "corners", "cross"),
        ([CORNERS[0], CORNERS[1], (1100.0, 1020.0), CORNERS[3]], FACE, "corners", "inside"),
        ([(1000.0 + 100 * i, 1000.0) for i in range(4)], FACE, "corners", "one line"),
        (CORNERS, FACE[:2], "outline", "3 to 400"),
        (CORNERS, [FACE[0], FACE[2], FACE[1], FACE[3]], "outline", "cross itself"),
        (CORNERS, [FACE[0], FACE[0], FACE[1]], "outline", "cross itself"),
        (CORNERS, [*FACE[:3], (-5.0, 1500.0)], "outline", "point 4 outside"),
        (CORNERS, [*FACE[:3], (float("nan"), 1500.0)], "outline", "point 4 outside"),
    ],
)
def test_slips_are_named(corners, outline, field: str, said: str) -> None:
    with pytest.raises(InputError, match=said) as caught:
        measured(corners, outline)
    assert caught.value.field == field


def test_what_lies_behind_the_horizon_is_refused() -> None:
    """A board that narrows to half on 200 px: 400 px further right the plane runs out of sight."""
    steep = [(1000.0, 1000.0), (1200.0, 1050.0), (1200.0, 1150.0), (1000.0, 1200.0)]
    with pytest.raises(InputError, match="out of sight"):
        measured(steep, [(900.0, 900.0), (1900.0, 900.0), (1900.0, 1300.0)], mark_sd_px=1.0)


def test_poor_photos_are_warned_of(accuracy: ModuleType) -> None:
    found = accuracy.scenes()

    def warned(**pose) -> str:
        scene = replace(found.Scene(found.rectangle(), accuracy.BOARD), **pose)
        corners, outline = scene.marks(0.0, 0)
        told = photo_measure(scene.board_m[2:], corners, outline, picture_px=PICTURE, mark_sd_px=2.0)
        return " ".join(str(warning) for warning in told.warnings)

    assert warned() == ""
    assert "from the side" in warned(yaw_deg=50.0)
    assert "small in the photo" in warned(board_m=(1.6, 0.6, 0.3, 0.2))
    assert "board lengths away" in warned(board_m=(0.1, 0.1, 0.4, 0.3))


def test_points_are_read_and_slips_named() -> None:
    assert points_from("1,2; 3.5,4", "outline") == ((1.0, 2.0), (3.5, 4.0))
    with pytest.raises(InputError, match="points such as"):
        points_from("1,2 x", "outline")
