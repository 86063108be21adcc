"""Two people editing the same thing: the second is told that it changed, and nothing of either is lost.

A form that changes something carries `seen`, a short digest of what it was filled with. If the book says something
else by the time it comes back, it is not written.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from rickyard.errors import ClashError
from rickyard.text import T_


def state_of(facts: Mapping[str, object]) -> str:
    """A digest of facts (texts, numbers, booleans, lists of them), the same whatever their order."""
    text = json.dumps(dict(facts), sort_keys=True, ensure_ascii=False, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def plain_facts(facts: Any) -> dict[str, object]:
    """A frozen dataclass of facts (with days, and others within) as `state_of` takes it."""
    return json.loads(json.dumps(asdict(facts), default=str, allow_nan=False))  # type: ignore[no-any-return]


def must_be_as_seen(seen: str, facts: Mapping[str, object]) -> None:
    """Raises ClashError (`changed_meanwhile`) if the facts are not those of the digest; "" is not asked."""
    if seen and seen != state_of(facts):
        raise ClashError(
            T_(
                "Somebody changed this while you were typing. Nothing was written, and what you typed stands here. "
                "Where the book says something else now, it stands under the field: save again to keep yours."
            ),
            code="changed_meanwhile",
        )
