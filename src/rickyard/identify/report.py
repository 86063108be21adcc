"""Everything that is said to a query, as plain values: what the command and the API give."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rickyard.identify.looks import next_looks
from rickyard.identify.posterior import Posterior
from rickyard.identify.verdict import by_group, contradictions, look_again, note, verdict


def report(post: Posterior, situations: Sequence[str] = ()) -> dict[str, Any]:
    """The whole ranking, the groups, the verdict, what to look at next and again; sentences in English."""
    key, said = post.key, verdict(post, situations)
    return {
        "ranking": [
            {
                "id": key.species[place].id,
                "key_id": key.species[place].key_id,
                "scientific": key.species[place].scientific,
                "common_en": key.species[place].common_en,
                "probability": float(post.species[place]),
            }
            for place in post.ranking
        ],
        "not_listed": post.not_listed,
        "groups": [{"group": share.name, "probability": share.probability} for share in by_group(post)],
        "verdict": {
            "level": said.level,
            "name": said.name,
            "probability": said.probability,
            "species": [species.id for species in said.species],
            "wood": said.wood.id,
            "advice": str(said.advice) if said.advice else "",
            "stop": said.stop,
        },
        "look_next": [
            {
                "character": look.character.id,
                "question": look.character.question,
                "gain_bits": look.gain_bits,
                "how_to_look": look.character.how_to_look,
                "states": dict(zip(look.character.states, look.character.labels, strict=True)),
                "settles_look_alikes": look.settles,
            }
            for look in next_looks(post, situations)
        ],
        "look_again": [{"character": item.character, "why": str(item.why)} for item in look_again(post)],
        "contradictions": [
            {"characters": list(item.characters), "why": str(item.why)} for item in contradictions(post)
        ],
        "note": note(post),
    }
