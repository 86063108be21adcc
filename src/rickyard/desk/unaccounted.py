"""Stacks that stand there although the book does not see how: of a used-up load, too large, of a name that is taken.

They are in the yard, so they are in the book; a clash says what does not fit, and somebody looks.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Mapping, Sequence

from sqlalchemy import select

from rickyard.book import StockKey
from rickyard.book.models import Load, Stack
from rickyard.desk.clashes import raise_clash
from rickyard.desk.context import Stage
from rickyard.desk.loads import came_in
from rickyard.desk.spreads import TENTH
from rickyard.text import T_
from rickyard.wood import UNNAMED, get_species

LONGEST_NAME = 40


def free_name(stage: Stage, name: str) -> str:
    """The name, or the name with the first number behind it that no stack of the yard has."""
    taken = set(stage.session.scalars(select(Stack.name).where(Stack.yard_id == stage.yard.id)))
    numbered = (f" ({number})" for number in itertools.count(2))
    others = (name[: LONGEST_NAME - len(suffix)] + suffix for suffix in numbered)
    return next(free for free in itertools.chain((name,), others) if free not in taken)


def name_was_taken(stage: Stage, stack: Stack, name: str) -> int:
    text = T_(
        "Another stack is called {name} already, so this one is {new} in the book. Write that on its board. If it is "
        "the same stack, entered twice, close this one.",
        name=name,
        new=stack.name,
    )
    return raise_clash(stage, "stack", stack.id, "name_taken", text)


def kinds_of_used_up(stage: Stage, loads: Sequence[Load], form: str) -> dict[StockKey, int]:
    """The kinds of wood that these loads brought, by their masses, as pieces of a form; one without a name if none."""
    came = came_in(stage.session, stage.yard.id, [load.spot_id for load in loads])
    kinds: dict[StockKey, int] = defaultdict(int)
    for held in came.values():
        for key, grams in held.items():
            if key.form != "bark" and grams > 0:
                kinds[StockKey(key.species_id, form, key.lot_id)] += grams
    return dict(kinds) or {StockKey(UNNAMED.id, form, loads[0].lot_id): 1}


def missing_grams(kinds: Mapping[StockKey, int], solid_m3: float) -> int:
    """The oven-dry mass of so much solid wood, mixed as these kinds are by their masses; none below zero."""
    grams = sum(kinds.values())
    volume = sum(part / 1000 / get_species(key.species_id).basic_density_kg_m3 for key, part in kinds.items())
    return max(0, round(grams * solid_m3 / volume))


def made_of_used_up(stage: Stage, stack: Stack, load: Load) -> int:
    text = T_(
        "Stack {name} was made from load {number}, of which by the book nothing was left. Wood that no other load gave "
        "is counted by the measure of the stack, in the kinds of that load. Look whether another load was meant, or "
        "whether this one was larger than measured.",
        name=stack.name,
        number=load.number,
    )
    return raise_clash(stage, "stack", stack.id, "load_used_up", text)


def larger_than_logs(
    stage: Stage, stack: Stack, outside_m3: float, solid_m3: float, sd_share: float, least: float
) -> int:
    text = T_(
        "Stack {name} measured {outside:.1f} m³ when it was stacked, but its logs fill at most {most:.1f} m³. The book "
        "follows the measure. Look whether wood of other loads went into it; a size that was wrong is put right by "
        "entering it again for the same day.",
        name=stack.name,
        outside=outside_m3,
        most=solid_m3 * (1 + TENTH * sd_share) / least,
    )
    return raise_clash(stage, "stack", stack.id, "larger_than_wood", text)
