"""A simple map of our own: the listed places as dots with a graticule, drawn as SVG; and what a tap on it means.

The projection is plate carrée, stretched so that the middle of the map is true to shape.
The picture has a fixed size, so that a tap's coordinates mean the same with and without scripts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from rickyard.weather import all_places, picked_places

SIZE_PX = 288
SPANS = (2.0, 5.0, 12.0, 30.0, 75.0, 160.0)
"""Degrees of latitude that the map may show."""
_STEPS = ((3.0, 0.5), (8.0, 1.0), (20.0, 2.0), (50.0, 10.0), (400.0, 30.0))
MOST_NAMES = 14


@dataclass(frozen=True)
class MapView:
    """What a map shows: its middle [°], how many degrees of latitude, and the point that was picked."""

    lat: float
    lon: float
    span: float
    pick: tuple[float, float] | None = None

    @property
    def wide(self) -> float:
        """Degrees of longitude shown."""
        return min(self.span / max(math.cos(math.radians(self.lat)), 0.2), 360.0)

    def at(self, x_px: float, y_px: float) -> tuple[float, float]:
        """Latitude and longitude under a point of the picture."""
        lat = self.lat + self.span * (0.5 - y_px / SIZE_PX)
        lon = self.lon + self.wide * (x_px / SIZE_PX - 0.5)
        return round(min(max(lat, -90.0), 90.0), 3), round((lon + 180.0) % 360.0 - 180.0, 3)

    def on(self, lat: float, lon: float) -> tuple[float, float]:
        """Where a point lies on the picture [px]."""
        east = (lon - self.lon + 180.0) % 360.0 - 180.0
        return SIZE_PX * (0.5 + east / self.wide), SIZE_PX * (0.5 - (lat - self.lat) / self.span)

    def zoomed(self, steps: int) -> MapView:
        """Nearer (negative) or farther, about the picked point if there is one."""
        nearest = min(range(len(SPANS)), key=lambda i: abs(SPANS[i] - self.span))
        span = SPANS[min(max(nearest + steps, 0), len(SPANS) - 1)]
        lat, lon = self.pick or (self.lat, self.lon)
        return clear(replace(self, lat=lat, lon=lon, span=span))

    def moved(self, north: float, east: float) -> MapView:
        """Moved by shares of what it shows."""
        return clear(replace(self, lat=self.lat + north * self.span, lon=self.lon + east * self.wide))

    def query(self) -> str:
        """Its address."""
        said = f"lat={self.lat:.3f}&lon={self.lon:.3f}&span={self.span:g}"
        return said if self.pick is None else f"{said}&pick={self.pick[0]:.3f},{self.pick[1]:.3f}"


def clear(view: MapView) -> MapView:
    """The nearest map that can be drawn; nonsense in an address is no error of the reader's."""
    span = min(SPANS, key=lambda known: abs(known - view.span)) if math.isfinite(view.span) else SPANS[3]
    lat = min(max(view.lat, -80.0), 80.0) if math.isfinite(view.lat) else 45.0
    lon = (view.lon + 180.0) % 360.0 - 180.0 if math.isfinite(view.lon) else -70.0
    return replace(view, lat=lat, lon=lon, span=span)


def draw(view: MapView) -> str:
    """The map as SVG, without styles of its own that a strict content policy would refuse."""
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SIZE_PX} {SIZE_PX}" ',
        f'width="{SIZE_PX}" height="{SIZE_PX}">',
        f'<rect width="{SIZE_PX}" height="{SIZE_PX}" fill="#f4efe2"/>',
        *_graticule(view),
    ]
    radius = 1.6 if view.span > 20 else 2.6
    for place in all_places():
        x, y = view.on(place.lat, place.lon)
        if 0 <= x <= SIZE_PX and 0 <= y <= SIZE_PX:
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius}" fill="#17402f"/>')
    parts.extend(_names(view))
    if view.pick is not None:
        x, y = view.on(*view.pick)
        parts.append(
            f'<path d="M{x - 9:.1f} {y:.1f}h18M{x:.1f} {y - 9:.1f}v18" stroke="#a3311c" stroke-width="3" fill="none"/>'
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="7" stroke="#a3311c" stroke-width="2.5" fill="none"/>'
        )
    parts.append("</svg>")
    return "".join(parts)


def _graticule(view: MapView) -> list[str]:
    step = next(step for most, step in _STEPS if view.span <= most)
    lines: list[str] = []
    lat = math.ceil((view.lat - view.span / 2) / step) * step
    while lat <= min(view.lat + view.span / 2, 90.0):
        _, y = view.on(lat, view.lon)
        lines.append(
            f'<path d="M0 {y:.1f}H{SIZE_PX}" stroke="#c9bfa8" stroke-width="1"/>{_text(3, y - 3, _degrees(lat))}'
        )
        lat += step
    lon = math.ceil((view.lon - view.wide / 2) / step) * step
    while lon <= view.lon + view.wide / 2:
        x = SIZE_PX * (0.5 + (lon - view.lon) / view.wide)
        east = (lon + 180.0) % 360.0 - 180.0
        lines.append(
            f'<path d="M{x:.1f} 0V{SIZE_PX}" stroke="#c9bfa8" stroke-width="1"/>'
            f"{_text(x + 3, SIZE_PX - 4, _degrees(east))}"
        )
        lon += step
    return lines


def _names(view: MapView) -> list[str]:
    """Names of some places of the short list, none over another."""
    taken: list[tuple[float, float, float]] = []
    named: list[str] = []
    for place in picked_places():
        x, y = view.on(place.lat, place.lon)
        width = 6.2 * len(place.name)
        if not (4 <= x <= SIZE_PX - width - 4 and 14 <= y <= SIZE_PX - 16):
            continue
        if any(
            abs(y - other_y) < 13 and x < right and other_x < x + width for other_x, other_y, right in taken
        ):
            continue
        taken.append((x, y, x + width))
        named.append(_text(x + 4, y - 4, place.name, "#1b1a16"))
        if len(named) == MOST_NAMES:
            break
    return named


def _text(x: float, y: float, words: str, fill: str = "#5c564b") -> str:
    safe = words.replace("&", "&amp;").replace("<", "&lt;")
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-family="sans-serif" font-size="11" fill="{fill}">{safe}</text>'
    )


def _degrees(value: float) -> str:
    return f"{value:g}°".replace("-", "\u2212")
