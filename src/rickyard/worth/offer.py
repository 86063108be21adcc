"""Wood on offer: a rough quantity, a weighed load, a list of logs or standing trees, as solid wood by species.

Volumes are solid wood without bark, green, before the saw.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rickyard.errors import InputError
from rickyard.measure import (
    TO_10_90,
    LogRow,
    Spread,
    log_list_total,
    measure_tree,
    product,
    solid_share,
    weighed_load,
    with_bark_by_species,
)
from rickyard.measure.limits import within
from rickyard.text import T_, Text
from rickyard.wood import Species, get_species

ORIGINS = ("forest", "yard")
"""Where the trees stood: in a forest, or in a street, a garden or a farmyard, where nails and clips are met."""

ROUGH_LOG_SD = 0.20
"""A look at a truck is good to a fifth; common practice, no source."""

TRUCK_LOG_LENGTH_M = 2.4
"""Logs on a truck lie in about this length; solid content changes little with it beyond 2 m."""

SHARED_ERROR = 0.5
"""Share of the error variance of trees that all of them have in common: a judgement, as for logs."""

MOST_TREES = 200
QUANTITY_M3 = (0.0, 5000.0)


@dataclass(frozen=True)
class OfferedTree:
    """Standing trees of one kind and size: diameter at breast height over bark, height if known [m]."""

    species: Species
    dbh_m: float
    height_m: float | None = None
    count: int = 1


@dataclass(frozen=True)
class Offered:
    """Wood on offer.

    Attributes
    ----------
    kind
        rough, weighed, logs or trees.
    parts
        Solid wood by species [m³].
    solid_m3
        All of it, with 10th and 90th percentile.
    logs
        Logs one by one, if they are listed: the cutting plan is made of these.
    rot_share
        Share of the wood that is rotten or useless beyond what the list says.
    origin
        forest or yard.
    notes
        What to beware of in the measure.
    """

    kind: str
    parts: tuple[tuple[Species, float], ...]
    solid_m3: Spread
    logs: tuple[LogRow, ...] = ()
    rot_share: float = 0.0
    origin: str = "forest"
    notes: tuple[Text, ...] = ()

    def __post_init__(self) -> None:
        if not self.parts or not self.solid_m3.mid > 0.0:
            raise InputError(
                "quantity",
                wanted=T_("wood above zero"),
                got=f"{self.solid_m3.mid:g} m³",
                next_move=T_("Give a quantity, a weight, logs or trees."),
            )
        within("rot_share", self.rot_share, (0.0, 0.95), "")
        if self.origin not in ORIGINS:
            raise InputError(
                "origin",
                wanted=T_("one of: {names}", names=", ".join(ORIGINS)),
                got=self.origin,
                next_move=T_("Say where the trees stood."),
            )


def rough_wood(
    quantity: float,
    kind: str,
    shares: Sequence[tuple[Species, float]],
    *,
    rot_share: float = 0.0,
    origin: str = "forest",
) -> Offered:
    """A load by its quantity: `stacked_m3`, `loose_m3`, `solid_m3` or `green_kg`, with shares of species by volume.

    Raises InputError for quantity, quantity_kind, shares, rot_share or origin.
    """
    whole = math.fsum(share for _, share in shares)
    if not shares or whole <= 0.0 or any(share <= 0.0 for _, share in shares):
        raise InputError(
            "shares",
            wanted=T_("at least one kind of wood, each with a share above zero"),
            got=", ".join(f"{share:g}" for _, share in shares) or T_("none"),
            next_move=T_("Name the wood; not named yet is a choice."),
        )
    notes: tuple[Text, ...] = ()
    if kind == "green_kg":
        if quantity <= 0.0:
            raise _no_wood(quantity, "kg")
        weighed = weighed_load(quantity, shares)
        solid, notes = weighed.solid_m3, weighed.warnings
    else:
        within("quantity", quantity, QUANTITY_M3, "m³")
        if quantity <= 0.0:
            raise _no_wood(quantity, "m³")
        factor = math.exp(TO_10_90 * ROUGH_LOG_SD)
        looked = Spread(quantity / factor, quantity, quantity * factor)
        if kind == "solid_m3":
            solid = looked
        elif kind in ("stacked_m3", "loose_m3"):
            piled = "ranked" if kind == "stacked_m3" else "loose"
            solid = product(looked, solid_share(piled, "log", TRUCK_LOG_LENGTH_M))
        else:
            raise InputError(
                "quantity_kind",
                wanted=T_("one of: {names}", names="stacked_m3, loose_m3, solid_m3, green_kg"),
                got=kind,
                next_move=T_("Say what the quantity is."),
            )
    parts = tuple((wood, solid.mid * share / whole) for wood, share in shares)
    return Offered(
        "weighed" if kind == "green_kg" else "rough",
        parts,
        solid,
        rot_share=rot_share,
        origin=origin,
        notes=notes,
    )


def _no_wood(quantity: float, unit: str) -> InputError:
    return InputError(
        "quantity",
        wanted=T_("wood above zero"),
        got=f"{quantity:g} {unit}",
        next_move=T_("Give a quantity, a weight, logs or trees."),
    )


def logs_wood(
    rows: Sequence[LogRow], *, over_bark: bool = False, rot_share: float = 0.0, origin: str = "forest"
) -> Offered:
    """A list of logs, with what their hollows, rot and metal take off. Raises InputError for logs."""
    taken = tuple(with_bark_by_species(rows) if over_bark else rows)
    total = log_list_total(taken)
    parts = tuple((get_species(one.species_id), one.net_m3.mid) for one in total.species)
    return Offered(
        "logs", parts, total.net_m3, logs=taken, rot_share=rot_share, origin=origin, notes=total.notes
    )


def trees_wood(
    trees: Sequence[OfferedTree], *, country: str = "US", rot_share: float = 0.0, origin: str = "forest"
) -> Offered:
    """Standing trees: the stem from a stump of 1 ft to 4 in over bark; trees of a yard count as open-grown.

    Raises InputError for trees, dbh or height.
    """
    if not 0 < sum(tree.count for tree in trees) <= MOST_TREES or any(tree.count < 1 for tree in trees):
        raise InputError(
            "trees",
            wanted=T_("1 to {most} trees", most=MOST_TREES),
            got=str(sum(tree.count for tree in trees)),
            next_move=T_("Give each tree's diameter at breast height."),
        )
    volumes: dict[str, float] = {}
    woods: dict[str, Species] = {}
    plain = squares = 0.0
    notes: dict[str, Text] = {}
    for tree in trees:
        found = measure_tree(
            tree.species,
            tree.dbh_m,
            tree.height_m,
            country=country,
            grown="open" if origin == "yard" else "forest",
        )
        woods[tree.species.id] = tree.species
        volumes[tree.species.id] = volumes.get(tree.species.id, 0.0) + tree.count * found.usable_m3
        off = found.usable_m3 * found.log_sd
        plain += tree.count * off
        squares += tree.count * off * off
        for note in found.warnings:
            notes.setdefault(note.msgid, note)
    whole = sum(volumes.values())
    if whole <= 0.0:
        raise InputError(
            "trees",
            wanted=T_("trees with a stem thicker than 4 in above the stump"),
            got=T_("none so thick"),
            next_move=T_("Check diameters and units; such trees give branches only."),
        )
    sd = math.sqrt(SHARED_ERROR * plain**2 + (1.0 - SHARED_ERROR) * squares) / whole
    factor = math.exp(TO_10_90 * sd)
    return Offered(
        "trees",
        tuple((woods[name], volume) for name, volume in volumes.items() if volume > 0.0),
        Spread(whole / factor, whole, whole * factor),
        rot_share=rot_share,
        origin=origin,
        notes=tuple(notes.values()),
    )
