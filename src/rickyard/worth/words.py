"""What the kinds of cost and the uncertain inputs are called, and what drives a range in a plain sentence."""

from __future__ import annotations

from rickyard.text import T_, Text
from rickyard.worth.costs import STEPS, step_words
from rickyard.worth.reckon import Driver, Worth

TELLING = 0.10
"""Share of the variance from which on an input is named."""


def cost_words(kind: str) -> Text:
    """What a part of the cost is called."""
    if kind in STEPS:
        return T_("wages: {step}", step=step_words(kind))
    return {
        "machine": T_("saw and splitter"),
        "fuel": T_("fuel"),
        "haul": T_("bringing it here"),
        "vehicle": T_("delivery vehicle"),
        "space": T_("space in the yard"),
        "waiting": T_("money tied up"),
        "metal": T_("metal in the wood"),
    }[kind]


def driver_words(name: str) -> Text:
    """What an uncertain input is called."""
    if name in STEPS:
        return T_("hours of {step}", step=step_words(name))
    return {
        "quantity": T_("how much wood it is"),
        "solid": T_("how tight it stacks"),
        "loss": T_("splinters, ends and handling"),
        "rot": T_("how much is rotten"),
        "price": T_("prices by the time it is sold"),
        "months": T_("months until it is sold"),
        "fuel": T_("fuel used"),
        "metal": T_("metal met by the saw"),
    }[name]


def next_look(name: str) -> Text | None:
    """What would narrow the range, where something can be done."""
    if name in STEPS:
        return T_("Time it a few times, and note the hours.")
    return {
        "quantity": T_("Tape a few logs, or have it weighed."),
        "solid": T_("The yard's own stacks will tell; measure them."),
        "rot": T_("Look at the ends of more logs."),
        "metal": T_("Ask where the trees stood."),
    }.get(name)


def main_drivers(worth: Worth) -> tuple[Driver, ...]:
    """Those worth naming: the first, and every other from a tenth of the variance on."""
    return tuple(one for at, one in enumerate(worth.drivers) if at == 0 or one.share >= TELLING)[:4]
