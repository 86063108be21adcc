"""The moisture that wood comes to in still air, and the air that keeps a moisture.

Three published curves stand side by side behind `emc_db` and `rh_at_emc`:

- `simpson_f`: Simpson 1973, Hailwood-Horrobin two-hydrate fit, coefficients for degrees Fahrenheit.
  It is the curve behind the Wood Handbook's table, which it gives back within 0.07 point; the default.
- `simpson_c`: the same fit with the coefficients printed for degrees Celsius; within 0.013 point of the first.
- `glass`: Glass, Zelinka and Johnson 2014. Close to the others at 20 to 25 °C, wetter in the cold.

All are mean curves.
Wood drying from green holds more than wood wetting, heartwood rich in extractives holds less in damp air.
In the cold the two families part by 1 to 3 points, and which is right is not known: see `emc_range_db`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, overload

import numpy as np

from rickyard.wood.moisture import WETTEST_DB
from rickyard.wood.numbers import FloatOrArray, Floats, checked

Curve = Literal["simpson_f", "simpson_c", "glass"]

FIBRE_SATURATION_DB = 0.30
"""Mean over species at room temperature [water / oven-dry mass]. Wood Handbook 2010, p. 4-2."""

FIBRE_SATURATION_PER_K = -0.001
"""Change of fibre saturation with temperature [1/K]; reference 20 °C. From memory, no source read."""

RH_FIT = 0.99
"""The fits hold for relative humidity up to about here [fraction]."""

COLDEST_C, HOTTEST_C = -70.0, 100.0
"""Air temperatures that are taken [°C]; the Wood Handbook's table runs from -1 to 93 °C."""

COLDEST_FIT_C = -30.0
"""Below this the fits are held at their value here [°C]: one of their coefficients changes sign at -37 °C."""

# Hailwood-Horrobin coefficients of 1, T, T² for W, K, K1, K2: Wood Handbook 2021 (FPL-GTR-282) Eq. 4-5,
# after Simpson 1973, Wood and Fiber 5:41.
_HH_F = (
    (330.0, 0.452, 0.00415),
    (0.791, 0.000463, -0.000000844),
    (6.34, 0.000775, -0.0000935),
    (1.09, 0.0284, -0.0000904),
)
_HH_C = (
    (349.0, 1.29, 0.0135),
    (0.805, 0.000736, -0.00000273),
    (6.27, -0.00938, -0.000303),
    (1.91, 0.0407, -0.000293),
)
# Glass, Zelinka and Johnson 2014, FPL-GTR-229; Wood Handbook 2021 Eq. 4-6 and 4-7.
_GLASS_A, _GLASS_B, _GLASS_C, _GLASS_D, _CRITICAL_K = -0.000612, 2.43, 0.0577, 0.430, 647.1


def fibre_saturation_db(temp_c: FloatOrArray, *, at_20_c: float = FIBRE_SATURATION_DB) -> FloatOrArray:
    """Moisture at which cell walls are full and cells empty [water / oven-dry mass].

    Parameters
    ----------
    temp_c
        Temperature of the wood [°C], any shape.
    at_20_c
        The species' value at 20 °C [water / oven-dry mass].
    """
    temp = checked(temp_c, "temp_c", COLDEST_C, HOTTEST_C)
    return at_20_c + FIBRE_SATURATION_PER_K * (temp - 20.0)


@overload
def emc_db(rh: float, temp_c: float, *, curve: Curve = "simpson_f") -> float: ...
@overload
def emc_db(rh: Floats, temp_c: float | Floats, *, curve: Curve = "simpson_f") -> Floats: ...
@overload
def emc_db(rh: float, temp_c: Floats, *, curve: Curve = "simpson_f") -> Floats: ...
def emc_db(rh: float | Floats, temp_c: float | Floats, *, curve: Curve = "simpson_f") -> float | Floats:
    """Equilibrium moisture of wood in air [water / oven-dry mass].

    Parameters
    ----------
    rh
        Relative humidity [fraction, 0 to 1].
    temp_c
        Temperature [°C]. Both broadcast.
    curve
        Which published curve; see the module.

    Raises InputError outside 0 to 1 and -70 to 100 °C.

    Notes
    -----
    Departs from the sources above 99 % relative humidity, where the fits end: from there a straight line leads
    to fibre saturation at 100 %, so that the curve stays continuous and rising and can be inverted.
    """
    humid = np.asarray(checked(rh, "rh", 0.0, 1.0), dtype=float)
    temp = np.maximum(checked(temp_c, "temp_c", COLDEST_C, HOTTEST_C), COLDEST_FIT_C)
    fitted = _CURVES[curve](np.minimum(humid, RH_FIT), temp)
    top = _saturated(temp, _CURVES[curve](np.asarray(RH_FIT), temp))
    result = fitted + np.maximum(humid - RH_FIT, 0.0) / (1.0 - RH_FIT) * (top - fitted)
    return float(result) if np.ndim(result) == 0 else result


@overload
def rh_at_emc(mc_db: float, temp_c: float, *, curve: Curve = "simpson_f") -> float: ...
@overload
def rh_at_emc(mc_db: Floats, temp_c: float | Floats, *, curve: Curve = "simpson_f") -> Floats: ...
@overload
def rh_at_emc(mc_db: float, temp_c: Floats, *, curve: Curve = "simpson_f") -> Floats: ...
def rh_at_emc(mc_db: float | Floats, temp_c: float | Floats, *, curve: Curve = "simpson_f") -> float | Floats:
    """Relative humidity [fraction] of the air that neither dries nor wets wood of this moisture.

    The inverse of `emc_db`, 1 at and above fibre saturation.
    `mc_db` [water / oven-dry mass] and `temp_c` [°C] broadcast.
    Raises InputError outside 0 to 5 and -70 to 100 °C.
    """
    wood = np.asarray(checked(mc_db, "mc_db", 0.0, WETTEST_DB), dtype=float)
    temp = np.maximum(checked(temp_c, "temp_c", COLDEST_C, HOTTEST_C), COLDEST_FIT_C)
    wood, temp = np.broadcast_arrays(wood, temp)
    forward = _CURVES[curve]
    end = forward(np.asarray(RH_FIT), temp)
    top = _saturated(temp, end)
    inside = np.minimum(wood, end)
    if curve == "glass":
        fitted = _glass_inverse(inside, temp)
    else:
        fitted = _bisect(forward, inside, temp)
    beyond = np.clip((wood - end) / (top - end), 0.0, 1.0)
    result = np.where(wood > end, RH_FIT + (1.0 - RH_FIT) * beyond, fitted)
    return float(result) if result.ndim == 0 else result


def emc_range_db(rh: float | Floats, temp_c: float | Floats) -> tuple[Floats, Floats]:
    """Lower and upper equilibrium moisture [water / oven-dry mass] where the published curves part.

    They agree within about half a point at 20 to 25 °C; at -10 °C and 80 % they stand 2.6 points apart.
    """
    simpson = np.asarray(emc_db(rh, temp_c))
    glass = np.asarray(emc_db(rh, temp_c, curve="glass"))
    return np.minimum(simpson, glass), np.maximum(simpson, glass)


def _hailwood_horrobin(
    humid: Floats, temp: Floats, coefficients: tuple[tuple[float, float, float], ...]
) -> Floats:
    """Wood Handbook 2021 Eq. 4-5 [water / oven-dry mass]; `temp` in the unit of the coefficients."""
    W, K, K1, K2 = (a + b * temp + c * temp * temp for a, b, c in coefficients)
    y = K * humid
    hydrates = K1 * y + 2.0 * K1 * K2 * y * y
    result: Floats = 18.0 / W * (y / (1.0 - y) + hydrates / (1.0 + K1 * y + K1 * K2 * y * y))
    return result


def _simpson_f(humid: Floats, temp_c: Floats) -> Floats:
    return _hailwood_horrobin(humid, temp_c * 1.8 + 32.0, _HH_F)


def _simpson_c(humid: Floats, temp_c: Floats) -> Floats:
    return _hailwood_horrobin(humid, temp_c, _HH_C)


def _glass(humid: Floats, temp_c: Floats) -> Floats:
    kelvin = temp_c + 273.15
    scale = _GLASS_A * kelvin * (1.0 - kelvin / _CRITICAL_K) ** _GLASS_B
    result: Floats = (scale * np.log1p(-humid)) ** (_GLASS_C * kelvin**_GLASS_D)
    return result


def _glass_inverse(wood: Floats, temp_c: Floats) -> Floats:
    kelvin = temp_c + 273.15
    scale = _GLASS_A * kelvin * (1.0 - kelvin / _CRITICAL_K) ** _GLASS_B
    result: Floats = -np.expm1(wood ** (1.0 / (_GLASS_C * kelvin**_GLASS_D)) / scale)
    return result


_CURVES: dict[Curve, Callable[[Floats, Floats], Floats]] = {
    "simpson_f": _simpson_f,
    "simpson_c": _simpson_c,
    "glass": _glass,
}


def _saturated(temp_c: Floats, end: Floats) -> Floats:
    """Moisture at 100 % humidity: fibre saturation, or a little above the fit's end where that is higher."""
    saturation = FIBRE_SATURATION_DB + FIBRE_SATURATION_PER_K * (temp_c - 20.0)
    result: Floats = np.maximum(saturation, end + 0.005)
    return result


def _bisect(forward: Callable[[Floats, Floats], Floats], wood: Floats, temp: Floats) -> Floats:
    """Relative humidity at which a rising curve gives `wood`, to 1e-15; 50 halvings beat a cubic for clarity."""
    low, high = np.zeros_like(wood), np.full_like(wood, RH_FIT)
    for _ in range(50):
        middle = 0.5 * (low + high)
        under = forward(middle, temp) < wood
        low = np.where(under, middle, low)
        high = np.where(under, high, middle)
    return 0.5 * (low + high)
