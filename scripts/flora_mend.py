"""Writes the mended and newly sourced cells into the tree key's tables; run twice it changes nothing.

`flora_notes/mended*.txt`, `sourced*.txt`, `mined*.txt` (a book that was an outside test) and `reread*.txt` (a source
read once more) hold single cells; the rules below hold for genera.
Neither a rule nor a line of `sourced*.txt` overwrites a cell that another source states.
"""

from __future__ import annotations

import csv
import re
import sys
from collections import Counter, defaultdict

from flora_model import DATA
from flora_species import CODES, _cited
from flora_tables import CHECKS, NOTES, Row, cell, counted, read, states, write

UNARMED = (
    "Larix Catalpa Aesculus Cornus Acer Fraxinus Sassafras Celtis Populus Nyssa Amelanchier Juglans Salix Carpinus "
    "Betula Ulmus Ostrya Gymnocladus Cercis Platanus Ailanthus Liriodendron Fagus Quercus Carya Tilia Castanea Morus"
)
BARE = UNARMED + " Prunus Malus Robinia Gleditsia Maclura Crataegus"
EVEN = "Fagus Castanea Populus Salix Prunus Amelanchier Carpinus Betula Morus Malus Pyrus"
TERETE = "Salix Prunus Amelanchier Carpinus Ostrya Betula Morus Malus Pyrus"
RULES = (
    ("thorns", "none", UNARMED, "O p.xxviii"),
    ("leaf_hold", "bare", BARE, "O p.xxviii"),
    ("leaf_base", "even", EVEN, "O p.xxii"),
    ("leaf_stalk", "round", TERETE, "O p.xxiii"),
    ("milky_sap", "no", "Malus Pyrus Crataegus Castanea", "O pp.xxiv, xxxiii"),
    ("trunk_shape", "round", "Betula Ostrya", "O p.xxiii"),
    ("pith", "solid", "Carya Sassafras Prunus", "O pp.xxv, xxx"),
    ("lenticel", "dashes", "Betula", "O p.xxxii"),
    ("crush_smell", "none", "Celtis Nyssa Cornus", "O pp.xxii, xxx"),
    ("blisters", "no", "Tsuga", "O p.xxii"),
    ("leaf_hold", "evergreen", "Pinus Picea Abies Tsuga Thuja Juniperus", "O p.xxvii"),
    ("needle_form", "thin", "Pinus", "O p.xxvii"),
    ("needle_form", "square", "Picea", "O p.xxvii"),
    ("needle_bundle", "single", "Picea Abies Tsuga", "O p.xxvii"),
    (
        "end_bud",
        "one",
        "Populus Malus Pyrus Nyssa Amelanchier Juglans Liriodendron Fagus Carya Sassafras",
        "O pp.xxvii-xxxiv",
    ),
    (
        "end_bud",
        "none",
        "Celtis Salix Carpinus Betula Ulmus Ostrya Gymnocladus Cercis Platanus Ailanthus Tilia "
        "Castanea Morus",
        "O pp.xxvii-xxxiv",
    ),
    ("end_bud", "cluster", "Quercus", "O pp.xxvii-xxxiv"),
    ("bud_form", "one_cap", "Salix", "O pp.xxvii-xxxiv"),
    ("bud_form", "cigar", "Fagus", "O pp.xxvii-xxxiv"),
    ("milky_sap", "yes", "Morus", "O pp.xxvii-xxxiv"),
    ("leaf_scar", "around_bud", "Platanus", "O pp.xxvii-xxxiv"),
    ("leaf_scar", "shield", "Juglans", "O pp.xxvii-xxxiv"),
    ("leaf_scar", "small", "Amelanchier", "O pp.xxvii-xxxiv"),
    ("spurs", "yes", "Malus Larix", "O pp.xxvii-xxxiv"),
)
"""A character, the one state, genera and the page: statements of the Michigan manual's keys to genera."""

STATED_ROUND = {"pobas", "poba2", "casp8", "cabi8", "gydi", "ceca4", "aial"}
"""Species whose stalk a page calls round (terete)."""

OF_GENERA = ("leaf_kind", "arr", "leaf_comp", "fruit", "needle_form")
"""What the manuals' keys to genera part: a species without a cell takes what all its kin of the genus show."""
APART = {("Acer", "leaf_comp"): ("simple", "O p.172", {"acne2"})}
"""A state that a page gives to a genus with exceptions."""
ORDINARY = {
    "air_change": "little", "bark_slice": "uniform", "blisters": "no", "cork_wing": "no", "fine_lines": "no",
    "inner_feel": "plain", "lenticel": "none", "milky_sap": "no", "red_streak": "no", "ring_wave": "smooth",
    "ski_stripe": "no", "spurs": "no", "thorns": "none", "trunk_shape": "round", "uv_glow": "none",
    "water_tint": "none",
}  # fmt: skip
"""The ordinary state, assumed where nothing read mentions the character."""
OF_HARDWOODS = {"crush_smell": "none", "leaf_stalk": "round", "pitch": "no", "wood_smell": "none"}

LOCALITIES = {"LS": {"qumi", "qufa", "maac", "list2", "ilop", "cofl2", "nysy", "aegl"}}
"""Species that Snow's "Locality" carries into Indiana, Illinois, Ohio, Michigan or Minnesota, by region."""

BORROWED_PAGES = {("pram", "O p.161"): "O p.161 (Prunus nigra)"}
"""Species and cited page where the page is another species' of the genus: the cells speak of the genus."""

BOUNDS = ((25.0, "vlight"), (32.0, "light"), (39.0, "medium"), (47.0, "heavy"), (float("inf"), "vheavy"))
WATER_LB_FT3 = 62.43
AIR_DRY = 1.12
"""Mass at 12 % moisture over dry mass."""
NEAR_LB_FT3 = 1.5
"""So near a bound, the next class is met as well."""


def main() -> int:
    """Applies notes, rules and weights, counts anew and prints what changed."""
    columns, table = read("species")
    cell_columns, old = read("species_characters")
    characters: dict[str, list[str]] = {}
    for row in read("characters")[1]:
        characters.setdefault(row["character_id"], []).append(row["state_id"])
    cells: dict[str, dict[str, list[Row]]] = defaultdict(dict)
    for row in old:
        cells[row["species_id"]].setdefault(row["character_id"], []).append(row)
    done = Counter(notes=_notes(cells, characters))
    genus = {row["species_id"]: row["genus"] for row in table}
    for name, state, genera, page in RULES:
        for species in (s for s, g in genus.items() if g in genera.split()):
            done[f"rule {name}"] += _rule(cells[species], species, name, state, page, characters)
    done["genera"] = _of_genera(cells, genus, characters)
    for row in table:
        done["ordinary"] += _ordinary(cells[row["species_id"]], row, characters)
    done["stalks not stated"] = _stalks(cells, genus, characters)
    done["borrowed pages"] = _borrowed(cells, characters)
    for row in table:
        row["otis_page"] = row["otis_page"] or _own_page(cells[row["species_id"]])
    done["regions"] = _regions(table)
    done["weights"] = _weights(cells, table, characters)
    rows: list[Row] = []
    for species_row in table:
        own = [row for name in characters for row in cells[species_row["species_id"]].get(name, [])]
        counted(species_row, own)
        rows.extend(own)
    write("species", columns, table)
    write("species_characters", cell_columns, rows)
    sys.stdout.writelines(f"{what}: {count}\n" for what, count in done.items())
    return 0


def _notes(cells: dict[str, dict[str, list[Row]]], characters: dict[str, list[str]]) -> int:
    count = 0
    for file in [
        *sorted([*NOTES.glob("mended*.txt"), *NOTES.glob("sourced*.txt")]),
        *sorted(NOTES.glob("mined*.txt")),
        *sorted(NOTES.glob("reread*.txt")),
    ]:
        for line in file.read_text(encoding="utf-8").splitlines():
            if not line.strip() or line.startswith("#"):
                continue
            said, _, cited = line.partition("@")
            names, _, listed = said.partition(" = ")
            species, name = names.split()
            found = states(listed)
            if species not in cells or set(found) - set(characters[name]):
                raise SystemExit(f"{file.name}: {line}")
            *codes, page = _cited(cited.split())
            basis = CODES.get(codes[0], "source")
            rows = cells[species].get(name)
            stated = (
                rows is not None and rows[0]["basis"] == "source" and rows[0]["source"] != " ".join(codes)
            )
            if stated and file.name.startswith("sourced"):
                continue
            cells[species][name] = cell(
                species, name, found, basis, " ".join(codes), page, len(characters[name])
            )
            count += 1
    return count


def _rule(
    own: dict[str, list[Row]],
    species: str,
    name: str,
    state: str,
    page: str,
    characters: dict[str, list[str]],
) -> int:
    rows = own.get(name)
    if rows and (
        rows[0]["basis"] not in ("assumed", "memory") or [row["state_id"] for row in rows] != [state]
    ):
        return 0
    own[name] = cell(species, name, {state: "usually"}, "genus", "G", page, len(characters[name]))
    return 1


def _of_genera(
    cells: dict[str, dict[str, list[Row]]], genus: dict[str, str], characters: dict[str, list[str]]
) -> int:
    """Cells that are missing or remembered, from the kin of the genus where texts give all of them the same."""
    count = 0
    for species, name in ((one, other) for one in genus for other in OF_GENERA):
        rows = cells[species].get(name)
        if rows and rows[0]["basis"] != "memory":
            continue
        state, page, apart = APART.get((genus[species], name), ("", "", set()))
        if not state or species in apart:
            kin = [
                cells[one][name]
                for one in genus
                if one != species and genus[one] == genus[species] and name in cells[one]
            ]
            read_of = [rows for rows in kin if rows[0]["basis"] in ("source", "genus") and rows[0]["page"]]
            shown = {tuple(row["state_id"] for row in rows) for rows in kin}
            if not read_of or len(shown) != 1 or len(kin[0]) != 1:
                continue
            state, page = kin[0][0]["state_id"], read_of[0][0]["page"]
        cells[species][name] = cell(
            species, name, {state: "usually"}, "genus", "G", page, len(characters[name])
        )
        count += 1
    return count


def _ordinary(own: dict[str, list[Row]], row: Row, characters: dict[str, list[str]]) -> int:
    listed = ORDINARY | (OF_HARDWOODS if row["kind"] == "hardwood" else {})
    missing = {name: state for name, state in listed.items() if name not in own}
    for name, state in missing.items():
        own[name] = cell(
            row["species_id"], name, {state: "usually"}, "assumed", "D", "", len(characters[name])
        )
    return len(missing)


def _stalks(
    cells: dict[str, dict[str, list[Row]]], genus: dict[str, str], characters: dict[str, list[str]]
) -> int:
    """A round leaf stalk that no page states is assumed, not sourced."""
    count = 0
    for species, own in cells.items():
        rows = own.get("leaf_stalk", [])
        listed = [row["state_id"] for row in rows]
        if listed != ["round"] or genus[species] in TERETE.split() or species in STATED_ROUND:
            continue
        if rows[0]["basis"] in ("source", "genus"):
            own["leaf_stalk"] = cell(
                species, "leaf_stalk", {"round": "usually"}, "assumed", "D", "", len(characters["leaf_stalk"])
            )
            count += 1
    return count


def _borrowed(cells: dict[str, dict[str, list[Row]]], characters: dict[str, list[str]]) -> int:
    count = 0
    for (species, page), named in BORROWED_PAGES.items():
        for name, rows in cells[species].items():
            if rows[0]["page"] in (page, named):
                found = {row["state_id"]: row["frequency"] for row in rows}
                cells[species][name] = cell(species, name, found, "genus", "G", named, len(characters[name]))
                count += 1
    return count


def _own_page(own: dict[str, list[Row]]) -> str:
    """The page of the Michigan manual that most of a species' sourced cells cite, if any does."""
    cited = Counter(
        found[1]
        for rows in own.values()
        if rows[0]["basis"] == "source" and (found := re.fullmatch(r"O p\.(\d+)", rows[0]["page"]))
    )
    return cited.most_common(1)[0][0] if cited else ""


def _regions(table: list[Row]) -> int:
    """A species that a manual of a region treats is met there now and then, if nothing else is listed.

    The Michigan manual and the books of Indiana and Illinois speak for the lakes, the handbook of Dame and Brooks
    for New England, Snow for the Midwest.
    """
    of_new_england = _treated("keys_dame_brooks")
    of_the_midwest = _treated("keys_deam") | _treated("keys_illinois")
    count = 0
    for row in table:
        for region, treated in (
            ("LS", bool(row["otis_page"]) or row["species_id"] in LOCALITIES["LS"] | of_the_midwest),
            ("NE", row["species_id"] in of_new_england),
        ):
            if treated and f"{region}:" not in row["regions"]:
                row["regions"] = f"{row['regions']} {region}:o".strip()
                count += 1
    return count


def _treated(table: str) -> set[str]:
    """The species that a book's table of answers asks for."""
    with (CHECKS / f"{table}.csv").open(encoding="utf-8", newline="") as lines:
        return {row["key_id"] for row in csv.DictReader(lines)}


def _weights(
    cells: dict[str, dict[str, list[Row]]], table: list[Row], characters: dict[str, list[str]]
) -> int:
    """Heft from the house's own wood table where the key had it from memory or not at all."""
    gravity = _gravities()
    count = 0
    for row in table:
        species = row["species_id"]
        rows = cells[species].get("weight")
        if rows and rows[0]["basis"] != "memory":
            continue
        found = gravity.get(row["latin"].lower())
        if found is None:
            continue
        cells[species]["weight"] = cell(
            species,
            "weight",
            heft(found * AIR_DRY * WATER_LB_FT3),
            "source",
            "W",
            "",
            len(characters["weight"]),
        )
        count += 1
    return count


def _gravities() -> dict[str, float]:
    """Specific gravity at 12 % moisture by scientific name, only where it was measured on the species."""
    found = {}
    wood = DATA.parent.parent / "wood" / "data" / "species.csv"
    with wood.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            value = row["sg12"] or row["sg12_derived"]
            source = row["sg12_src"] or row["sg_basic_src"]
            if value and "proxy" not in source and "MEM" not in source:
                found[row["scientific_name"].lower()] = float(value)
    return found


def heft(lb_ft3: float) -> dict[str, str]:
    """The class of a weight, and its neighbour where the weight is near a bound."""
    names = [name for _, name in BOUNDS]
    place = next(i for i, (bound, _) in enumerate(BOUNDS) if lb_ft3 < bound)
    found = {names[place]: "usually"}
    if place and lb_ft3 - BOUNDS[place - 1][0] < NEAR_LB_FT3:
        found[names[place - 1]] = "sometimes"
    if place < len(names) - 1 and BOUNDS[place][0] - lb_ft3 < NEAR_LB_FT3:
        found[names[place + 1]] = "sometimes"
    return found


if __name__ == "__main__":
    sys.exit(main())
