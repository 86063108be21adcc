"""The face of a stack from a photo: its outline and a board of known size, both marked by hand.

A person marks the four corners of a board or frame that lies in the plane of the stack's face, and the outline of
the face. The corners make the plane's homography (direct linear transform from four points, normalised after
Hartley 1997, "In defense of the eight-point algorithm"; from memory); through it the outline becomes square metres.
Nothing is recognised.

The error is what the marks are off by, drawn many times over with a seed, joined with how far the board's size and
the plane are off. A straight line must be straight in the photo: a lens that bends lines is not undone here. How
much that and a crooked view cost stands on the accuracy page.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rickyard.errors import InputError
from rickyard.measure.limits import within
from rickyard.measure.spread import TO_10_90, Spread
from rickyard.text import T_, Text

Point = tuple[float, float]

BOARD_SIDE_M = (0.05, 6.0)
MARK_SD_SHARE = 0.0015
"""How far a mark is off where nothing better is said, one standard deviation [of the photo's longer side]: a judgement;
6 px on a photo of 4000."""

LEAST_MARK_SD_PX = 1.0
BOARD_SD_M = 0.002
"""How far the sides of the board are off, one standard deviation [m]: a judgement, a tape read to a few millimetres."""

PLANE_SD_SHARE = 0.01
"""How far the area is off because face and board are no one plane, one standard deviation: a judgement; pieces that
stand out by 2 cm, seen from 4 m."""

DRAWS = 600
MOST_POINTS = 400
MOST_SIDE_PX = 20_000

SMALL_BOARD_MARKS = 80.0
"""A board whose shorter side is less than so many times what a mark is off."""

OBLIQUE_DEG = 40.0
FAR_BOARDS = 6.0
"""Board diagonals between the board's middle and the farthest point of the outline."""


@dataclass(frozen=True)
class PhotoMeasure:
    """A face measured on a photo.

    Attributes
    ----------
    area_m2
        Area within the outline.
    length_m, height_m
        How far the outline reaches along the board's width and its height [m].
    oblique_deg
        Angle between the line of sight and the face's normal, at the board [degrees]; near for a usual lens.
    log_sd
        One standard deviation of the area's logarithm: marking, board and plane, in this order, and all.
    warnings
        What makes the figure worse than it need be.
    """

    area_m2: Spread
    length_m: float
    height_m: float
    oblique_deg: float
    log_sd: tuple[float, float, float, float]
    warnings: tuple[Text, ...]

    def outside_m3(self, piece_length_m: float, rows: int = 1, *, piece_sd_m: float = 0.01) -> Spread:
        """Outside volume of pieces so long behind the face, `rows` deep."""
        factor = math.exp(TO_10_90 * math.hypot(self.log_sd[3], piece_sd_m / piece_length_m))
        mid = self.area_m2.mid * piece_length_m * rows
        return Spread(mid / factor, mid, mid * factor)


def photo_measure(
    board_m: tuple[float, float],
    corners_px: Sequence[Point],
    outline_px: Sequence[Point],
    *,
    picture_px: tuple[int, int],
    mark_sd_px: float | None = None,
    seed: int = 0,
) -> PhotoMeasure:
    """Area of a stack's face from marks on a photo.

    Parameters
    ----------
    board_m
        Width and height of the board or frame [m].
    corners_px
        Its corners as they stand in the photo: top left, top right, bottom right, bottom left [px, y downwards].
    outline_px
        The outline of the face, point by point round it [px].
    picture_px
        Width and height of the photo.
    mark_sd_px
        How far a mark is off, one standard deviation; 0.0015 of the photo's longer side if None.

    Raises InputError for board, corners or outline.
    """
    width, height = (within("board", side, BOARD_SIDE_M) for side in board_m)
    longer = max(picture_px)
    if not 1 <= min(picture_px) <= longer <= MOST_SIDE_PX:
        raise InputError(
            "photo",
            wanted=T_("a photo with sides of 1 to {most} px", most=MOST_SIDE_PX),
            got=f"{picture_px[0]} × {picture_px[1]}",
            next_move=T_("Take another photo."),
        )
    corners = _corners(corners_px, picture_px)
    outline = _outline(outline_px, picture_px)
    board = np.array([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])
    sd = MARK_SD_SHARE * longer if mark_sd_px is None else max(LEAST_MARK_SD_PX, mark_sd_px)

    lift = _homographies(corners[None], board)
    plane, depth = _lifted(lift, outline[None])
    if depth.min() <= 0.0:
        raise InputError(
            "outline",
            wanted=T_("an outline on the same side as the board"),
            got=T_("one that passes where the plane of the board runs out of sight"),
            next_move=T_("Check the corners of the board, or take the photo more from the front."),
        )
    area = float(_areas(plane)[0])
    marking = _marking_sd(corners, outline, board, area, sd, seed)
    sized = math.hypot(BOARD_SD_M / width, BOARD_SD_M / height)
    log_sd = math.hypot(marking, sized, PLANE_SD_SHARE)
    factor = math.exp(TO_10_90 * log_sd)
    reach = plane[0].max(axis=0) - plane[0].min(axis=0)
    oblique = _oblique_deg(lift[0], corners)
    return PhotoMeasure(
        area_m2=Spread(area / factor, area, area * factor),
        length_m=float(reach[0]),
        height_m=float(reach[1]),
        oblique_deg=oblique,
        log_sd=(marking, sized, PLANE_SD_SHARE, log_sd),
        warnings=tuple(_warnings(corners, plane[0], board, sd, oblique)),
    )


def points_from(text: str, field: str) -> tuple[Point, ...]:
    """Points as they are written: `120,340 512,338`, parted by blanks or semicolons. Raises InputError."""
    found: list[Point] = []
    for part in text.replace(";", " ").split():
        try:
            x, y = (float(number) for number in part.split(","))
        except ValueError:
            x = y = math.nan
        if not (math.isfinite(x) and math.isfinite(y)):
            raise InputError(
                field,
                wanted=T_("points such as 120,340 512,338"),
                got=part[:40],
                next_move=T_("Mark the points on the photo again."),
            )
        found.append((x, y))
    return tuple(found)


# -- what was marked --------------------------------------------------------------------------
def _corners(points: Sequence[Point], picture_px: tuple[int, int]) -> np.ndarray:
    if len(points) != 4:
        raise InputError(
            "corners",
            wanted=T_("the four corners of the board"),
            got=str(len(points)),
            next_move=T_("Mark top left, top right, bottom right, bottom left."),
        )
    corners = _inside("corners", points, picture_px)
    turns = [_turn(corners[i - 1], corners[i], corners[(i + 1) % 4]) for i in range(4)]
    again = T_("Mark them once round: top left, top right, bottom right, bottom left.")
    if min(turns) < 0.0 < max(turns):
        crossed = _crossing(corners) is not None
        raise InputError(
            "corners",
            wanted=T_("four corners in order round the board"),
            got=T_("sides that cross") if crossed else T_("a corner that lies inside the others"),
            next_move=again,
        )
    if max(turns) <= 0.0:
        flat = min(turns) == 0.0
        raise InputError(
            "corners",
            wanted=T_("four corners in order round the board"),
            got=T_("corners on one line") if flat else T_("corners the other way round"),
            next_move=again,
        )
    across = corners[1] + corners[2] - corners[0] - corners[3]
    if across[0] <= abs(across[1]):
        raise InputError(
            "corners",
            wanted=T_("the top left corner first"),
            got=T_("another corner first, or a photo that lies on its side"),
            next_move=again,
        )
    return corners


def _outline(points: Sequence[Point], picture_px: tuple[int, int]) -> np.ndarray:
    if not 3 <= len(points) <= MOST_POINTS:
        raise InputError(
            "outline",
            wanted=T_("an outline of 3 to {most} points", most=MOST_POINTS),
            got=str(len(points)),
            next_move=T_("Mark the stack's face point by point round it."),
        )
    outline = _inside("outline", points, picture_px)
    outline = outline[np.any(outline != np.roll(outline, 1, axis=0), axis=1)]
    crossed = _crossing(outline)
    if crossed is not None or len(outline) < 3:
        first, second = crossed or (1, 2)
        raise InputError(
            "outline",
            wanted=T_("an outline that does not cross itself"),
            got=T_("one whose sides after points {first} and {second} cross", first=first, second=second),
            next_move=T_("Move or remove one of these points."),
        )
    return outline


def _inside(field: str, points: Sequence[Point], picture_px: tuple[int, int]) -> np.ndarray:
    found = np.array(points, dtype=float)
    outside = (found < 0.0) | (found > np.array(picture_px)) | ~np.isfinite(found)
    if outside.any():
        place = int(np.argmax(outside.any(axis=1)))
        raise InputError(
            field,
            wanted=T_(
                "points within the photo ({width} × {height} px)", width=picture_px[0], height=picture_px[1]
            ),
            got=T_("point {place} outside it", place=place + 1),
            next_move=T_("Mark it again; what is cut off by the photo cannot be measured."),
        )
    return found


def _turn(before: np.ndarray, here: np.ndarray, after: np.ndarray) -> float:
    one, other = here - before, after - here
    return float(one[0] * other[1] - one[1] * other[0])


def _crossing(points: np.ndarray) -> tuple[int, int] | None:
    """Two sides of a closed outline that cross or touch, by the numbers (from 1) of the points they start at."""
    count = len(points)
    for i in range(count):
        a, b = points[i], points[(i + 1) % count]
        for j in range(i + 2, count):
            if (j + 1) % count == i:
                continue
            c, d = points[j], points[(j + 1) % count]
            if _turn(a, b, c) * _turn(a, b, d) <= 0.0 and _turn(c, d, a) * _turn(c, d, b) <= 0.0:
                return i + 1, j + 1
    return None


# -- the plane --------------------------------------------------------------------------------
def _homographies(corners: np.ndarray, board: np.ndarray) -> np.ndarray:
    """Maps from the photo to the board's plane, one for each set of corners [sets, 4, 2]."""
    move_px, from_px = _normalised(corners)
    move_m, from_m = _normalised(board[None])
    x, y = from_px[..., 0], from_px[..., 1]
    u, v = np.broadcast_to(from_m[..., 0], x.shape), np.broadcast_to(from_m[..., 1], x.shape)
    zero, one = np.zeros_like(x), np.ones_like(x)
    across = np.stack([x, y, one, zero, zero, zero, -u * x, -u * y], axis=-1)
    along = np.stack([zero, zero, zero, x, y, one, -v * x, -v * y], axis=-1)
    system = np.concatenate([across, along], axis=-2)
    found = np.linalg.solve(system, np.concatenate([u, v], axis=-1)[..., None])[..., 0]
    maps = np.concatenate([found, np.ones((*found.shape[:-1], 1))], axis=-1).reshape(-1, 3, 3)
    lifted: np.ndarray = np.linalg.inv(move_m) @ maps @ move_px
    return lifted


def _normalised(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Each set moved to its middle and scaled to a mean distance of √2, with the matrix that does it."""
    middle = points.mean(axis=-2, keepdims=True)
    away = np.linalg.norm(points - middle, axis=-1).mean(axis=-1)
    scale = math.sqrt(2.0) / away
    matrix = np.zeros((len(points), 3, 3))
    matrix[:, 0, 0] = matrix[:, 1, 1] = scale
    matrix[:, :2, 2] = -scale[:, None] * middle[:, 0]
    matrix[:, 2, 2] = 1.0
    return matrix, (points - middle) * scale[:, None, None]


def _lifted(maps: np.ndarray, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Points in the plane [m], and how they lie to its line of sight: above zero is in front."""
    ones = np.ones((*points.shape[:-1], 1))
    whole = np.einsum("sij,snj->sni", maps, np.concatenate([points, ones], axis=-1))
    depth = whole[..., 2]
    return whole[..., :2] / depth[..., None], depth


def _areas(points: np.ndarray) -> np.ndarray:
    """Areas within outlines [sets, points, 2], whichever way round they go."""
    x, y = points[..., 0], points[..., 1]
    areas: np.ndarray = (
        np.abs(np.sum(x * np.roll(y, -1, axis=-1) - y * np.roll(x, -1, axis=-1), axis=-1)) / 2.0
    )
    return areas


def _marking_sd(
    corners: np.ndarray, outline: np.ndarray, board: np.ndarray, area: float, sd_px: float, seed: int
) -> float:
    """What the marks are off by: one standard deviation of the area's logarithm, from its percentiles."""
    draw = np.random.default_rng(seed)
    moved = corners + draw.normal(0.0, sd_px, (DRAWS, *corners.shape))
    round_it = outline + draw.normal(0.0, sd_px, (DRAWS, *outline.shape))
    plane, depth = _lifted(_homographies(moved, board), round_it)
    seen = depth.min(axis=-1) > 0.0
    if seen.mean() < 0.95:
        raise InputError(
            "corners",
            wanted=T_("a board that is seen large and from the front"),
            got=T_("one so small or so oblique that the marks decide everything"),
            next_move=T_("Take the photo nearer and more from the front, or use a larger board."),
        )
    off = np.log(_areas(plane[seen]) / area)
    low, high = np.percentile(off, (15.87, 84.13))
    return float(high - low) / 2.0


def _oblique_deg(lift: np.ndarray, corners: np.ndarray) -> float:
    """Angle of sight at the board's middle, from how unevenly the map stretches there."""
    x, y = corners.mean(axis=0)
    across, along, depth = lift @ np.array([x, y, 1.0])
    jacobian = (lift[:2, :2] * depth - np.outer([across, along], lift[2, :2])) / depth**2
    stretch = np.linalg.svd(jacobian, compute_uv=False)
    return math.degrees(math.acos(min(1.0, stretch[1] / stretch[0])))


def _warnings(
    corners: np.ndarray, plane: np.ndarray, board: np.ndarray, sd_px: float, oblique_deg: float
) -> list[Text]:
    said = []
    shortest = float(np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).min())
    if shortest < SMALL_BOARD_MARKS * sd_px:
        said.append(
            T_(
                "The board is small in the photo: {side:.0f} px, where a mark is off by about {sd:.0f}. "
                "Use a larger board or frame, go nearer, or enlarge the photo while marking.",
                side=shortest,
                sd=sd_px,
            )
        )
    if oblique_deg > OBLIQUE_DEG:
        said.append(
            T_(
                "The face is seen {angle:.0f}° from the side. Stand in front of it: pieces that stand out hide others.",
                angle=oblique_deg,
            )
        )
    diagonal = float(np.linalg.norm(board[2]))
    far = float(np.linalg.norm(plane - board.mean(axis=0), axis=1).max()) / diagonal
    if far > FAR_BOARDS:
        said.append(
            T_(
                "The outline reaches {far:.0f} board lengths away from the board. Put the board in the middle of the "
                "face, use a larger one, or measure the stack in two photos.",
                far=far,
            )
        )
    return said
