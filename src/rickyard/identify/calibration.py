"""How far the stated probabilities can be trusted, and one exponent that puts them right.

The exponent is fitted from the yard's own confirmed records only, never from a test set: it makes the confirmed
species as likely as it can, drawn towards 1 as if by `PULL_SD` (standard deviation of its logarithm), so that
a handful of records moves it little.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import logsumexp

from rickyard.errors import UnknownNameError
from rickyard.identify.answers import Answer
from rickyard.identify.posterior import FLAT, Prior, posterior
from rickyard.identify.tables import Bools, Floats, Key
from rickyard.text import T_

LEAST_EXPONENT, MOST_EXPONENT = 0.2, 4.0
PULL_SD = 0.5
BINS = 10
LEAST_RECORDS = 50
"""Confirmed records below which the yard keeps an exponent of 1. Of simulated users' records, exponents fitted to 30
scattered by 0.18 in their logarithm and one in five did worse than 1 on fresh records; to 50, by 0.11, and none did."""


@dataclass(frozen=True)
class Confirmed:
    """A record that the yard has confirmed: what was answered, and the tree that it was (short id)."""

    answers: tuple[Answer, ...]
    key_id: str
    prior: Prior = FLAT


@dataclass(frozen=True)
class ReliabilityBin:
    """Queries whose leading species had a probability from `low` to `high`: what was said, and how often it was so."""

    low: float
    high: float
    count: int
    stated: float
    right: float


def fit_exponent(key: Key, records: Iterable[Confirmed]) -> float:
    """The exponent under which the confirmed species are likeliest; 1 without records.

    Raises UnknownNameError for a species that the key does not have.
    """
    records = tuple(records)
    for record in records:
        if record.key_id not in key.species_at:
            raise UnknownNameError(
                "species", wanted=T_("a species of the key"), got=record.key_id, nearest=()
            )
    if not records:
        return 1.0
    told = [_told(key, record) for record in records]

    def cost(log_exponent: float) -> float:
        exponent = math.exp(log_exponent)
        loss = 0.5 * (log_exponent / PULL_SD) ** 2
        for start, moved, mine in told:
            logs = start + exponent * moved
            loss += float(logsumexp(logs) - logsumexp(logs[mine]))
        return loss

    found = minimize_scalar(
        cost, bounds=(math.log(LEAST_EXPONENT), math.log(MOST_EXPONENT)), method="bounded"
    )
    return math.exp(float(found.x))


def yard_exponent(key: Key, records: Sequence[Confirmed]) -> float:
    """The yard's exponent: fitted once it has `LEAST_RECORDS` confirmed records, 1 before."""
    return fit_exponent(key, records) if len(records) >= LEAST_RECORDS else 1.0


def _told(key: Key, record: Confirmed) -> tuple[Floats, Floats, Bools]:
    """Log prior and log likelihood of every hypothesis that has a prior (but for a constant), and which are right.

    With these an exponent costs one sum.
    """
    before, after = (posterior(key, answers, record.prior) for answers in ((), record.answers))
    start = np.append(before.rows, before.not_listed)
    moved = np.append(after.rows, after.not_listed)
    mine = np.append(key.species_of == key.species_at[record.key_id], False)
    has = start > 0.0
    return np.log(start[has]), np.log(moved[has] / start[has]), mine[has]


def reliability(cases: Iterable[tuple[float, bool]], bins: int = BINS) -> list[ReliabilityBin]:
    """The reliability table of (probability stated, whether it was so), in bins of equal width; empty ones are out."""
    edges = np.linspace(0.0, 1.0, bins + 1)
    grouped: list[list[tuple[float, bool]]] = [[] for _ in range(bins)]
    for stated, right in cases:
        grouped[min(int(stated * bins), bins - 1)].append((stated, right))
    return [
        ReliabilityBin(
            float(edges[place]),
            float(edges[place + 1]),
            len(group),
            float(np.mean([stated for stated, _ in group])),
            float(np.mean([right for _, right in group])),
        )
        for place, group in enumerate(grouped)
        if group
    ]


def calibration_error(table: Sequence[ReliabilityBin]) -> float:
    """Expected calibration error: mean distance between stated and right, weighted by count."""
    whole = sum(item.count for item in table)
    return sum(item.count * abs(item.stated - item.right) for item in table) / whole if whole else 0.0
