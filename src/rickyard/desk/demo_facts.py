"""What the demo yard is made of: invented names of people, roads and sources, and what grows around there."""

from __future__ import annotations

FIRST = (
    "Alder Brigid Caspian Delphine Emeric Fenna Gaspard Hesper Isolde Jorund Kestrel Leocadie Maeve Nerea Osric "
    "Perrine Quillon Rosalba Sylvaine Tamsin Ulric Viviane Wystan Xenia Yolande Zephyrin Ambrose Blaise Clemence "
    "Damaris"
).split()
LAST = (
    "Ashgrove Birchall-Moss Cotterwood Dunvarrow Eldersyke Fernhollow Gristwood Harrowmere Inchbrook Jessamyne "
    "Kettlewick Larchmond Millbrae Nettlefold Oakhurst-Vane Plumtree Quarrystone Rookwell Saltmarsh-Pye Thistledown "
    "Underbough Vallonne Wrenfield Yarrowby Zell-Aubin Boisclair-Dune Chantefort Desrivages Fontgrise Montclaireau"
).split()
# Who uses the demo's phones.
HANDS = ("Kestrel", "Ulric", "Yolande")
ROADS = (
    "Alderbrook Lane,Old Sawpit Road,Crooked Fence Road,Heron Flats Road,Upper Meadow Drive,Quarry Hollow Road,"
    "Blackthorn Lane,Mill Pool Road,Lower Orchard Road,Ferry Landing Lane"
).split(",")
SOURCES = (
    "Crosscut Tree Care (invented)",
    "Burl & Bough Arborists (invented)",
    "own bush lot, north side",
    "Widow Hollow woodlot (invented)",
    "storm fall, town works",
    "Saltmarsh-Pye bush lot (invented)",
)
COUNTIES = ("York", "Sunbury", "Carleton", "Queens")

# Loads by what grows around there: (kinds with shares by volume), and how often such a load comes.
MIXES: tuple[tuple[tuple[tuple[str, float], ...], float], ...] = (
    ((("acer_saccharum", 0.6), ("betula_alleghaniensis", 0.4)), 6),
    ((("acer_rubrum", 0.5), ("betula_papyrifera", 0.5)), 5),
    ((("fagus_grandifolia", 0.7), ("acer_saccharum", 0.3)), 3),
    ((("fraxinus_americana", 1.0),), 3),
    ((("quercus_rubra", 0.8), ("acer_rubrum", 0.2)), 3),
    ((("populus_tremuloides", 0.6), ("populus_grandidentata", 0.4)), 1.2),
    ((("picea_rubens", 0.5), ("abies_balsamea", 0.5)), 1.5),
    ((("larix_laricina", 1.0),), 1),
    ((("ostrya_virginiana", 0.3), ("acer_saccharum", 0.7)), 2),
    ((("prunus_serotina", 0.5), ("ulmus_americana", 0.5)), 1),
    ((("tsuga_canadensis", 1.0),), 0.5),
    ((("betula_papyrifera", 1.0),), 3),
    ((("tilia_americana", 0.4), ("acer_rubrum", 0.6)), 1),
)
SOFTWOOD = {"picea_rubens", "abies_balsamea", "larix_laricina", "tsuga_canadensis"}
HARDWOODS = (
    "acer_saccharum",
    "acer_rubrum",
    "betula_alleghaniensis",
    "betula_papyrifera",
    "fagus_grandifolia",
    "fraxinus_americana",
    "quercus_rubra",
    "ostrya_virginiana",
    "prunus_serotina",
    "ulmus_americana",
    "tilia_americana",
)
