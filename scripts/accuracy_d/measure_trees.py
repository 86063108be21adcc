"""Measure: standing trees, cords and weights, stowing and the yard's own factor, against what is published."""

from __future__ import annotations

import csv
import importlib.util
import math
import sys
from pathlib import Path
from statistics import median
from types import ModuleType

import numpy as np

from rickyard.measure import (
    CORD_FT3,
    FT3_M3,
    FT_M,
    IN_M,
    LB_KG,
    LoadPair,
    Spread,
    inside_bark,
    learn_yard_factor,
    measure_tree,
    solid_share,
    stowing,
    truck_measure,
    two_cords,
    weighed_load,
)
from rickyard.measure.bark import ONE_TABLE_SD, USUAL_LOG_M, bark_share, bark_shares, bark_volume_sd
from rickyard.measure.stowing import CROOK_M_PER_M, USUAL_THICKNESS_M, usual_bark_ratio
from rickyard.measure.tree_equations import (
    beers_cords,
    canada_parts,
    canada_row_id,
    jenkins_parts,
    nsvb_knows,
    nsvb_parts,
    nsvb_quantity,
    nsvb_wood_lb,
    stem_d_m,
    tree_codes,
    usual_height_m,
)
from rickyard.wood import (
    all_species,
    get_species,
)

Table = dict[str, object]

DATA = Path(__file__).resolve().parents[2] / "tests" / "measure" / "data"
CODES = tree_codes()

#: Whose a row of the cords-per-tree table is, in words for the page.
WHOSE = {
    "BEERS": "Beers 1964",
    "CALC": "reckoned from the formula",
    "MDDNR": "Maryland DNR after The Forestry Source, 2004",
    "NB-FORUM": "a forester in New Brunswick, 2009",
    "SREF": "Southern Regional Extension Forestry",
}


def tables() -> list[Table]:
    return [
        tree_examples(),
        equations_compared(),
        honer(),
        heights(),
        cords_per_tree(),
        cord_weights(),
        loads(),
        bark(),
        stowing_checks(),
        two_kinds_of_cord(),
        yard_factor(),
    ]


def _rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def tree_examples() -> Table:
    words = {
        "stem wood volume": "1",
        "bark volume": "2",
        "stem bark dry weight": "6",
        "branch dry weight": "7",
        "total above-ground": "8",
        "foliage": "9",
    }
    lines = []
    for row in _rows("worked_examples.csv"):
        if row["object"] != "tree":
            continue
        if row["method"].startswith("Beers"):
            ours = beers_cords(10 * IN_M, 26 * FT_M)
        else:
            douglas = "Douglas-fir" in row["inputs"]
            code = CODES["pseudotsuga_menziesii" if douglas else "acer_rubrum"]
            size = (20 * IN_M, 110 * FT_M, "240") if douglas else (11.1 * IN_M, 38 * FT_M, "")
            if "stem wood dry weight" in row["method"] or "CULL" in row["inputs"]:
                cull = 0.03 if "CULL" in row["inputs"] else 0.0
                ours = nsvb_wood_lb(nsvb_quantity("1", code, *size), code.wood_gravity, cull=cull)
            else:
                table = next(number for name, number in words.items() if name in row["method"])
                ours = nsvb_quantity(table, code, *size)
        printed = float(row["answer"].split()[0])
        lines.append(
            [
                row["method"],
                row["inputs"],
                f"{printed:.6g}",
                f"{ours:.6g}",
                f"{ours / printed - 1:+.6%}",
                row["unit"],
            ]
        )
    return {
        "title": "Standing trees: printed examples",
        "source": "Westfall et al. 2023, USDA FS GTR WO-104; Beers 1964 computed from its function",
        "note": (
            "The printed bark volume of the Douglas-fir does not follow from the released coefficients, "
            "which are used."
        ),
        "columns": ["quantity", "case", "printed", "ours", "off", "unit"],
        "rows": lines,
    }


def equations_compared() -> Table:
    lines = []
    for name in (
        "acer_saccharum", "acer_rubrum", "quercus_rubra", "quercus_alba", "betula_papyrifera", "betula_alleghaniensis",
        "fagus_grandifolia", "fraxinus_americana", "prunus_serotina", "ulmus_americana", "tilia_americana",
        "populus_tremuloides", "ostrya_virginiana", "pinus_strobus", "pinus_resinosa", "picea_glauca",
        "abies_balsamea", "tsuga_canadensis", "thuja_occidentalis", "juniperus_virginiana",
    ):  # fmt: skip
        code, dbh = CODES[name], 0.30
        height = usual_height_m(code, dbh)
        kg = [
            parts.without_leaves_kg
            for parts in (
                nsvb_parts(code, dbh, height),
                canada_parts(code, dbh, height),
                jenkins_parts(code, dbh),
            )
        ]
        lines.append(
            [
                get_species(name).common_en,
                f"{height:.0f} m",
                *(f"{mass:.0f}" for mass in kg),
                f"{kg[0] / kg[1] - 1:+.0%}",
                f"{kg[2] / kg[1] - 1:+.0%}",
            ]
        )
    off = []
    for code in CODES.values():
        if nsvb_knows(code) and canada_row_id(code)[1]:
            for dbh in (0.2, 0.3, 0.45):
                height = usual_height_m(code, dbh)
                american = nsvb_parts(code, dbh, height)
                if american.own:
                    off.append(
                        math.log(
                            american.without_leaves_kg / canada_parts(code, dbh, height).without_leaves_kg
                        )
                    )
    return {
        "title": "Standing trees: the equations against one another",
        "source": "Westfall et al. 2023; Lambert et al. 2005, Ung et al. 2008; Jenkins et al. 2003",
        "note": (
            "Oven-dry stem and branches without leaves [kg] of a tree of 30 cm. Over all shared species and three "
            f"girths the first two differ by {np.sqrt(np.mean(np.square(off))):.2f} in the logarithm "
            f"(root mean square; mean {np.mean(off):+.2f}); the spread of one tree stands on it. "
            "No scatter of single trees about the equations was found in print."
        ),
        "columns": ["species", "height", "US 2023", "Canada", "Jenkins", "US / Canada", "Jenkins / Canada"],
        "rows": lines,
    }


def honer() -> Table:
    lines, off, apart = [], [], []
    for row in _rows("honer1983.csv"):
        genus, species = row["code"].split(".")
        names = [
            known.id
            for known in all_species()
            if known.id[:4].upper() == genus and known.id.split("_")[1][:3].upper() == species
        ]
        # The maples share a row: sugar maple stands for them.
        name = names[0] if names else "acer_saccharum"
        b2, c1, c2, r1, r2, r3 = (float(row[key]) for key in ("b2", "c1", "c2", "r1", "r2", "r3"))
        bend = (1 - 0.04365 * b2) ** 2
        cells = []
        for d in (20.0, 30.0, 45.0):
            height = usual_height_m(CODES[name], d / 100)
            printed = 0.0043891 * d * d * bend / (c1 + 0.3048 * c2 / height)
            x = (10.16 / d) ** 2 / bend * (1 + 0.3048 / height)
            found = measure_tree(get_species(name), d / 100, height)
            off.append(math.log(found.wood_m3 / printed))
            apart.append(found.usable_m3 / found.wood_m3 - (r1 + r2 * x + r3 * x * x))
            cells += [f"{printed:.3f}", f"{found.wood_m3:.3f}"]
        lines.append([get_species(name).common_en, *cells, f"{np.mean(np.exp(off[-3:])) - 1:+.0%}"])
    return {
        "title": "Stem wood against the Canadian metric tables",
        "source": "Honer, Ker and Alemdag 1983, Inf. Rep. M-X-140",
        "note": (
            "US 2023 at our usual heights [m³], 20, 30 and 45 cm; used for nothing else. "
            f"Mean {np.mean(off):+.1%}, one standard deviation {np.std(off):.1%}. "
            "Share of the stem to a 4 in top: "
            f"ours above by {np.mean(apart):.2f}, from {min(apart):+.2f} to {max(apart):+.2f}, most in birch."
        ),
        "columns": ["species", "20 cm", "ours", "30 cm", "ours", "45 cm", "ours", "off"],
        "rows": lines,
    }


def heights() -> Table:
    lines = []
    for name, printed in (("acer_rubrum", (11.1, 38)), ("pseudotsuga_menziesii", (20.0, 110))):
        ours = usual_height_m(CODES[name], printed[0] * IN_M) / FT_M
        lines.append(
            [get_species(name).common_en, f"{printed[0]} in", f"{printed[1]} ft", f"{ours:.0f} ft",
             f"{ours / printed[1] - 1:+.0%}", "the report's example tree"]
        )  # fmt: skip
    for name, dbh, height in (("pinus_strobus", 18, 75), ("pinus_resinosa", 13, 60), ("pinus_strobus", 12, 65),
                              ("pinus_resinosa", 10, 56)):  # fmt: skip
        ours = usual_height_m(CODES[name], dbh * IN_M) / FT_M
        lines.append(
            [get_species(name).common_en, f"{dbh} in", f"{height} ft", f"{ours:.0f} ft", f"{ours / height - 1:+.0%}",
             "New Brunswick"]
        )  # fmt: skip
    for name in ("acer_saccharum", "quercus_rubra", "pinus_strobus", "abies_balsamea"):
        code = CODES[name]
        back = [
            stem_d_m(code, dbh, usual_height_m(code, dbh), 4.5 * FT_M) / dbh - 1 for dbh in (0.2, 0.3, 0.45)
        ]
        lines.append(
            [get_species(name).common_en, "20, 30, 45 cm", "itself", "girth given back by the stem's form",
             ", ".join(f"{off:+.0%}" for off in back), "the form's own check"]
        )  # fmt: skip
    return {
        "title": "Height where none was measured, and the stem's form",
        "source": "our heights: where the two Canadian models agree (2005, 2008)",
        "note": (
            "Single trees stray widely from the usual height, the red maple example most: "
            "one standard deviation of 0.17 is added for it, and a tree under 0.6 of the usual is said to be short."
        ),
        "columns": ["species", "diameter", "height there", "ours", "off", "whose"],
        "rows": lines,
    }


def cords_per_tree() -> Table:
    lines = []
    for one in _beside("cords_of_trees").figures():
        if one.found is None:
            lines.append([one.case, one.printed, "not looked at", "", "", "", WHOSE[one.source], one.why_not])
            continue
        cords = one.found.cords
        lines.append(
            [one.case, one.printed, f"{one.ours:.3f}", f"{one.off:+.0%}", f"{cords.low:.2f} to {cords.high:.2f}",
             f"{one.found.branch_cords_most:.2f}", WHOSE[one.source], ""]
        )  # fmt: skip
    return {
        "title": "Cords in a tree",
        "source": (
            "Beers 1964; southern pulpwood rule (SREF); Maryland DNR after The Forestry Source, 2004; a forester in "
            "New Brunswick, 2009"
        ),
        "note": (
            "Every row of the table. Ours: the stem to 4 in as a logger's cords, of 76 ft³ beside Beers and 79 ft³ "
            "elsewhere; the height as printed, and estimated in the rows of Beers and of the rule. "
            "Published values of a 12 in hardwood differ by 40 % among themselves (0.235 Beers, 0.33 "
            "Maryland, which is "
            "the tree for the stove). Beers at 6 in and white pine of 12 in are misses of 30 %. The southern rule is a "
            "straight line for pulpwood: thick trees leave it, by twice and more at 24 in."
        ),
        "columns": ["case", "published", "ours", "off", "sold cords", "branches at most", "whose", "why not"],
        "rows": lines,
    }


def cord_weights() -> Table:
    figures = _beside("cord_weights").figures()
    shown = {"dry": "dry", "green": "green", "pulpwood": "green with bark", "pulpwood 74": "green with bark, 74 ft³",
             "class": "dry, a class", "lost": "weight lost, %"}  # fmt: skip
    lines = []
    for one in figures:
        if one.ours is None:
            lines.append(
                [one.name, "", shown[one.kind], one.printed, "not looked at", "", one.why_not, one.source]
            )
            continue
        ours = f"-{100 * one.ours:.0f} %" if one.kind == "lost" else f"{one.ours:.0f}"
        verdict = "yes" if one.within else "no"
        lines.append(
            [
                one.name,
                one.species,
                shown[one.kind],
                one.printed,
                ours,
                f"{one.off:+.0%}",
                verdict,
                one.source,
            ]
        )
    looked = [one for one in figures if one.off is not None and one.kind in ("dry", "green")]
    said = ", ".join(
        f"{kind} median {median([one.off for one in looked if one.kind == kind]):+.0%}, "
        f"{sum(one.within for one in looked if one.kind == kind)} of {sum(one.kind == kind for one in looked)} within"
        for kind in ("dry", "green")
    )
    return {
        "title": "Weight of a cord",
        "source": (
            "USU Utah State University Extension, USU-COPY copies of it, MEM the same as remembered; FPL20 a list "
            "attributed to the Forest Products Laboratory; BUTT nineteenth century; SREF, AR-TAX, UMN-WS, MN-23933 "
            "pulpwood; HMK classes; NELA sawn wood"
        ),
        "note": (
            "Every figure of the table [lb a cord]. Ours: 80 ft³ of wood without bark, at 20 % of "
            "its dry mass where the "
            "list says dry, as freshly felled where it says green; pulpwood 79 ft³ (74 in the bill "
            "of 1999) with its bark. "
            "What 20 % means the lists do not say: of the whole mass ours would be 4 % more. "
            "Within means the disagreement found between such tables: -14 to +10 % dry, 12 % green; "
            "a class counts from its "
            f"nearer end, a loss as a share of the loss. In all: {said}. The misses stay: most are wood given far more "
            "water than our source has (basswood, catalpa, cottonwood), a name that several woods go "
            "by (cherry, willow), "
            "or the nineteenth century's."
        ),
        "columns": ["wood", "ours is of", "what", "published", "ours", "off", "within", "source"],
        "rows": lines,
    }


def _beside(name: str) -> ModuleType:
    """A module beside this one: the folder is not a package."""
    known = sys.modules.get(f"accuracy_of_{name}")
    if known is not None:
        return known
    spec = importlib.util.spec_from_file_location(
        f"accuracy_of_{name}", Path(__file__).with_name(f"{name}.py")
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    # Dataclasses look their own module up.
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def loads() -> Table:
    pickup = truck_measure(5.5 * FT_M, 20 * IN_M, 16 * IN_M, length_m=8 * FT_M, form="split")
    pile = truck_measure(5.5 * FT_M, 20 * IN_M, 16 * IN_M, length_m=8 * FT_M, form="split", piled="loose")
    trailer = truck_measure(8 * FT_M, 6.5 * FT_M, 16 * FT_M, tiers=2)
    ton = weighed_load(
        66_000 * LB_KG, [(get_species("quercus_rubra"), 0.5), (get_species("acer_saccharum"), 0.5)]
    )
    rows = [
        ["pickup, 5.5 × 8 ft, 20 in deep, stacked level", "1/3 cord", f"{pickup.outside.cords:.2f} cord",
         "Elkhart, Indiana, extension column"],
        ["the same, thrown, once stacked", "1/3 to 1/2 cord",
         f"{pile.solid_m3.mid / pickup.solid_m3.mid * (pickup.outside.cords or 0.0):.2f} cord", "Nebraska G1554"],
        ["semi-trailer of logs, two tiers of 16 ft, 8 × 6.5 ft", "13 cords",
         f"{trailer.outside.cords:.1f} cords, {trailer.solid_m3.low:.0f} to {trailer.solid_m3.high:.0f} m³ of wood",
         "a trade article; sizes ours"],
        ["the same by its 33 tons, half red oak, half sugar maple", "13 cords",
         f"{ton.solid_m3.low:.0f} to {ton.solid_m3.high:.0f} m³ of wood", "as above"],
    ]  # fmt: skip
    for weight, ft3, name, whose in (
        (4300, 74, "populus_tremuloides", "Minnesota 1999, May to October"),
        (4500, 74, "populus_tremuloides", "Minnesota 1999, November to April"),
        (4800, 79, "populus_tremuloides", "Woodland Stewardship"),
        (5700, 79, "quercus_rubra", "Woodland Stewardship"),
    ):
        found = weighed_load(weight * LB_KG, [(get_species(name), 1.0)])
        rows.append(
            [f"cord of {get_species(name).common_en}, {weight} lb green", f"{ft3} ft³ of wood",
             f"{found.solid_m3.mid / FT3_M3:.0f} ft³ ({found.solid_m3.low / FT3_M3:.0f} to "
             f"{found.solid_m3.high / FT3_M3:.0f})", whose]
        )  # fmt: skip
    return {
        "title": "Whole loads by bed and by weight",
        "source": "as named in each row",
        "note": (
            "A level pickup holds by its own dimensions more than the column says: a miss that stays. So does the "
            "trailer by weight: 13 cords of 79 ft³ are 29 m³."
        ),
        "columns": ["load", "published", "ours", "whose"],
        "rows": rows,
    }


def bark() -> Table:
    rows = []
    for name in ("quercus_rubra", "acer_saccharum", "robinia_pseudoacacia", "fraxinus_americana",
                 "fagus_grandifolia", "betula_papyrifera", "pinus_strobus", "picea_glauca"):  # fmt: skip
        species, over = get_species(name), 12 * IN_M
        shares = [share for share in bark_shares(species, over) if share]
        used = bark_share(species, over)
        rows.append(
            [species.common_en, f"{inside_bark(species, over).diameter_m / IN_M:.2f}", f"{used:.1%}",
             inside_bark(species, over).rule, f"{min(shares):.1%} to {max(shares):.1%}",
             f"{bark_volume_sd(species, over):.0%} of it"]
        )  # fmt: skip
    off = []
    for species in all_species():
        shares = list(bark_shares(species, USUAL_LOG_M))
        if len(shares) > 1:
            used = bark_share(species, USUAL_LOG_M)
            off.append(max(abs(share / used - 1.0) for share in shares))
    rms = math.sqrt(sum(one * one for one in off) / len(off))
    return {
        "title": "Bark of a 12 in log: independent tables",
        "source": "Clark et al. 1991 and FVS Northeast (diameters); FIA reference table (volumes)",
        "note": (
            f"At breast height. Over {len(off)} species that stand in more than one, the farthest table is off the one "
            f"used by {rms:.0%} of the bark (root mean square at 30 cm; {sum(one > 0.25 for one in off)} "
            "by more than a quarter). One standard deviation reaches the farthest table, and is a quarter at least; "
            f"where one table alone knows the wood it is {ONE_TABLE_SD:.0%}."
        ),
        "columns": [
            "species",
            "inside bark, in",
            "bark used",
            "rule",
            "by all tables",
            "one standard deviation",
        ],
        "rows": rows,
    }


def stowing_checks() -> Table:
    stove = solid_share("ranked", "round", 16 * IN_M).mid
    limit = (
        stove * (1 + CROOK_M_PER_M * 16 * IN_M / USUAL_THICKNESS_M["round"]) ** 2 * (1 + usual_bark_ratio())
    )

    def cord(**options: object) -> float:
        return stowing("ranked", "round", 4 * FT_M, **options).share.mid * CORD_FT3  # type: ignore[arg-type]

    rows = [
        ["rounds of no length, with bark, share of the room", "0.907", f"{limit:.3f}", "π/(2√3), densest cylinders"],
        ["peeled 4 ft rounds, ft³ a cord", "92", f"{cord(bark_left=0.0):.0f}", "Beers 1964, wood and bark"],
        ["best single cord: 12 in, straight", "95", f"{cord(thickness_m=12 * IN_M, straightness='straight'):.0f}",
         "Woodland Stewardship, most"],
        ["worst single cord: 5 in, crooked", "65", f"{cord(thickness_m=5 * IN_M, straightness='crooked'):.0f}",
         "Woodland Stewardship, least"],
        ["4 ft to stove length, rounds", "0.859", f"{solid_share('ranked', 'round', 4 * FT_M).mid / stove:.3f}",
         "Minnesota statute: made from it"],
        ["split against round", "1.091", f"{stove / solid_share('ranked', 'split', 16 * IN_M).mid:.3f}",
         "Minnesota statute: made from it"],
        ["loose against ranked, split", "0.686",
         f"{solid_share('loose', 'split', 16 * IN_M).mid / solid_share('ranked', 'split', 16 * IN_M).mid:.3f}",
         "Minnesota statute, 120/175: one of four it was made from"],
    ]  # fmt: skip
    return {
        "title": "Stowing: thickness, straightness and bark",
        "source": "as named in each row",
        "note": "What thick, thin, straight and crooked mean in the Lake States' range is our reading.",
        "columns": ["what", "published", "ours", "whose"],
        "rows": rows,
    }


def two_kinds_of_cord() -> Table:
    rows = []
    for place, size in (("128 ft³ (most laws)", 128.0), ("120 ft³ (Minnesota, sawed and split)", 120.0)):
        for lost in (0.0, 0.05):
            found = two_cords(79 * FT3_M3, lost_share=lost, sold_cord_ft3=size).sold_per_logger
            rows.append([place, f"{lost:.0%}", f"{found.mid:.2f}", f"{found.low:.2f} to {found.high:.2f}"])
    return {
        "title": "A logger's cord in sold cords",
        "source": (
            "79 ft³ of wood in a cord of roundwood (Woodland Stewardship; Minn. Stat. 239.33); "
            "85 in one of splits (Maine Forest Service, middle of 80 to 90)"
        ),
        "note": "Computed, no check.",
        "columns": ["a sold cord", "kerf and waste", "sold cords a logger's cord", "10th to 90th"],
        "rows": rows,
    }


def yard_factor() -> Table:
    """Invented yards drawn from the prior: how often the next load lies within what was said."""
    rng = np.random.default_rng(7)
    usual = solid_share("ranked", "split", 16 * IN_M).mid
    rows = []
    for count in (0, 1, 3, 10, 30):
        inside, width, error, published = 0, [], [], []
        for _ in range(100):
            yard = rng.normal(0.0, 0.065)
            kinds = {name: rng.normal(0.0, 0.03) for name in ("a", "b")}
            pairs = []
            for i in range(count):
                kind = "ab"[i % 2]
                off = yard + kinds[kind] + rng.normal(0.0, 0.05)
                solid = 10.0 * math.exp(rng.normal(0.0, 0.03))
                outside = 10.0 / (usual * math.exp(off)) * math.exp(rng.normal(0.0, 0.02))
                pairs.append(
                    LoadPair(
                        _spread(solid, 0.03), _spread(outside, 0.02), "ranked", "split", 16 * IN_M, kind=kind
                    )
                )
            said = learn_yard_factor(pairs).share("ranked", "split", 16 * IN_M, kind="a")
            truth = usual * math.exp(yard + kinds["a"] + rng.normal(0.0, 0.05))
            inside += said.low <= truth <= said.high
            width.append(said.high / said.low)
            error.append(abs(math.log(said.mid / truth)))
            published.append(abs(math.log(usual / truth)))
        rows.append(
            [str(count), f"{inside / 100:.0%}", f"±{(median(width) - 1) / 2:.0%}", f"{np.mean(error):.1%}",
             f"{np.mean(published):.1%}"]
        )  # fmt: skip
    return {
        "title": "The yard's own factor, on invented yards",
        "source": "drawn from the model's own prior: whether it is computed rightly, not whether yards are like that",
        "note": "A range from the 10th to the 90th percentile should hold 80 %; 100 yards, so give or take 4 points.",
        "columns": [
            "loads measured twice",
            "next load inside",
            "range",
            "mean error",
            "by the published share",
        ],
        "rows": rows,
    }


def _spread(mid: float, log_sd: float) -> Spread:
    factor = math.exp(1.2816 * log_sd)
    return Spread(mid / factor, mid, mid * factor)
