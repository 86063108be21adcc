"""Published equations for standing trees: United States 2023, Canada 2005/2008, Jenkins 2003.

- National Scale Volume and Biomass, Westfall et al. 2023, USDA FS GTR WO-104: stem wood, bark, branches, leaves and
  the share of a stem below a height, from diameter [in] and height [ft]; by species and ecodivision, then species,
  then Jenkins group. Mass of the parts is drawn to the total as the report does. The form of the share below a
  height, (1 - (1 - h/H)^alpha)^beta, is from memory; with it the stem's diameter at breast height comes out within
  8 % of the diameter put in on eight trees.
- Lambert, Ung and Raulier 2005 with Ung, Bernier and Guo 2008 in its place where both have the species:
  kg = b1 D^b2 H^b3 for each part [cm, m]. The released 2005 rows of "all hardwoods" with height hold standard errors
  in place of coefficients; those of 2008 are used.
- Jenkins, Chojnacky, Heath and Birdsey 2003: kg above ground = exp(b0 + b1 ln D [cm]), parts as shares.

Jenkins' total has the leaves in it, that of 2023 has not; here leaves always stand apart.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Literal

from rickyard.measure.units import FT3_M3, FT_M, IN_M, LB_FT3_KG_M3, LB_KG

Method = Literal["nsvb", "canada", "jenkins"]

SEGMENT_IN = {"S": 9.0, "H": 11.0}
"""Diameter at which the segmented model changes its power, softwoods and hardwoods [in]."""

STUMP_M = FT_M
TOP_D_M = 4.0 * IN_M
"""What is left: a stump of 1 ft and the top above 4 in over bark (New Brunswick and Lake States practice)."""

WATER_LB_FT3 = 62.4
"""Weight of water that the report of 2023 counts with [lb/ft³]."""

SOURCES: dict[Method, str] = {
    "nsvb": "Westfall et al. 2023, USDA FS GTR WO-104",
    "canada": "Lambert et al. 2005 (10.1139/x05-112); Ung et al. 2008 (10.1139/X07-224)",
    "jenkins": "Jenkins et al. 2003, Forest Science 49(1):12-35",
}

Row = Mapping[str, str]


@dataclass(frozen=True)
class TreeCode:
    """How a species stands in the tables of the United States.

    Attributes
    ----------
    species_id
        Our id.
    spcd
        Code of the Forest Service.
    how
        own, synonym, genus (the row for the genus) or relative (another species of the genus).
    jenkins_group
        1 to 10.
    wood_gravity, bark_gravity
        Oven-dry mass per green volume / density of water [unitless].
    softwood
        Whether it is one.
    """

    species_id: str
    spcd: str
    how: str
    jenkins_group: str
    wood_gravity: float
    bark_gravity: float
    softwood: bool


@dataclass(frozen=True)
class TreeParts:
    """Parts of a tree above ground, each oven dry [kg]; `own` says whether the figures are the species' own.

    `wood_m3` and `bark_m3` of the stem, None where the equation knows mass only.
    `drawn` is what the parts were multiplied by to add up to a total that was computed on its own.
    """

    wood_kg: float
    bark_kg: float
    branches_kg: float
    foliage_kg: float
    own: bool
    wood_m3: float | None = None
    bark_m3: float | None = None
    drawn: float = 1.0

    @property
    def without_leaves_kg(self) -> float:
        """Stem wood, stem bark and branches [kg]."""
        return self.wood_kg + self.bark_kg + self.branches_kg


def read_table(name: str) -> list[dict[str, str]]:
    """The rows of a table packaged in this package's folder `data`."""
    text = resources.files("rickyard.measure").joinpath("data", name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@cache
def tree_codes() -> dict[str, TreeCode]:
    """By species id."""
    return {
        row["id"]: TreeCode(
            row["id"],
            row["spcd"],
            row["how"],
            row["jenkins_group"],
            float(row["wood_gravity"]),
            float(row["bark_gravity"]),
            row["kind"] == "S",
        )
        for row in read_table("tree_codes.csv")
    }


# -- United States 2023 -----------------------------------------------------------------------
@dataclass(frozen=True)
class _Rows:
    """Coefficient rows by table and species code, and by table and group."""

    species: Mapping[tuple[str, str], tuple[Row, ...]]
    groups: Mapping[tuple[str, str], Row]


@cache
def _nsvb() -> _Rows:
    species: dict[tuple[str, str], list[Row]] = {}
    groups: dict[tuple[str, str], Row] = {}
    for row in read_table("nsvb.csv"):
        if row["group"]:
            groups[row["table"], row["group"]] = row
        else:
            species.setdefault((row["table"], row["spcd"]), []).append(row)
    return _Rows({key: tuple(rows) for key, rows in species.items()}, groups)


@cache
def divisions() -> tuple[str, ...]:
    """Ecodivisions that have rows of their own, such as 240 or M220."""
    return tuple(
        sorted({row["division"] for rows in _nsvb().species.values() for row in rows if row["division"]})
    )


def nsvb_knows(code: TreeCode) -> bool:
    """Whether the report has the species or its group: it has none for the woodland group (10)."""
    return ("S1a", code.spcd) in _nsvb().species or ("S1b", code.jenkins_group) in _nsvb().groups


def nsvb_quantity(table: str, code: TreeCode, dbh_m: float, height_m: float, division: str = "") -> float:
    """One printed quantity in its printed unit, ft³ (tables 1 to 3) or lb (6 to 9), for table 1 to 9 ("1")."""
    row, _ = _nsvb_row(table, code, division)
    return _evaluate(row, code, dbh_m / IN_M, height_m / FT_M)


def _nsvb_row(table: str, code: TreeCode, division: str) -> tuple[Row, bool]:
    """The row for a species, and whether it is the species' own; natural stands where the report parts them."""
    rows = [
        row
        for row in _nsvb().species.get((f"S{table}a", code.spcd), ())
        if row["division"] in ("", division) and row["origin"] != "1"
    ]
    if rows:
        return max(rows, key=lambda row: row["division"] == division), True
    return _nsvb().groups[f"S{table}b", code.jenkins_group], False


def _evaluate(row: Row, code: TreeCode, d: float, h: float) -> float:
    model, a, c = row["model"], float(row["a"]), float(row["c"])
    b = float(row["b"])
    power = b
    if model == "2":
        k = SEGMENT_IN["S" if code.softwood else "H"]
        if d >= k:
            power = float(row["b1"])
            a *= math.pow(k, b - power)
    elif model == "3":
        power = float(row["a1"]) * math.pow(1.0 - math.exp(-b * d), float(row["c1"]))
    elif model == "4":
        a *= math.exp(-float(row["b1"]) * d)
    elif model == "5":
        a *= code.wood_gravity
    elif model != "1":
        raise ValueError(f"no such model: {model}")
    return a * math.pow(d, power) * math.pow(h, c)


def nsvb_wood_lb(wood_ft3: float, gravity: float, *, cull: float = 0.0, density_left: float = 0.54) -> float:
    """Oven-dry weight of stem wood [lb]; of the share `cull` only `density_left` of the density is left.

    0.54 is what the report's second example counts for a hardwood.
    """
    return wood_ft3 * gravity * WATER_LB_FT3 * (1.0 - cull * (1.0 - density_left))


def nsvb_parts(code: TreeCode, dbh_m: float, height_m: float, division: str = "") -> TreeParts:
    """Parts of a tree by the report of 2023; the masses add up to its total above ground."""
    quantity = {
        table: nsvb_quantity(table, code, dbh_m, height_m, division)
        for table in ("1", "2", "6", "7", "8", "9")
    }
    wood_lb = nsvb_wood_lb(quantity["1"], code.wood_gravity)
    drawn = quantity["8"] / (wood_lb + quantity["6"] + quantity["7"])
    return TreeParts(
        wood_kg=wood_lb * drawn * LB_KG,
        bark_kg=quantity["6"] * drawn * LB_KG,
        branches_kg=quantity["7"] * drawn * LB_KG,
        foliage_kg=quantity["9"] * LB_KG,
        own=_nsvb_row("1", code, division)[1] and code.how in ("own", "synonym"),
        wood_m3=quantity["1"] * FT3_M3,
        bark_m3=quantity["2"] * FT3_M3,
        drawn=drawn,
    )


def share_below(height_share: float, alpha: float, beta: float) -> float:
    """Share of a stem's volume below a share of its height [fractions]."""
    return float((1.0 - (1.0 - height_share) ** alpha) ** beta)


def merchantable_share(code: TreeCode, dbh_m: float, height_m: float, division: str = "") -> float:
    """Share of the stem's wood between a stump of 1 ft and the top at 4 in over bark; 0 if no part is so thick.

    Woodland trees, which the report of 2023 leaves out, take the form of cedars or of mixed hardwoods.
    """
    if height_m <= STUMP_M:
        return 0.0
    if not nsvb_knows(code):
        code = replace(code, jenkins_group="1" if code.softwood else "8")
    outside_m3 = nsvb_quantity("3", code, dbh_m, height_m, division) * FT3_M3
    outer, inner = _nsvb_row("4", code, division)[0], _nsvb_row("5", code, division)[0]
    below, above = STUMP_M / height_m, 1.0
    if _stem_d_m(below, outside_m3, height_m, outer) < TOP_D_M:
        return 0.0
    start = below
    for _ in range(50):
        middle = (below + above) / 2.0
        if _stem_d_m(middle, outside_m3, height_m, outer) >= TOP_D_M:
            below = middle
        else:
            above = middle
    alpha, beta = float(inner["alpha"]), float(inner["beta"])
    return share_below(below, alpha, beta) - share_below(start, alpha, beta)


def _stem_d_m(height_share: float, outside_m3: float, height_m: float, row: Row) -> float:
    """Diameter over bark at a share of the height: the slope of the volume below it [m]."""
    alpha, beta = float(row["alpha"]), float(row["beta"])
    left = 1.0 - height_share
    slope = alpha * beta * left ** (alpha - 1.0) * (1.0 - left**alpha) ** (beta - 1.0)
    return math.sqrt(max(0.0, outside_m3 / height_m * slope) * 4.0 / math.pi)


def stem_d_m(code: TreeCode, dbh_m: float, height_m: float, at_m: float, division: str = "") -> float:
    """Diameter over bark at a height above ground by the report of 2023 [m]; a check of its form."""
    outside_m3 = nsvb_quantity("3", code, dbh_m, height_m, division) * FT3_M3
    return _stem_d_m(at_m / height_m, outside_m3, height_m, _nsvb_row("4", code, division)[0])


# -- Canada 2005 and 2008 ---------------------------------------------------------------------
@cache
def _canada() -> dict[tuple[str, str], Row]:
    return {(row["id"], row["model"]): row for row in read_table("canada.csv")}


def canada_row_id(code: TreeCode) -> tuple[str, bool]:
    """Whose coefficients a species takes: its own, its genus', else all hardwoods' or all softwoods'."""
    for name in (code.species_id, code.species_id.split("_")[0]):
        if (name, "DBH") in _canada():
            return name, name == code.species_id
    return ("softwood" if code.softwood else "hardwood"), False


def canada_parts(code: TreeCode, dbh_m: float, height_m: float | None = None) -> TreeParts:
    """Parts of a tree by the Canadian equations, with height or, without one, from the diameter alone."""
    name, own = canada_row_id(code)
    d, h = dbh_m * 100.0, height_m
    row = _canada()[name, "DBH" if h is None else "DBHHT"]
    kg = {
        part: float(row[part + "1"])
        * d ** float(row[part + "2"])
        * (h ** float(row[part + "3"]) if h else 1.0)
        for part in ("wood", "bark", "branches", "foliage")
    }
    return TreeParts(kg["wood"], kg["bark"], kg["branches"], kg["foliage"], own)


def usual_height_m(code: TreeCode, dbh_m: float) -> float:
    """The height at which the two Canadian models agree on the stem's wood: what forest trees so thick have [m].

    The model without height holds the mean height of the trees it was fitted on; solving the model with height for
    it gives that height back. Most were fitted on trees under 50 cm.
    """
    name, _ = canada_row_id(code)
    alone, tall = _canada()[name, "DBH"], _canada()[name, "DBHHT"]
    d = dbh_m * 100.0
    ratio = float(alone["wood1"]) / float(tall["wood1"]) * d ** (float(alone["wood2"]) - float(tall["wood2"]))
    return float(ratio ** (1.0 / float(tall["wood3"])))


# -- Jenkins 2003 -----------------------------------------------------------------------------
@cache
def _jenkins() -> tuple[dict[str, Row], dict[tuple[str, str], Row]]:
    totals: dict[str, Row] = {row["group_code"]: row for row in read_table("jenkins_total.csv")}
    parts: dict[tuple[str, str], Row] = {
        (row["class"], row["component"]): row for row in read_table("jenkins_parts.csv")
    }
    return totals, parts


def jenkins_total_kg(group: str, dbh_m: float) -> float:
    """Oven-dry mass above ground with leaves [kg] by group 1 to 10."""
    row = _jenkins()[0][group]
    return math.exp(float(row["b0"]) + float(row["b1"]) * math.log(dbh_m * 100.0))


def jenkins_log_sd(group: str) -> float:
    """Root mean square error of the logarithm; from memory but for group 9."""
    return float(_jenkins()[0][group]["rmse_log"])


def jenkins_most_d_m(group: str) -> float:
    """Thickest tree the group was fitted on [m]; from memory but for group 9."""
    return float(_jenkins()[0][group]["max_dbh_cm"]) / 100.0


def jenkins_parts(code: TreeCode, dbh_m: float) -> TreeParts:
    """Parts of a tree by Jenkins; branches are what is left of the total."""
    total = jenkins_total_kg(code.jenkins_group, dbh_m)
    kind = "softwood" if code.softwood else "hardwood"

    def part(component: str) -> float:
        row = _jenkins()[1][kind, component]
        return total * math.exp(float(row["b0"]) + float(row["b1"]) / (dbh_m * 100.0))

    wood, bark, leaves = part("stem wood"), part("stem bark"), part("foliage")
    return TreeParts(
        wood, bark, max(0.0, total - wood - bark - leaves), min(leaves, total), code.how == "own"
    )


def gravity_kg_m3(gravity: float) -> float:
    """Density that the report of 2023 counts with for a specific gravity [kg/m³]."""
    return gravity * WATER_LB_FT3 * LB_FT3_KG_M3


def beers_cords(dbh_m: float, merchantable_height_m: float) -> float:
    """Cords of a hardwood by the composite function of Beers 1964 for the Central States, 76 ft³ of wood a cord.

    From the diameter and the height to the merchantable top; a check beside the national equations.
    """
    d, h = dbh_m / IN_M, merchantable_height_m / FT_M
    return d * d * (d + 190.0) / 100_000.0 * (h * (168.0 - h) / 64.0 + 32.0 / h) / 100.0
