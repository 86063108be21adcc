"""Rendered scenes of a stack's face with a board in its plane, whose truth is known: for tests and the accuracy page.

A pinhole camera with square pixels looks at the plane z = 0; x runs to the right along the face, y down it [m].
It shares no code with `rickyard.measure.photo`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from PIL import Image

WIDTH_PX, HEIGHT_PX = 4000, 3000
FOCAL_PX = 3100.0
"""About a phone's main lens: 66° across."""


@dataclass(frozen=True)
class Scene:
    """A face, a board in its plane and a camera.

    `outline_m` is the face's outline; `board_m` is left, top, width, height; the camera stands `away_m` from the
    middle of the face, turned by `yaw_deg` to the side and `pitch_deg` down, and rolled. `k1` bends lines: the
    first radial term for distances in focal lengths.
    """

    outline_m: np.ndarray
    board_m: tuple[float, float, float, float]
    away_m: float = 4.5
    yaw_deg: float = 0.0
    pitch_deg: float = 0.0
    roll_deg: float = 0.0
    k1: float = 0.0
    size_px: tuple[int, int] = (WIDTH_PX, HEIGHT_PX)
    focal_px: float = FOCAL_PX
    board_before_m: float = 0.0

    @property
    def area_m2(self) -> float:
        """The truth, by trapezia."""
        x, y = self.outline_m[:, 0], self.outline_m[:, 1]
        return abs(float(np.sum((np.roll(x, -1) - x) * (np.roll(y, -1) + y)))) / 2.0

    def camera(self) -> tuple[np.ndarray, np.ndarray]:
        """Rotation (rows are the camera's right, down and forward) and place."""
        yaw, pitch, roll = (math.radians(d) for d in (self.yaw_deg, self.pitch_deg, self.roll_deg))
        low, high = self.outline_m.min(axis=0), self.outline_m.max(axis=0)
        middle = np.array([*(low + high) / 2.0, 0.0])
        forward = np.array(
            [-math.sin(yaw) * math.cos(pitch), math.sin(pitch), math.cos(yaw) * math.cos(pitch)]
        )
        right = np.array([math.cos(yaw), 0.0, math.sin(yaw)])
        down = np.cross(forward, right)
        right, down = (
            math.cos(roll) * right + math.sin(roll) * down,
            math.cos(roll) * down - math.sin(roll) * right,
        )
        return np.array([right, down, forward]), middle - self.away_m * forward

    def seen(self, points_m: np.ndarray, before_m: float = 0.0) -> np.ndarray:
        """Where points of the plane (or of one so far before it) stand in the photo [px]."""
        rotation, place = self.camera()
        whole = np.column_stack([points_m, np.full(len(points_m), -before_m)])
        across, along, deep = rotation @ (whole - place).T
        flat = np.column_stack([across / deep, along / deep])
        bent = flat * (1.0 + self.k1 * np.sum(flat**2, axis=1, keepdims=True))
        return bent * self.focal_px + np.array(self.size_px) / 2.0

    def marks(self, sd_px: float, seed: int) -> tuple[np.ndarray, np.ndarray]:
        """The board's corners and the outline as a hand would mark them."""
        left, top, width, height = self.board_m
        corners = np.array(
            [(left, top), (left + width, top), (left + width, top + height), (left, top + height)]
        )
        draw = np.random.default_rng(seed)
        return tuple(  # type: ignore[return-value]
            points + draw.normal(0.0, sd_px, points.shape)
            for points in (self.seen(corners, self.board_before_m), self.seen(self.outline_m))
        )

    def picture(self, seed: int = 0) -> Image.Image:
        """The photo: round ends of pieces within the outline, a striped board, grass and sky about them."""
        width, height = self.size_px
        y, x = np.mgrid[0:height, 0:width]
        rotation, place = self.camera()
        rays = np.stack(
            [(x + 0.5 - width / 2) / self.focal_px, (y + 0.5 - height / 2) / self.focal_px, np.ones_like(x)]
        )
        world = np.einsum("ji,jhw->ihw", rotation, rays.astype(float))
        reach = -place[2] / world[2]
        u, v = place[0] + reach * world[0], place[1] + reach * world[1]
        floor = self.outline_m[:, 1].max()
        image = np.where((v < floor)[..., None], (176, 196, 210), (112, 132, 84)).astype(float)
        inside = _inside(self.outline_m, u, v)
        image[inside] = _ends(u, v, np.random.default_rng(seed))[inside]
        left, top, wide, tall = self.board_m
        board = (u >= left) & (u <= left + wide) & (v >= top) & (v <= top + tall)
        stripes = ((u - left) / wide * 4).astype(int) % 2 == 0
        image[board] = np.where(stripes[..., None], (214, 40, 30), (250, 250, 250))[board]
        return Image.fromarray(np.clip(image, 0, 255).astype(np.uint8))


def _inside(outline: np.ndarray, u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Even-odd rule."""
    found = np.zeros(u.shape, dtype=bool)
    for (x1, y1), (x2, y2) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if y1 == y2:
            continue
        crosses = (v < y1) != (v < y2)
        found ^= crosses & (u < (x2 - x1) * (v - y1) / (y2 - y1) + x1)
    return found


def _ends(u: np.ndarray, v: np.ndarray, draw: np.random.Generator) -> np.ndarray:
    """Ends of pieces 12 cm across in staggered rows, each of its own brown, with dark gaps."""
    pitch = 0.12
    row = np.floor(v / pitch)
    shifted = u / pitch + 0.5 * (row % 2)
    column = np.floor(shifted)
    away = np.hypot(shifted - column - 0.5, v / pitch - row - 0.5)
    shades = draw.uniform(0.75, 1.15, 997)
    shade = shades[((row * 131 + column * 17) % 997).astype(int)] * (1.0 - 0.12 * np.cos(away * 40))
    wood = np.stack([205 * shade, 165 * shade, 112 * shade], axis=-1)
    return np.where((away < 0.49)[..., None], wood, (46, 36, 28))


def rectangle(length_m: float = 3.6, height_m: float = 1.4) -> np.ndarray:
    return np.array([(0.0, 0.0), (length_m, 0.0), (length_m, height_m), (0.0, height_m)])


def uneven(length_m: float = 3.6, height_m: float = 1.4) -> np.ndarray:
    """A face whose top goes up and down and whose end leans."""
    top = [(length_m * i / 8, 0.12 * math.sin(1.7 * i) * height_m) for i in range(9)]
    return np.array([*top, (length_m + 0.15, height_m), (-0.1, height_m)])
