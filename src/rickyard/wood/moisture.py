"""The two bases of moisture, and what wood weighs when it gains or loses water.

Dry basis `mc_db` is water / oven-dry mass, wet basis `mc_wet` is water / total mass, both fractions:
20 % wet basis is 25 % dry basis.
"""

from __future__ import annotations

from typing import overload

import numpy as np

from rickyard.wood.numbers import FloatOrArray, Floats, checked

WETTEST_DB = 5.0
"""A limit for nonsense [water / oven-dry mass]: the lightest wood in the table takes 2.9 when full of water."""

ROUNDING = 1e-9
"""What a weighing to the last bone-dry gram may fall below zero by, from rounding alone."""

WETTEST_WET = WETTEST_DB / (1.0 + WETTEST_DB)
"""The same limit as water / total mass."""


def wet_from_db(mc_db: FloatOrArray) -> FloatOrArray:
    """Wet-basis moisture [water / total mass] from dry-basis [water / oven-dry mass]; floats or arrays.

    Raises InputError outside 0 to 5.
    """
    db = checked(mc_db, "mc_db", 0.0, WETTEST_DB)
    return db / (1.0 + db)


def db_from_wet(mc_wet: FloatOrArray) -> FloatOrArray:
    """Dry-basis moisture [water / oven-dry mass] from wet-basis [water / total mass]; floats or arrays.

    Raises InputError outside 0 to 0.833.
    """
    wet = checked(mc_wet, "mc_wet", 0.0, WETTEST_WET)
    return wet / (1.0 - wet)


@overload
def mass_lost_share(from_mc_db: float, to_mc_db: float) -> float: ...
@overload
def mass_lost_share(from_mc_db: Floats, to_mc_db: float | Floats) -> Floats: ...
@overload
def mass_lost_share(from_mc_db: float, to_mc_db: Floats) -> Floats: ...
def mass_lost_share(from_mc_db: float | Floats, to_mc_db: float | Floats) -> float | Floats:
    """Share of the total mass that leaves as wood dries from one moisture to another [fraction].

    Negative when it gets wetter.
    Both moistures are water / oven-dry mass and broadcast.
    Source: Wood Handbook's definition of moisture; mass lost = (x1 - x2)/(100 + x1).
    """
    start = checked(from_mc_db, "from_mc_db", 0.0, WETTEST_DB)
    end = checked(to_mc_db, "to_mc_db", 0.0, WETTEST_DB)
    return (start - end) / (1.0 + start)


@overload
def mc_db_after_weighing(mc_db: float, mass_ratio: float) -> float: ...
@overload
def mc_db_after_weighing(mc_db: Floats, mass_ratio: float | Floats) -> Floats: ...
@overload
def mc_db_after_weighing(mc_db: float, mass_ratio: Floats) -> Floats: ...
def mc_db_after_weighing(mc_db: float | Floats, mass_ratio: float | Floats) -> float | Floats:
    """Moisture of wood that now weighs `mass_ratio` times what it weighed at `mc_db` [water / oven-dry mass].

    The dry mass is unchanged.
    Raises InputError if the ratio leaves less than the dry mass.
    """
    start = checked(mc_db, "mc_db", 0.0, WETTEST_DB)
    ratio = checked(mass_ratio, "mass_ratio", 0.0, 1.0 + WETTEST_DB)
    after = checked((1.0 + start) * ratio - 1.0, "mass_ratio", -ROUNDING, WETTEST_DB)
    return max(after, 0.0) if isinstance(after, float) else np.maximum(after, 0.0)
