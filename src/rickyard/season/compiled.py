"""How functions are compiled: numba, its result kept on disk where that is possible.

numba keeps compiled code beside the module, or in the user's cache folder when the package folder
cannot be written. Where neither can be written it refuses to compile at all; then we compile without
keeping, which costs a few seconds at every start.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numba


def compiled(function: Callable[..., Any]) -> Callable[..., Any]:
    """The function, to be compiled at its first call (single thread, lock released, no bounds checks)."""
    options: dict[str, Any] = {
        "nogil": True,
        "fastmath": {"nnan", "ninf", "nsz", "arcp", "contract", "afn", "reassoc"},
        "error_model": "numpy",
        "boundscheck": False,
    }
    try:
        made = numba.njit(cache=True, **options)(function)
    except RuntimeError:  # numba: "cannot cache function: no locator available"
        made = numba.njit(**options)(function)
    return made  # type: ignore[no-any-return]
