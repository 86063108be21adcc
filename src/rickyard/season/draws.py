"""Random numbers of the members: the same for the same keys, in whatever order they are asked for.

Member j of one stack and member j of another share what is keyed alike (the species) and nothing else.
Within a key the members are spread evenly: blocks of 64 points of a scrambled Sobol sequence, shuffled
inside each block by the key, so that two keys are independent and 64 members cover what 200 plain
random ones would. Member j does not depend on how many members are asked for.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import qmc

BLOCK = 64


def key_number(*key: object) -> int:
    """A 128-bit number from a key: the same in every process (unlike Python's own hash)."""
    text = "\x1f".join(str(part) for part in key)
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=16).digest(), "big")


def normal_draws(key: Sequence[object], members: int, dimensions: int) -> NDArray[np.float64]:
    """Standard normal draws, shape (members, dimensions)."""
    blocks = []
    for block in range(-(-members // BLOCK)):
        rng = np.random.Generator(np.random.Philox(key_number(*key, block)))
        points = qmc.Sobol(dimensions, scramble=True, rng=rng).random(BLOCK)
        blocks.append(points[rng.permutation(BLOCK)])
    even = np.concatenate(blocks)[:members]
    return np.asarray(ndtri(np.clip(even, 1e-9, 1.0 - 1e-9)), dtype=np.float64)
