"""A figure with its spread: 10th percentile, middle, 90th percentile."""

from __future__ import annotations

from dataclasses import dataclass

TO_10_90 = 1.2815515655446004
"""From one standard deviation to the 10th and 90th percentile of a normal distribution."""


@dataclass(frozen=True)
class Spread:
    """`low` and `high` are the 10th and 90th percentile, `mid` the best estimate; all in the unit of the figure."""

    low: float
    mid: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.mid <= self.high:
            raise ValueError(f"a spread must rise: {self.low}, {self.mid}, {self.high}")

    @classmethod
    def normal(cls, mid: float, sd: float) -> Spread:
        """From a middle and one standard deviation of a bell curve."""
        return cls(mid - TO_10_90 * sd, mid, mid + TO_10_90 * sd)

    @classmethod
    def exactly(cls, value: float) -> Spread:
        """A figure without doubt."""
        return cls(value, value, value)

    def scaled(self, factor: float) -> Spread:
        """Every figure times a positive factor, such as a change of unit."""
        return Spread(self.low * factor, self.mid * factor, self.high * factor)

    def into(self, whole: float) -> Spread:
        """`whole` divided by the figure: a share becomes the outside volume of so much solid wood."""
        return Spread(whole / self.high, whole / self.mid, whole / self.low)
