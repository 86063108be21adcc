"""The key as packaged, and a short way to ask it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from rickyard.identify import Key, Posterior, Prior, posterior, read_answer, the_key


@pytest.fixture(scope="session")
def key() -> Key:
    return the_key()


@pytest.fixture(scope="session")
def ask(key: Key) -> Callable[..., Posterior]:
    """Answers as typed, a prior by its parts."""

    def ask(*texts: str, exponent: float = 1.0, **prior: Any) -> Posterior:
        return posterior(key, [read_answer(key, text) for text in texts], Prior(**prior), exponent=exponent)

    return ask


@pytest.fixture(scope="session")
def of(key: Key) -> Callable[[Posterior, str], float]:
    """Probability of a species by its short id."""

    def of(post: Posterior, key_id: str) -> float:
        return float(post.species[key.species_at[key_id]])

    return of
