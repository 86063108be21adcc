"""What the demo's people saw of trees: careful answers, now and then a slip, and most confirmed in the next summer."""

from __future__ import annotations

import random
from datetime import date, timedelta

from rickyard.desk.seen import Seen
from rickyard.identify import Answer, Prior, next_looks, posterior, the_key

REGION = "NE"
SITUATIONS = ("log", "lens")
MOST_ANSWERS = 4
SLIP = 0.1
CONFIRMED_AFTER = timedelta(days=150)


def seen_of(wood_id: str, number: int) -> Seen:
    """What somebody answers who has a log and a cut end of this wood in hand; `number` makes each its own."""
    key = the_key()
    tree = key.named(wood_id)
    dice = random.Random(number)
    answers: list[Answer] = []
    while tree is not None and len(answers) < MOST_ANSWERS:
        post = posterior(key, answers, Prior(region=REGION))
        looks = next_looks(post, SITUATIONS)
        if not looks:
            break
        character = looks[0].character
        usual = key.p[key.species_at[tree.key_id], key.span[character.id]]
        slip = dice.random() < SLIP
        state = dice.choice(character.states) if slip else character.states[int(usual.argmax())]
        answers.append(Answer(character.id, (state,), 0.3 if dice.random() < SLIP else 0.0))
    return Seen(answers=tuple(answers), situations=SITUATIONS, region=REGION)


def confirmed_on(day: date) -> date:
    """When the tree of a load of that day is known for sure."""
    return day + CONFIRMED_AFTER
