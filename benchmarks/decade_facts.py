"""What the yard of ten years is made of: invented names of people, roads and sources, wares, what was seen of trees."""

from __future__ import annotations

from typing import Any

import numpy as np

IN_M = 0.0254
YARD: dict[str, Any] = {
    "name": "Hollowmere Fuelwood",
    "address": "9 Crosscut Road, Lower Alderbrook, New Brunswick",
    "phone": "506-555-0109",
    "country": "CA",
    "subdivision": "NB",
    "climate_place": "Fredericton, NB",
    "timezone": "America/Moncton",
    "tax_rate": 0.15,
}
HANDS = ("Jorund", "Leocadie", "Wystan", "Nerea")
COUNTIES = ("York", "Sunbury", "Carleton", "Queens")
SOURCES = (
    "Gristwood Tree Care (invented)",
    "Fernhollow bush lot (invented)",
    "own bush lot, west side",
    "Inchbrook woodlot (invented)",
    "storm fall, town works",
)
HARDWOODS = (
    "acer_saccharum",
    "acer_rubrum",
    "betula_alleghaniensis",
    "betula_papyrifera",
    "fagus_grandifolia",
    "fraxinus_americana",
    "quercus_rubra",
)
BIRCHES = ("betula_papyrifera", "betula_alleghaniensis")
SOFTWOODS = ("abies_balsamea", "larix_laricina", "picea_rubens")
# Name, species, piece length [m], price of a cord [cents].
WARES: tuple[tuple[str, tuple[str, ...], float, int], ...] = (
    ("Dry hardwood, 16 in", HARDWOODS, 16 * IN_M, 39000),
    ("Dry hardwood, 12 in", HARDWOODS, 12 * IN_M, 43000),
    ("Dry birch, 18 in", BIRCHES, 18 * IN_M, 41000),
    ("Dry softwood, 16 in", SOFTWOODS, 16 * IN_M, 27000),
)
DEMAND = (0.5, 0.2, 0.15, 0.15)
_HARD = (
    (("acer_saccharum", 0.6), ("betula_alleghaniensis", 0.4)),
    (("acer_rubrum", 0.5), ("fraxinus_americana", 0.5)),
    (("fagus_grandifolia", 0.7), ("acer_saccharum", 0.3)),
    (("quercus_rubra", 0.8), ("acer_rubrum", 0.2)),
    (("fraxinus_americana", 1.0),),
)
MIXES: tuple[tuple[tuple[tuple[str, float], ...], ...], ...] = (
    _HARD,
    _HARD,
    ((("betula_papyrifera", 1.0),), (("betula_papyrifera", 0.6), ("betula_alleghaniensis", 0.4))),
    ((("picea_rubens", 0.5), ("abies_balsamea", 0.5)), (("larix_laricina", 1.0),)),
)
# Character, state, doubt.
SEEN: tuple[tuple[tuple[str, str, float], ...], ...] = (
    (("fruit", "acorn", 0.0), ("porosity", "ring", 0.3)),
    (("fruit", "acorn", 0.1),),
    (("porosity", "ring", 0.0),),
)

_FIRST = (
    "Alder Brigid Caspian Delphine Emeric Fenna Gaspard Hesper Isolde Jorund Kestrel Leocadie Maeve Nerea Osric "
    "Perrine Quillon Rosalba Sylvaine Tamsin Ulric Viviane Wystan Xenia Yolande Zephyrin Ambrose Blaise Clemence"
).split()
_STARTS = (
    "Ash Birch Cotter Dun Elder Fern Grist Harrow Inch Jessa Kettle Larch Mill Nettle Oak Plum Quarry Rook Salt "
    "Thistle Under Vallo Wren Yarrow Heron Sedge Bracken Marl"
).split()
_ENDS = (
    "grove wood varrow syke hollow mere brook wick mond brae fold hurst tree stone well marsh bough field by ley"
).split()
_ROADS = (
    "Alderbrook Lane,Old Sawpit Road,Crooked Fence Road,Heron Flats Road,Upper Meadow Drive,Quarry Hollow Road,"
    "Blackthorn Lane,Mill Pool Road,Lower Orchard Road,Ferry Landing Lane"
).split(",")


def name_of(rng: np.random.Generator) -> str:
    return f"{rng.choice(_FIRST)} {rng.choice(_STARTS)}{rng.choice(_ENDS)}"


def address_of(rng: np.random.Generator, number: int) -> str:
    return f"{3 + 7 * (number % 200)} {rng.choice(_ROADS)}, near Fredericton, New Brunswick"
