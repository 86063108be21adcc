"""Volume of a log from a tape: Huber, Smalian, Newton, and the solids they are exact for.

How far they err (Goulding 1979, N.Z. J. For. Sci. 9:89, radiata pine): Smalian overstates by more than 8 % when
sections are longer than 5 m, Newton by half of that, Huber understates by 2 % with 3 m sections.
Of the three Newton is best, then Huber, then Smalian; none knows a crooked log.
For a butt log Smalian's large end is better measured 4 ft up (USDA Forest Service, FSH 2409.11a).

What a log's volume may be off by is told in four parts (`LogErrors`), since they add up differently over many logs:
the formula, the reading of the tape, the hand that measured them all, and the bark taken off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rickyard.errors import InputError
from rickyard.measure.bark import BARK_VOLUME_SD
from rickyard.measure.limits import BARK_THICKNESS_M, DIAMETER_M, LOG_LENGTH_M, within
from rickyard.measure.spread import TO_10_90, Spread
from rickyard.text import T_, Quantity

Formula = Literal["huber", "smalian", "newton"]

ERROR_OF_FORMULA: dict[Formula, tuple[float, float]] = {
    "newton": (-0.04, 0.04),
    "huber": (-0.02, 0.02),
    "smalian": (-0.08, 0.0),
}
"""Where the true volume lies about the computed one, 10th and 90th percentile [fraction].

Made from the errors in Goulding 1979 (see the module): Smalian errs one way; the figure for Newton is half
Smalian's at 5 m sections, for Huber that of 3 m sections. A judgement for one log measured with care.
"""

READ_D_SD_M = 0.005
"""How far a diameter is read off, one standard deviation [m]: a judgement; logs are not round, and a tape is read to
half an inch or a centimetre."""

READ_LENGTH_SD_M = 0.02
"""The same for a length [m]: a judgement."""

HAND_SD_SHARE = 0.05
"""What all logs taped by one hand are off by together, one standard deviation [of the volume]: where the tape is laid,
how swellings and flats are judged. Common practice, no source."""

END_TOLERANCE = 1.10
"""A mid diameter may pass the larger end or fall short of the smaller by a tenth: swellings and flats."""


@dataclass(frozen=True)
class LogErrors:
    """What the volume of a log, or of many, may be off by [m³].

    Attributes
    ----------
    below, above
        By its formula, and by rot judged at the cut: from the volume to the 10th and to the 90th percentile.
    read_sd
        By reading the tape, each log for itself; one standard deviation.
    hand_sd
        By the hand, all logs alike; one standard deviation.
    bark_sd
        By the bark taken off, all logs alike; one standard deviation.
    """

    below: float = 0.0
    above: float = 0.0
    read_sd: float = 0.0
    hand_sd: float = 0.0
    bark_sd: float = 0.0

    def about(self, volume_m3: float) -> Spread:
        """The volume with its 10th and 90th percentile."""
        rest = TO_10_90 * math.hypot(self.read_sd, self.hand_sd, self.bark_sd)
        low = max(0.0, volume_m3 - math.hypot(self.below, rest))
        return Spread(low, volume_m3, volume_m3 + math.hypot(self.above, rest))


@dataclass(frozen=True)
class LogVolume:
    """Volume of a log.

    Attributes
    ----------
    formula
        Which was used: huber (mid only), smalian (both ends), newton (both ends and mid).
    volume_m3
        Solid wood; inside bark if a bark thickness was given or the diameters were taken inside bark [m³].
    errors
        What it may be off by, part by part.
    """

    formula: Formula
    volume_m3: float
    errors: LogErrors

    @property
    def spread_m3(self) -> Spread:
        """10th percentile, volume, 90th percentile, from formula, tape, hand and bark together [m³]."""
        return self.errors.about(self.volume_m3)


def circle_m2(diameter_m: float) -> float:
    """Area of a round cut [m²]."""
    return math.pi / 4.0 * diameter_m * diameter_m


def huber_m3(length_m: float, mid_d_m: float) -> float:
    """Length times the area at mid length [m³]. Exact for a cylinder and a paraboloid."""
    return length_m * circle_m2(mid_d_m)


def smalian_m3(length_m: float, small_d_m: float, large_d_m: float) -> float:
    """Length times the mean area of the ends [m³]. Exact for a cylinder and a paraboloid."""
    return length_m * (circle_m2(small_d_m) + circle_m2(large_d_m)) / 2.0


def newton_m3(length_m: float, small_d_m: float, mid_d_m: float, large_d_m: float) -> float:
    """Length times (large + 4 mid + small area)/6 [m³]. Exact for cylinder, paraboloid, cone and neiloid."""
    return length_m * (circle_m2(large_d_m) + 4.0 * circle_m2(mid_d_m) + circle_m2(small_d_m)) / 6.0


def cone_frustum_m3(length_m: float, small_d_m: float, large_d_m: float) -> float:
    """A cut cone [m³]: length/3 times (small + geometric mean + large area)."""
    small, large = circle_m2(small_d_m), circle_m2(large_d_m)
    return length_m / 3.0 * (small + math.sqrt(small * large) + large)


def neiloid_frustum_m3(length_m: float, small_d_m: float, large_d_m: float) -> float:
    """A cut neiloid, as a flaring butt [m³]."""
    small, large = circle_m2(small_d_m), circle_m2(large_d_m)
    return (
        length_m / 4.0 * (small + float(np.cbrt(small**2 * large)) + float(np.cbrt(small * large**2)) + large)
    )


def log_volume(
    length_m: float,
    *,
    mid_d_m: float | None = None,
    small_d_m: float | None = None,
    large_d_m: float | None = None,
    bark_thickness_m: float = 0.0,
    bark_sd_share: float = BARK_VOLUME_SD,
) -> LogVolume:
    """Volume of a log by what was measured: Huber from the mid, Smalian from the ends, Newton from all three.

    Parameters
    ----------
    length_m
        Length [m].
    mid_d_m, small_d_m, large_d_m
        Diameters at mid length, at the small and at the large end [m].
    bark_thickness_m
        Thickness of the bark on one side [m], taken off every diameter twice; 0 if measured inside bark.
    bark_sd_share
        How far the bark's volume may be off, one standard deviation [of itself].

    Raises
    ------
    InputError
        For the field length, mid, ends or bark_thickness: not a size, too large to be one, one end without the
        other, a large end smaller than the small end, a mid outside the ends, bark as thick as the log.
    """
    length = within("length", length_m, LOG_LENGTH_M)
    bark = within("bark_thickness", bark_thickness_m, BARK_THICKNESS_M)
    mid = None if mid_d_m is None else _inside("mid", mid_d_m, bark)
    if (small_d_m is None) != (large_d_m is None):
        raise InputError(
            "ends",
            wanted=T_("the diameters of both ends"),
            got=T_("one end"),
            next_move=T_("Give both ends, or only the diameter at mid length."),
        )
    if small_d_m is None or large_d_m is None:
        if mid is None:
            raise InputError(
                "mid",
                wanted=T_("a diameter at mid length or of both ends"),
                got=T_("none"),
                next_move=T_("Measure the log at half its length."),
            )
        return _volume("huber", length, (mid,), bark, bark_sd_share)
    small, large = _inside("ends", small_d_m, bark), _inside("ends", large_d_m, bark)
    if large < small:
        raise InputError(
            "ends",
            wanted=T_(
                "a large end at least as thick as the small end ({small})", small=Quantity(small_d_m, "size")
            ),
            got=Quantity(large_d_m, "size"),
            next_move=T_("Swap the two ends, or measure again."),
        )
    if mid is None:
        return _volume("smalian", length, (small, large), bark, bark_sd_share)
    if not small / END_TOLERANCE <= mid <= large * END_TOLERANCE:
        raise InputError(
            "mid",
            wanted=T_(
                "a diameter at mid length between the ends ({small} to {large})",
                small=Quantity(small_d_m, "size"),
                large=Quantity(large_d_m, "size"),
            ),
            got=Quantity(mid_d_m or 0.0, "size"),
            next_move=T_("Measure again, or leave the odd one out."),
        )
    return _volume("newton", length, (small, mid, large), bark, bark_sd_share)


def _inside(field: str, diameter_m: float, bark_m: float) -> float:
    diameter = within(field, diameter_m, DIAMETER_M)
    if 2.0 * bark_m >= diameter:
        raise InputError(
            "bark_thickness",
            wanted=T_("less than half the diameter of {diameter}", diameter=Quantity(diameter, "size")),
            got=Quantity(bark_m, "size"),
            next_move=T_("Give the thickness of the bark on one side."),
        )
    return diameter - 2.0 * bark_m


_WEIGHTS: dict[Formula, tuple[float, ...]] = {
    "huber": (1.0,),
    "smalian": (1 / 2, 1 / 2),
    "newton": (1 / 6, 4 / 6, 1 / 6),
}
"""What each cut counts for, in the order small end, mid, large end."""


def _volume(
    formula: Formula, length_m: float, cuts_m: tuple[float, ...], bark_m: float, bark_sd_share: float
) -> LogVolume:
    """The volume from the diameters inside bark, with what it may be off by."""
    weights = _WEIGHTS[formula]
    volume = length_m * math.fsum(w * circle_m2(d) for w, d in zip(weights, cuts_m, strict=True))
    outside = length_m * math.fsum(
        w * circle_m2(d + 2.0 * bark_m) for w, d in zip(weights, cuts_m, strict=True)
    )
    # An area grows by π/2 d for each metre of its diameter.
    by_diameters = [
        length_m * w * math.pi / 2.0 * d * READ_D_SD_M for w, d in zip(weights, cuts_m, strict=True)
    ]
    below, above = ERROR_OF_FORMULA[formula]
    return LogVolume(
        formula,
        volume,
        LogErrors(
            below=-volume * below,
            above=volume * above,
            read_sd=math.hypot(*by_diameters, volume * READ_LENGTH_SD_M / length_m),
            hand_sd=volume * HAND_SD_SHARE,
            bark_sd=bark_sd_share * (outside - volume),
        ),
    )
