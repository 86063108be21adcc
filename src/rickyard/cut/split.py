"""How to split a round so that every piece is dry in time, goes into the stove and lies in the hand.

Patterns: whole, wedges (halves, thirds, quarters, ...), ring and core (wedges whose points are split off across and
whose outer parts are split again), and slabs (parallel splits, each slab then split across). The one with the fewest
pieces is taken; of several with as few, wedges before ring and core before slabs, then the one whose thickest piece
is thinnest. Thickness is meant as in `cut.shape`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from rickyard.cut.shape import Section, drying_thickness, least_thickness, whole_round
from rickyard.errors import InputError
from rickyard.measure.limits import within
from rickyard.text import T_, Text

ROUND_M = (0.03, 2.5)
THICKNESS_M = (0.02, 0.60)
FIREBOX_M = (0.08, 2.0)
HAND_M = (0.04, 2.0)
"""The greatest distance across a piece, and the greatest thickness by the ruler, that are taken for a limit. A hand
takes thinner pieces than any door: small stoves are fed with splits of 5 to 8 cm."""

WEDGES = (2, 3, 4, 5, 6, 8)
RINGS = ((4, 1), (4, 2), (5, 2), (6, 2), (4, 3), (5, 3), (8, 2), (6, 3))
"""Wedges, and parts into which each is split once its point is off."""
HEARTS = (0.4, 0.45, 0.5, 0.55, 0.6, 0.65)
"""Where the point of a wedge is split off, of the radius from the pith."""
MOST_SLABS = 12
MOST_PIECES = 144


TIGHT_BARK = ("betula",)
"""Genera whose bark lets all but nothing through: whole birch bolts with bark dried only through their ends (NIBIO,
Aas, as in season's table of wood classes)."""

WHOLE_CAUTION = T_(
    "Left whole: its thickness is its diameter. Bark holds the water in longer than on a split; ask for a forecast of "
    "rounds before you count on it, or halve it."
)
TIGHT_CAUTION = T_(
    "The bark lets all but nothing through: every round is split, and outer pieces count as thicker than they look."
)


def has_tight_bark(species_id: str) -> bool:
    """Whether the bark of a species or wider name is taken to be closed."""
    return species_id.split("_")[0] in TIGHT_BARK


@dataclass(frozen=True)
class Split:
    """A line along which the round is split, from end to end, in radii about the pith."""

    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True)
class Pattern:
    """A way of splitting a round of radius 1.

    Attributes
    ----------
    id
        `whole`, `halves`, `thirds`, `quarters`, `wedges`, `ring_and_core` or `slabs`.
    splits
        In the order in which they are made.
    pieces
        What they leave.
    first
        Into how many wedges or slabs it is split first.
    """

    id: str
    splits: tuple[Split, ...]
    pieces: tuple[Section, ...]
    first: int = 1


@dataclass(frozen=True)
class SplitPiece:
    """A piece: its section in radii of the round, and its sizes [m].

    Attributes
    ----------
    thickness_m
        In the sense of the drying model; see `cut.shape`.
    least_m, greatest_m
        Least and greatest distance between two jaws across it.
    area_m2
        Area of the section.
    """

    section: Section
    thickness_m: float
    least_m: float
    greatest_m: float
    area_m2: float


@dataclass(frozen=True)
class SplitPlan:
    """Attributes
    ----------
    diameter_m
        Of the round [m].
    pattern
        How it is split.
    pieces
        What becomes of it.
    tight_bark
        Whether the bark was taken to let nothing through.
    cautions
        What to know about it.
    """

    diameter_m: float
    pattern: Pattern
    pieces: tuple[SplitPiece, ...]
    tight_bark: bool
    cautions: tuple[Text, ...]

    @property
    def thickness_mean_m(self) -> float:
        """Mean over the wood: each piece counts by its section [m]."""
        whole = sum(piece.area_m2 for piece in self.pieces)
        mean = sum(piece.thickness_m * piece.area_m2 for piece in self.pieces) / whole
        # Of pieces all alike the mean may come out a last digit above them.
        return min(mean, self.thickness_max_m)

    @property
    def thickness_max_m(self) -> float:
        return max(piece.thickness_m for piece in self.pieces)


def split_round(
    diameter_m: float,
    max_thickness_m: float,
    *,
    firebox_m: float | None = None,
    hand_m: float | None = None,
    tight_bark: bool = False,
) -> SplitPlan:
    """The pattern with the fewest pieces that keeps to the limits.

    Parameters
    ----------
    diameter_m
        Of the round, of the wood [m].
    max_thickness_m
        The thickest split that will be dry in time [m], as `season.backwards` gives it for the form `split`.
    firebox_m
        The greatest distance across a piece for it to go through the door [m].
    hand_m
        The greatest least distance across a piece for it to lie in the hand [m].
    tight_bark
        Whether the bark lets nothing through, as birch's; see `TIGHT_BARK`.

    Raises
    ------
    InputError
        For a size that no round has, or limits that no pattern keeps.
    """
    diameter = within("diameter", diameter_m, ROUND_M)
    thickest = within("max_thickness", max_thickness_m, THICKNESS_M)
    for field, limit, allowed in (("firebox", firebox_m, FIREBOX_M), ("hand", hand_m, HAND_M)):
        if limit is not None:
            within(field, limit, allowed)
    best: SplitPlan | None = None
    for pattern in patterns():
        # Fewest pieces first; of as many, wedges before ring and core before slabs, as they are easier to make.
        if best is not None and (len(pattern.pieces), pattern.id) != (len(best.pieces), best.pattern.id):
            break
        if not _may_do(pattern, thickest / (diameter / 2.0), tight_bark):
            continue
        made = _made(pattern, diameter, tight_bark)
        if made.thickness_max_m > thickest + 1e-9 or not _fits(made, firebox_m, hand_m):
            continue
        if best is None or made.thickness_max_m < best.thickness_max_m - 1e-9:
            best = made
    if best is None:
        raise InputError(
            "max_thickness",
            wanted=T_("limits that at most {most} pieces of a round can keep", most=MOST_PIECES),
            got=T_(
                "{thickness:.3f} m thick from a round of {diameter:.3f} m",
                thickness=thickest,
                diameter=diameter,
            ),
            next_move=T_("Allow thicker pieces, give them more time to dry, or cut the round through first."),
        )
    return best


def _may_do(pattern: Pattern, thickest: float, tight: bool) -> bool:
    """Whether no piece is surely too thick; `thickest` in radii. The largest pieces are looked at first."""
    if pattern.id == "whole":
        # In tight bark a round dries through its ends alone, however thin it is.
        return thickest >= 2.0 - 1e-9 and not tight
    if max(least_thickness(section, tight) for section in pattern.pieces) > thickest:
        return False
    order = sorted(pattern.pieces, key=lambda section: -section.area)
    return all(drying_thickness(section, tight) <= thickest + 1e-9 for section in order)


def _fits(plan: SplitPlan, firebox_m: float | None, hand_m: float | None) -> bool:
    return (firebox_m is None or max(piece.greatest_m for piece in plan.pieces) <= firebox_m + 1e-9) and (
        hand_m is None or max(piece.least_m for piece in plan.pieces) <= hand_m + 1e-9
    )


def _made(pattern: Pattern, diameter_m: float, tight: bool) -> SplitPlan:
    radius = diameter_m / 2.0
    if pattern.id == "whole":
        area = math.pi * radius * radius
        piece = SplitPiece(pattern.pieces[0], diameter_m, diameter_m, diameter_m, area)
        return SplitPlan(diameter_m, pattern, (piece,), tight, (WHOLE_CAUTION,))
    pieces = []
    for section in pattern.pieces:
        least, greatest = section.calipers
        pieces.append(
            SplitPiece(
                section,
                drying_thickness(section, tight) * radius,
                least * radius,
                greatest * radius,
                section.area * radius * radius,
            )
        )
    return SplitPlan(diameter_m, pattern, tuple(pieces), tight, (TIGHT_CAUTION,) if tight else ())


@lru_cache(maxsize=1)
def patterns() -> tuple[Pattern, ...]:
    """All patterns, those with fewer pieces first."""
    made = [Pattern("whole", (), (whole_round(),)), *_wedges(), *_rings(), *_slabs()]
    families = ("whole", "halves", "thirds", "quarters", "wedges", "ring_and_core", "slabs")
    return tuple(sorted(made, key=lambda pattern: (len(pattern.pieces), families.index(pattern.id))))


def _sector(place: int, count: int) -> Section:
    """Wedge number `place` of `count`; the first lies about the upright, so that quarters stand on a split."""
    section: Section | None = whole_round()
    first = 2.0 * math.pi * place / count
    last = 2.0 * math.pi * (place + 1) / count
    for angle, sign in ((first, 1.0), (last, -1.0)):
        assert section is not None
        section = section.cut(-sign * math.sin(angle), sign * math.cos(angle), 0.0)
        if count == 2:
            break
    assert section is not None
    return section


def _rays(count: int) -> tuple[Split, ...]:
    """Splits that make equal wedges: through the pith where they can be, else from it."""
    angles = [2.0 * math.pi * place / count for place in range(count)]
    if count % 2:
        return tuple(Split(0.0, 0.0, math.cos(angle), math.sin(angle)) for angle in angles)
    half = angles[: count // 2]
    # Halve, halve again, then between: each split goes through what is left as evenly as can be.
    order = sorted(range(len(half)), key=lambda place: (_turn(place, len(half)), place))
    return tuple(
        Split(-math.cos(half[n]), -math.sin(half[n]), math.cos(half[n]), math.sin(half[n])) for n in order
    )


def _turn(place: int, count: int) -> int:
    """How late a split comes: 0 the first, 1 that square to it, then those between."""
    if place == 0:
        return 0
    return 1 if 2 * place == count else 2


def _wedges() -> Iterator[Pattern]:
    names = {2: "halves", 3: "thirds", 4: "quarters"}
    for count in WEDGES:
        pieces = tuple(_sector(place, count) for place in range(count))
        yield Pattern(names.get(count, "wedges"), _rays(count), pieces, count)


def _rings() -> Iterator[Pattern]:
    """Wedges, the point of each split off square to its middle, the rest split towards the bark."""
    for count, parts in RINGS:
        for heart in HEARTS:
            pieces, splits = [], list(_rays(count))
            for place in range(count):
                middle = 2.0 * math.pi * (place + 0.5) / count
                a, b = math.cos(middle), math.sin(middle)
                wedge = _sector(place, count)
                outer, inner = wedge.cut(a, b, heart), wedge.cut(-a, -b, -heart)
                assert inner is not None
                pieces.append(inner)
                reach = heart * math.tan(math.pi / count)
                splits.append(
                    Split(
                        heart * a + reach * b,
                        heart * b - reach * a,
                        heart * a - reach * b,
                        heart * b + reach * a,
                    )
                )
                for part in range(1, parts + 1):
                    assert outer is not None
                    piece: Section | None = outer
                    if part < parts:
                        angle = 2.0 * math.pi * (place + part / parts) / count
                        x, y = math.cos(angle), math.sin(angle)
                        # Before the ray lies what turns towards it, behind it what is split next.
                        piece, outer = outer.cut(y, -x, 0.0), outer.cut(-y, x, 0.0)
                        start = heart / math.cos(angle - middle)
                        splits.append(Split(start * x, start * y, x, y))
                    assert piece is not None
                    pieces.append(piece)
            yield Pattern("ring_and_core", tuple(splits), tuple(pieces), count)


def _slabs() -> Iterator[Pattern]:
    """Parallel splits evenly over the diameter, then each slab split across into equal parts."""
    for count in range(2, MOST_SLABS + 1):
        step = 2.0 / count
        for across in range(count - 1, count + 3):
            if across < 2:
                continue
            pieces: list[Section] = []
            splits = [_chord(-1.0 + step * place) for place in range(1, count)]
            for place in range(count):
                low, high = -1.0 + step * place, -1.0 + step * (place + 1)
                slab = whole_round()
                for a, c in ((1.0, low), (-1.0, -high)):
                    cut = slab.cut(0.0, a, c) if abs(c) < 1.0 - 1e-9 else slab
                    assert cut is not None
                    slab = cut
                nearest = 0.0 if low < 0.0 < high else min(abs(low), abs(high))
                chord = 2.0 * math.sqrt(max(0.0, 1.0 - nearest * nearest))
                parts = max(1, round(across * chord / 2.0))
                for part in range(parts):
                    left, right = -chord / 2 + chord * part / parts, -chord / 2 + chord * (part + 1) / parts
                    piece: Section | None = slab
                    if part:
                        assert piece is not None
                        piece = piece.cut(1.0, 0.0, left)
                        splits.append(_upright(left, low, high))
                    if part < parts - 1 and piece is not None:
                        piece = piece.cut(-1.0, 0.0, -right)
                    if piece is not None:
                        pieces.append(piece)
            if len(pieces) <= MOST_PIECES:
                yield Pattern("slabs", tuple(splits), tuple(pieces), count)


def _chord(y: float) -> Split:
    half = math.sqrt(1.0 - y * y)
    return Split(-half, y, half, y)


def _upright(x: float, low: float, high: float) -> Split:
    reach = math.sqrt(max(0.0, 1.0 - x * x))
    return Split(x, max(low, -reach), x, min(high, reach))


def pattern_name(plan: SplitPlan) -> Text:
    """The pattern in words."""
    count = len(plan.pieces)
    return {
        "whole": T_("left whole"),
        "halves": T_("halves"),
        "thirds": T_("thirds"),
        "quarters": T_("quarters"),
        "wedges": T_("{count} wedges", count=count),
        "ring_and_core": T_("ring and core, {count} pieces", count=count),
        "slabs": T_("slabs split across, {count} pieces", count=count),
    }[plan.pattern.id]


def how_to(plan: SplitPlan) -> tuple[Text, ...]:
    """What to do, in order."""
    again = len(plan.pieces) > 2 * plan.pattern.first
    return {
        "whole": (T_("Leave it whole; open the bark with a cut along it so that it dries."),),
        "halves": (T_("Split once through the pith."),),
        "thirds": (T_("Three splits from the outside to the pith, along checks where there are any."),),
        "quarters": (T_("Halve it through the pith, then halve both halves."),),
        "wedges": (T_("Split through the pith to {count} equal wedges.", count=plan.pattern.first),),
        "ring_and_core": (
            T_("Split through the pith to {count} equal wedges.", count=plan.pattern.first),
            T_("Lay each wedge down and split its point off, along the rings."),
            *([T_("Split the outer parts again towards the bark, to the marks.")] if again else []),
        ),
        "slabs": (
            T_(
                "Split {count} slabs off, all as thick, from one side to the other.", count=plan.pattern.first
            ),
            T_("A very wide round is better noodled with the saw."),
            T_("Lay each slab down and split it across to the marks."),
        ),
    }[plan.pattern.id]
