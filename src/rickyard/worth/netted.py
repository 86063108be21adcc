"""What a solid cubic metre is worth as each of several wares: by its price, and less what hangs on the choice.

An offer and a cut sheet value the same logs by this, so that what was bought for one plan is not cut by another.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rickyard.measure import Spread, YardFactor
from rickyard.wood import Species
from rickyard.worth.costs import Costs, StepHours, assumed, log_sd_of
from rickyard.worth.wares import CHOICE_INPUTS, CHOICE_STEPS, Months, PricedWare, gross_and_kept, line_of

DRAWS = 2000


@dataclass(frozen=True)
class Netted:
    """Of a solid cubic metre of green pieces without bark [minor units].

    `gross` is what it sells for; `net` that less sawing, splitting, stacking, machine, yard space and waiting. What
    is the same for whatever the wood becomes is not taken off: loading, the way, the wood itself, loss.
    """

    gross: Spread
    net: Spread


def netted(
    wood: Species,
    ware: PricedWare,
    costs: Costs,
    hours: Mapping[str, StepHours],
    months: Months,
    factor: YardFactor,
    *,
    seed: int = 0,
) -> Netted:
    """The middle is reckoned with every input at its own average, the range by drawing them, as for an offer."""
    line = line_of(wood, ware, 1.0, months, factor)
    gross, net = gross_and_kept(line, costs, hours, dict.fromkeys(CHOICE_INPUTS, 1.0))
    sds = {
        "solid": log_sd_of(line.share),
        "price": assumed()["price_year"].log_sd * math.sqrt(line.months.spread.mid / 12.0),
        "months": log_sd_of(line.months.spread),
        **{step: log_sd_of(hours[step].per_cord) for step in CHOICE_STEPS},
    }
    rng = np.random.default_rng(seed)
    drawn = gross_and_kept(
        line,
        costs,
        hours,
        {
            name: np.exp(sds[name] * rng.standard_normal(DRAWS) - sds[name] ** 2 / 2.0)
            for name in CHOICE_INPUTS
        },
    )
    return Netted(_spread(drawn[0], float(gross)), _spread(drawn[1], float(net)))


def of_mix(parts: Sequence[tuple[Netted, float]]) -> Netted:
    """The mean of several woods, each with its volume; their ranges taken to move together."""
    whole = math.fsum(volume for _, volume in parts)

    def mean(name: str) -> Spread:
        low, mid, high = (
            math.fsum(getattr(getattr(one, name), side) * volume for one, volume in parts) / whole
            for side in ("low", "mid", "high")
        )
        return Spread(min(low, mid), mid, max(mid, high))

    return Netted(mean("gross"), mean("net"))


def _spread(drawn: object, mid: float) -> Spread:
    low, high = (float(one) for one in np.percentile(np.asarray(drawn), (10, 90)))
    return Spread(min(low, mid), mid, max(mid, high))
