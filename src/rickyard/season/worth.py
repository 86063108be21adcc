"""What a measurement would be worth, before it is taken.

For every outcome that the members hold possible they are weighed by how well each fits it, and the odds of
the promises that hang on the stack are counted anew (preposterior analysis: Raiffa and Schlaifer 1961, Applied
Statistical Decision Theory, from memory). A promise kept that turns out wet costs more than one given up that
would have been dry; a measurement is worth what it takes off the expected cost. No model is run: the kept
moistures of the members are enough.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Odds from which on a promise is kept; a broken promise then costs 0.8 / 0.2 = 4 times one needlessly refused.
GOOD_ODDS, POOR_ODDS = 0.80, 0.20
# Outcomes about each member: error of the measurement in standard deviations, and their weights (Gauss-Hermite).
_NODES, _SHARES = np.polynomial.hermite_e.hermegauss(5)
_SHARES = _SHARES / _SHARES.sum()


@dataclass(frozen=True)
class Question:
    """Something promised, or to be promised: `dry` says for each member whether all its wood is dry by then."""

    dry: NDArray[np.bool_]
    volume_m3: float


@dataclass(frozen=True)
class Worth:
    """What a measurement would do.

    `saved_m3`: expected cost taken off, in volume of broken promises. `clear_now` and `clear_then`: share of
    the volume whose odds give a plain answer (good or poor), now and as expected after the measurement.
    `sd_share`: spread of what is measured over its error; below 1 nothing much is learnt.
    """

    saved_m3: float
    clear_now: float
    clear_then: float
    sd_share: float


def worth(predicted: Floats, sd: float, questions: Sequence[Question]) -> Worth:
    """Worth of measuring something of which each member predicts `predicted` [members], with an error of `sd`.

    A member that plays the truth is left out of those that judge it, so that the few members do not seem to
    know more than they do.
    """
    predicted = np.asarray(predicted, dtype=np.float64)
    members = len(predicted)
    sd_share = float(predicted.std() / sd)
    if not questions or members < 3:
        return Worth(0.0, 0.0, 0.0, sd_share)
    dry = np.stack([question.dry for question in questions], axis=1).astype(np.float64)
    volume = np.array([question.volume_m3 for question in questions])
    after = np.zeros(len(questions))
    mean_odds = np.zeros(len(questions))
    clear = np.zeros(len(questions))
    for node, share in zip(_NODES, _SHARES, strict=True):
        outcome = predicted + sd * node
        far = ((outcome[:, None] - predicted[None, :]) / sd) ** 2
        np.fill_diagonal(far, np.inf)
        weights = np.exp(-0.5 * (far - far.min(axis=1, keepdims=True)))
        weights /= weights.sum(axis=1, keepdims=True)
        odds = weights @ dry
        after += share * _cost(odds).mean(axis=0)
        mean_odds += share * odds.mean(axis=0)
        clear += share * ((odds >= GOOD_ODDS) | (odds <= POOR_ODDS)).mean(axis=0)
    # Against the mean of the same odds, so that knowing more never seems to cost anything.
    saved = np.maximum(_cost(mean_odds) - after, 0.0)
    now = dry.mean(axis=0)
    total = float(volume.sum())
    return Worth(
        saved_m3=float(saved @ volume),
        clear_now=float(((now >= GOOD_ODDS) | (now <= POOR_ODDS)) @ volume) / total,
        clear_then=float(clear @ volume) / total,
        sd_share=sd_share,
    )


def _cost(odds: Floats) -> Floats:
    """Expected cost of the better choice, where a broken promise costs 1."""
    needless = (1.0 - GOOD_ODDS) / GOOD_ODDS
    return np.asarray(np.minimum(1.0 - odds, needless * odds))
