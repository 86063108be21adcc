"""Drawings to scale, as SVG: a log with its marks, a round with its splits. For screens and, set into a page, paper.

All that is told by shade is told by a letter or figure too. Pieces carry `data-piece`, so that a page may tick them
off.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape

from rickyard.cut.logs import CutLog, Saw
from rickyard.cut.plan import LogPlan
from rickyard.cut.split import SplitPiece, SplitPlan
from rickyard.cut.sums import marks_of

FONT = "Libertinus Serif, Georgia, serif"
SHADES = ("#ffffff", "#dcdcdc", "#f2e3c6", "#c9d8e6", "#e3d0d0", "#cfe0cb", "#ededed", "#d9cfe6")
WIDTH = 1000.0
LEAST_TALL = 26.0
"""A log is drawn this thick at least at its thick end, or its letters could not be read; then it is said."""


def letter(place: int) -> str:
    """The letter of a ware by its place in the list: A, B, ... Z, AA."""
    name = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        name = chr(65 + rest) + name
    return name


def _points(corners: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in corners)


def log_svg(
    plan: LogPlan,
    saw: Saw,
    *,
    title: str,
    mark: Callable[[float], str] | None = None,
    scale_m: float | None = None,
    name: str = "",
) -> str:
    """A log lying with its thick end to the left, its pieces with the letters of their wares, and the saw cuts.

    Parameters
    ----------
    title
        What a screen reader says.
    mark
        How a place on the log is written over its cut; None leaves the figures out.
    scale_m
        The length that fills the width, so that several logs are drawn to one scale; the log's own if None.
    name
        What tells this drawing from others on one page: a hidden drawing lends its hatching to no other.
    """
    log = plan.log
    unit = WIDTH / (scale_m or log.length_m)
    thick = max(log.large_d_m * unit, LEAST_TALL) / log.large_d_m
    top = 46.0 if mark else 6.0
    middle = top + log.large_d_m * thick / 2.0
    height = middle + log.large_d_m * thick / 2.0 + 6.0

    def body(start: float, end: float) -> str:
        near, far = log.diameter_m(start) * thick / 2.0, log.diameter_m(end) * thick / 2.0
        x, z = start * unit, end * unit
        return _points([(x, middle - near), (z, middle - far), (z, middle + far), (x, middle + near)])

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-2 0 {WIDTH + 4:.0f} {height:.1f}" role="img" '
        f'font-family="{FONT}"><title>{escape(title)}</title>',
        f'<defs><pattern id="defect{escape(name)}" width="7" height="7" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><rect width="7" height="7" fill="#fff"/>'
        '<rect width="2.4" height="7" fill="#555"/></pattern></defs>',
        f'<polygon points="{body(0.0, log.length_m)}" fill="#bdb8ae" stroke="#222" stroke-width="1.5"/>',
    ]
    for number, cut in enumerate(plan.cuts, start=1):
        size = min(24.0, max(11.0, 0.55 * log.diameter_m(cut.to_m) * thick))
        at = (cut.from_m + cut.to_m) / 2.0 * unit
        parts.append(
            f'<g data-piece="{number}"><polygon points="{body(cut.from_m, cut.to_m)}" '
            f'fill="{SHADES[cut.ware % len(SHADES)]}" stroke="#222" stroke-width="1.5"/>'
            f'<text x="{at:.1f}" y="{middle + 0.35 * size:.1f}" font-size="{size:.1f}" text-anchor="middle">'
            f"{letter(cut.ware)}</text></g>"
        )
    for defect in log.defects:
        if defect.to_m > defect.from_m:
            parts.append(
                f'<polygon points="{body(defect.from_m, defect.to_m)}" fill="url(#defect{escape(name)})" stroke="#222" '
                f'stroke-width="1"><title>{escape(defect.kind)}</title></polygon>'
            )
    last, row = -1e9, 0
    for found in marks_of(plan, saw):
        x = found.at_m * unit
        reach = log.diameter_m(found.at_m) * thick / 2.0
        dashed = "" if found.side == "far" else ' stroke-dasharray="5 3"'
        parts.append(
            f'<line x1="{x:.2f}" x2="{x:.2f}" y1="{middle - reach - 6:.1f}" y2="{middle + reach + 4:.1f}" '
            f'stroke="#000" stroke-width="2.2"{dashed}/>'
        )
        if mark:
            # Figures that would run into one another stand in two rows.
            row = 1 - row if x - last < 62.0 else 0
            last = x
            y = middle - log.large_d_m * thick / 2.0 - 10.0 - 17.0 * row
            parts.append(
                f'<text x="{min(max(x, 24.0), WIDTH - 24.0):.1f}" y="{y:.1f}" font-size="16" '
                f'text-anchor="middle">{escape(mark(found.at_m))}</text>'
            )
    parts.append("</svg>")
    return "".join(parts)


def is_stretched(log: CutLog, scale_m: float) -> bool:
    """Whether the log is drawn thicker than to scale, because it is too thin to be read."""
    return log.large_d_m * WIDTH / scale_m < LEAST_TALL


def split_svg(
    plan: SplitPlan, *, title: str, thickness: Callable[[float], str], diameter: Callable[[float], str]
) -> str:
    """The end of a round with its splits, each kind of piece with its thickness once, and the diameter below.

    `thickness` and `diameter` write a size with its unit.
    """
    radius, middle = 230.0, 250.0

    def at(x: float, y: float) -> tuple[float, float]:
        return middle + radius * x, middle - radius * y

    parts = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 500 560" role="img" '
        f'font-family="{FONT}"><title>{escape(title)}</title>'
    ]
    for number, piece in enumerate(plan.pieces, start=1):
        corners = [at(x, y) for x, y in piece.section.corners]
        parts.append(
            f'<polygon data-piece="{number}" points="{_points(corners)}" '
            f'fill="{shade_of(piece, plan)}" stroke="none"/>'
        )
    for ring in (0.2, 0.4, 0.6, 0.8):
        parts.append(
            f'<circle cx="{middle:.0f}" cy="{middle:.0f}" r="{radius * ring:.1f}" fill="none" stroke="#b9a98a" '
            'stroke-width="0.8"/>'
        )
    parts.append(
        f'<circle cx="{middle:.0f}" cy="{middle:.0f}" r="{radius:.1f}" fill="none" stroke="#3d2f1d" stroke-width="7"/>'
    )
    told: set[str] = set()
    # A figure stands on a ground of its own, over the rings and under the splits: a halo of the letters themselves
    # (paint-order) is lost on some papers.
    figures: list[str] = []
    largest = max(piece.area_m2 for piece in plan.pieces)
    size = 26.0 if len(plan.pieces) <= 8 else 20.0 if len(plan.pieces) <= 24 else 15.0
    for piece in plan.pieces:
        words = thickness(piece.thickness_m)
        # Of many pieces each size is told once, and not in the slivers, where it would run over.
        if len(plan.pieces) > 8 and (words in told or piece.area_m2 < 0.6 * largest):
            continue
        told.add(words)
        x, y = at(*piece.section.middle)
        wide, tall = 0.52 * size * len(words) + 0.3 * size, 1.1 * size
        parts.append(
            f'<rect x="{x - wide / 2:.1f}" y="{y - tall / 2:.1f}" width="{wide:.1f}" height="{tall:.1f}" '
            f'rx="{0.25 * size:.1f}" fill="{shade_of(piece, plan)}"/>'
        )
        figures.append(
            f'<text x="{x:.1f}" y="{y + 0.34 * size:.1f}" font-size="{size:.0f}" text-anchor="middle">'
            f"{escape(words)}</text>"
        )
    for split in plan.pattern.splits:
        (x1, y1), (x2, y2) = at(split.x1, split.y1), at(split.x2, split.y2)
        parts.append(
            f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="#000" stroke-width="3"/>'
        )
    parts += figures
    low = middle + radius
    parts.append(
        f'<path d="M{middle - radius:.0f} {low + 28:.0f}H{middle + radius:.0f}M{middle - radius:.0f} {low + 20:.0f}v16'
        f'M{middle + radius:.0f} {low + 20:.0f}v16" stroke="#000" stroke-width="1.6" fill="none"/>'
        f'<text x="{middle:.0f}" y="{low + 60:.0f}" font-size="28" text-anchor="middle">'
        f"{escape(diameter(plan.diameter_m))}</text></svg>"
    )
    return "".join(parts)


def shade_of(piece: SplitPiece, plan: SplitPlan) -> str:
    """The slowest pieces are darker."""
    thick = piece.thickness_m >= plan.thickness_max_m - 1e-4 and len(plan.pieces) > 1
    return "#f2e3c6" if thick else "#fbf6ea"
