"""A standing tree: wood, bark, mass and cords from its diameter at breast height, and its height if known.

What the figures are: `wood_m3` and `bark_m3` the whole stem, ground to tip; masses the stem and branches above
ground without leaves; cords the stem between a stump of 1 ft and the top at 4 in over bark, stove-length splits.
Breast height is 4.5 ft (1.37 m) in the United States and 1.30 m in Canada; the difference is let go.

How wide it is, one standard deviation of the logarithm. None of the national equations gives the scatter of one
tree in what was read, so these are judgements, checked against how far the equations differ among themselves:

- 0.15 with the species' own row and a measured height; 0.22 with a group's row. On the 39 species that both
  countries have, the national equations differ by 0.14 (root mean square), the American ones 9 % above; stem
  wood of the latter agrees with Honer's Canadian tables of 1983 within 0.06 on 21 species.
- 0.17 more (in squares) where the height is estimated; in Canada the model without height is used and the same
  holds.
- Jenkins' own root mean square error of the logarithm, 0.18 to 0.51, where Jenkins is used.
- 0.35 more for an open-grown tree: it forks and branches early, and every equation is of forest trees.
- 0.20 more beyond the thickest trees that equations were fitted on.
- Half of how far the report of 2023 contradicts itself: its total above ground and the sum of its own parts, both of
  one tree, differ by 11 % (root mean square over the species), by up to a factor of two for thick white spruce.
- For a genus or a trade name, what its members differ by.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from statistics import fmean, pvariance
from typing import Literal

from rickyard.errors import InputError
from rickyard.measure.limits import within
from rickyard.measure.solid import STOVE_LENGTH_M, expect_from_solid
from rickyard.measure.spread import TO_10_90, Spread
from rickyard.measure.tree_equations import (
    SOURCES,
    Method,
    TreeCode,
    TreeParts,
    canada_parts,
    canada_row_id,
    divisions,
    jenkins_log_sd,
    jenkins_most_d_m,
    jenkins_parts,
    merchantable_share,
    nsvb_knows,
    nsvb_parts,
    tree_codes,
    usual_height_m,
)
from rickyard.measure.units import CORD_M3
from rickyard.text import T_, Quantity, Text
from rickyard.wood import Species, get_species

Country = Literal["US", "CA"]
Grown = Literal["forest", "open"]

COUNTRIES: tuple[Country, ...] = ("US", "CA")
METHODS: tuple[Method, ...] = ("nsvb", "canada", "jenkins")
GROWN: tuple[Grown, ...] = ("forest", "open")

DBH_M = (0.025, 3.0)
TREE_HEIGHT_M = (1.4, 120.0)

OWN_ROW_SD = 0.15
GROUP_ROW_SD = 0.22
HEIGHT_SD = 0.17
OPEN_GROWN_SD = 0.35
BEYOND_SD = 0.20

BEYOND_D_M = 0.70
"""From here on few of the trees behind the equations are so thick [m]: a judgement, near Jenkins' own limits for
hardwoods (56 to 73 cm)."""

CONTRADICTION = 0.2
"""Logarithm of total / sum of parts from which the report's contradiction is told."""

SHORT_SHARE = 0.60
"""A tree lower than so much of what forest trees of its girth reach is taken for open-grown or topped."""

TALLEST_SHARE = 2.5
"""A tree higher than so many times what forest trees of its girth reach had its unit mistaken."""


@dataclass(frozen=True)
class TreeMeasure:
    """What a standing tree holds.

    Attributes
    ----------
    method, source
        nsvb, canada or jenkins, and the publication.
    species_id, dbh_m, height_m, height_estimated
        What was measured; the height [m] is an estimate if the flag says so.
    wood_m3, bark_m3
        Stem wood inside bark and stem bark, ground to tip [m³].
    oven_dry_kg, green_kg
        Stem wood, stem bark and branches above ground, without leaves [kg]; green at the species' green moisture.
    parts_kg
        Oven-dry mass by part: wood, bark, branches, foliage [kg].
    usable_m3
        Stem wood between a stump of 1 ft and 4 in over bark [m³].
    cords
        That wood as ranked stove-length splits.
    branch_cords_most
        Cords more if every branch and top were cut up and stacked: a bound, no estimate.
    log_sd
        One standard deviation of the logarithm of the wood.
    oven_dry_spread_kg
        10th percentile, figure, 90th percentile of the oven-dry mass [kg].
    compared_kg
        Oven-dry mass without leaves by each method that knows the tree [kg].
    warnings
        What to beware of.
    """

    method: Method
    source: str
    species_id: str
    dbh_m: float
    height_m: float
    height_estimated: bool
    wood_m3: float
    bark_m3: float
    oven_dry_kg: float
    green_kg: float
    parts_kg: Mapping[str, float]
    usable_m3: float
    cords: Spread
    branch_cords_most: float
    log_sd: float
    oven_dry_spread_kg: Spread
    compared_kg: Mapping[str, float]
    warnings: tuple[Text, ...]


@dataclass(frozen=True)
class _One:
    """One species' figures by one method."""

    method: Method
    parts: TreeParts
    wood_m3: float
    bark_m3: float
    usable_share: float
    green_kg: float
    log_sd: float


def measure_tree(
    species: Species,
    dbh_m: float,
    height_m: float | None = None,
    *,
    country: str = "US",
    method: str | None = None,
    grown: str = "forest",
    division: str = "",
) -> TreeMeasure:
    """Wood, bark, mass and cords of a standing tree.

    Parameters
    ----------
    species
        A species or a wider name; for the latter the mean of its members, wider.
    dbh_m
        Diameter over bark at breast height [m].
    height_m
        Total height [m]; estimated if None, and said.
    country
        US or CA: whose equations come first.
    method
        nsvb, canada or jenkins instead of the country's.
    grown
        forest, or open for a street or yard tree.
    division
        Ecodivision of the United States, such as 240 or M220; the nation's row if empty.

    Raises InputError for dbh, height, country, method, grown or division.
    """
    dbh = within("dbh", dbh_m, DBH_M)
    tall = None if height_m is None else within("height", height_m, TREE_HEIGHT_M)
    _one_of("country", country, COUNTRIES)
    _one_of("grown", grown, GROWN)
    if division:
        _one_of("division", division, divisions())
    wanted: Method | None = None
    if method is not None:
        _one_of("method", method, METHODS)
        wanted = next(name for name in METHODS if name == method)
    first: Method = wanted or ("canada" if country == "CA" else "nsvb")
    members = [get_species(name) for name in species.members] or [species]
    heights = [usual_height_m(_code(member), dbh) for member in members]
    usual = fmean(heights)
    if tall is not None and tall > TALLEST_SHARE * usual:
        raise InputError(
            "height",
            wanted=T_(
                "at most {most:.0f} m for a tree {dbh:.2f} m thick", most=TALLEST_SHARE * usual, dbh=dbh
            ),
            got=f"{tall:.1f} m",
            next_move=T_("Check the units: feet or metres, inches or centimetres."),
        )
    height = tall if tall is not None else usual
    found = [
        _measured(member, first, dbh, tall, tall if tall is not None else own, division)
        for member, own in zip(members, heights, strict=True)
    ]
    short = tall is not None and tall < SHORT_SHARE * usual
    variance = fmean(one.log_sd**2 for one in found) + pvariance(
        [math.log(one.parts.without_leaves_kg) for one in found]
    )
    if tall is None and any(one.method != "jenkins" for one in found):
        variance += HEIGHT_SD**2
    if grown == "open" or short:
        variance += OPEN_GROWN_SD**2
    if dbh > _most_d_m(found[0].method, members[0]):
        variance += BEYOND_SD**2
    log_sd = math.sqrt(variance)
    used = found[0].method
    usable = fmean(one.wood_m3 * one.usable_share for one in found)
    dry_kg = fmean(one.parts.without_leaves_kg for one in found)
    return TreeMeasure(
        method=used,
        source=SOURCES[used],
        species_id=species.id,
        dbh_m=dbh,
        height_m=height,
        height_estimated=tall is None,
        wood_m3=fmean(one.wood_m3 for one in found),
        bark_m3=fmean(one.bark_m3 for one in found),
        oven_dry_kg=dry_kg,
        green_kg=fmean(one.green_kg for one in found),
        parts_kg={
            "wood": fmean(one.parts.wood_kg for one in found),
            "bark": fmean(one.parts.bark_kg for one in found),
            "branches": fmean(one.parts.branches_kg for one in found),
            "foliage": fmean(one.parts.foliage_kg for one in found),
        },
        usable_m3=usable,
        cords=_cords(usable, log_sd),
        branch_cords_most=_cords(
            fmean(
                one.wood_m3 * (1.0 - one.usable_share) + one.parts.branches_kg / member.basic_density_kg_m3
                for one, member in zip(found, members, strict=True)
            ),
            log_sd,
        ).mid,
        log_sd=log_sd,
        oven_dry_spread_kg=log_spread(dry_kg, log_sd),
        compared_kg=_compared(members, dbh, tall, heights, division),
        warnings=tuple(_warnings(species, members, found, dbh, tall, usual, grown, first)),
    )


def log_spread(mid: float, log_sd: float) -> Spread:
    """10th percentile, figure, 90th percentile of a figure whose logarithm has this standard deviation."""
    factor = math.exp(TO_10_90 * log_sd)
    return Spread(mid / factor, mid, mid * factor)


def _one_of(field: str, given: str, known: tuple[str, ...]) -> None:
    if given not in known:
        raise InputError(
            field,
            wanted=T_("one of: {names}", names=", ".join(known)),
            got=given,
            next_move=T_("Choose one of them, or leave it out."),
        )


def _code(species: Species) -> TreeCode:
    return tree_codes()[species.id]


def _measured(
    species: Species, first: Method, dbh_m: float, told_m: float | None, height_m: float, division: str
) -> _One:
    """One species by the method wanted, by Jenkins if that does not know it."""
    code = _code(species)
    method: Method = "jenkins" if first == "nsvb" and not nsvb_knows(code) else first
    parts = _parts(method, code, dbh_m, told_m, height_m, division)
    wood_m3 = parts.wood_m3 if parts.wood_m3 is not None else parts.wood_kg / species.basic_density_kg_m3
    bark_m3 = parts.bark_m3 if parts.bark_m3 is not None else parts.bark_kg / species.bark_basic_density_kg_m3
    if method == "jenkins":
        log_sd = jenkins_log_sd(code.jenkins_group)
    else:
        log_sd = math.hypot(OWN_ROW_SD if parts.own else GROUP_ROW_SD, math.log(parts.drawn) / 2.0)
    # Branches have bark too: they take on water as stem and bark together do.
    stem = parts.wood_kg + parts.bark_kg
    green_stem = parts.wood_kg * (1 + species.green_mc_db) + parts.bark_kg * (1 + species.bark_green_mc_db)
    return _One(
        method,
        parts,
        wood_m3,
        bark_m3,
        merchantable_share(code, dbh_m, height_m, division),
        green_stem * (1.0 + parts.branches_kg / stem),
        log_sd,
    )


def _parts(
    method: Method, code: TreeCode, dbh_m: float, told_m: float | None, height_m: float, division: str
) -> TreeParts:
    if method == "nsvb":
        return nsvb_parts(code, dbh_m, height_m, division)
    if method == "canada":
        return canada_parts(code, dbh_m, told_m)
    return jenkins_parts(code, dbh_m)


def _compared(
    members: list[Species], dbh_m: float, told_m: float | None, heights_m: list[float], division: str
) -> dict[str, float]:
    """What each method says of the tree: oven-dry mass without leaves [kg]."""
    said: dict[str, float] = {}
    for method in METHODS:
        if method == "nsvb" and not all(nsvb_knows(_code(member)) for member in members):
            continue
        said[method] = fmean(
            _parts(
                method, _code(member), dbh_m, told_m, told_m if told_m is not None else own, division
            ).without_leaves_kg
            for member, own in zip(members, heights_m, strict=True)
        )
    return said


def _cords(usable_m3: float, log_sd: float) -> Spread:
    """The stem as cords of stove-length splits: the tree's spread and the stack's, independent."""
    if usable_m3 <= 0.0:
        return Spread.exactly(0.0)
    stacked = expect_from_solid(usable_m3, "split", STOVE_LENGTH_M).ranked_m3
    stack_sd = math.log(stacked.high / stacked.low) / (2.0 * TO_10_90)
    return log_spread(stacked.mid / CORD_M3, math.hypot(log_sd, stack_sd))


def _most_d_m(method: Method, species: Species) -> float:
    return jenkins_most_d_m(_code(species).jenkins_group) if method == "jenkins" else BEYOND_D_M


def _warnings(
    species: Species,
    members: list[Species],
    found: list[_One],
    dbh_m: float,
    told_m: float | None,
    usual_m: float,
    grown: str,
    first: Method,
) -> list[Text]:
    said: list[Text] = []
    if told_m is None and any(one.method == "nsvb" for one in found):
        said.append(
            T_(
                "The height was not given: {height} is what forest trees so thick usually have. "
                "Measure it for a narrower range.",
                height=Quantity(usual_m, "tall"),
            )
        )
    elif told_m is None:
        said.append(
            T_("The height was not given: mass from the diameter alone. Measure it for a narrower range.")
        )
    if grown == "open":
        said.append(
            T_(
                "Open-grown trees fork and branch early; the equations are of forest trees, so the range is wide: "
                "more branches and less straight stem than the figures say."
            )
        )
    elif told_m is not None and told_m < SHORT_SHARE * usual_m:
        said.append(
            T_(
                "Short for its girth ({height}, forest trees {usual}): open-grown or topped. "
                "The range was widened.",
                height=Quantity(told_m, "tall"),
                usual=Quantity(usual_m, "tall"),
            )
        )
    else:
        said.append(T_("The equations are of forest trees; say so if this one stands in the open."))
    if dbh_m > _most_d_m(found[0].method, members[0]):
        said.append(T_("Few trees so thick stand behind the equations; the range was widened."))
    worst = max((one.parts.drawn for one in found), key=lambda drawn: abs(math.log(drawn)))
    if len(found) == 1 and abs(math.log(worst)) > CONTRADICTION:
        said.append(
            T_(
                "The report contradicts itself here: its total is {times:.2f} times the sum of its parts. "
                "The range was widened.",
                times=worst,
            )
        )
    if species.rank != "species":
        said.append(T_("Mean of {count} species; the range holds what they differ by.", count=len(members)))
    elif not found[0].parts.own:
        said.append(_whose(species, found[0].method))
    if all(one.method == "jenkins" for one in found) and first == "nsvb":
        said.append(
            T_(
                "Woodland trees such as these are measured at the root collar, where the stem leaves the ground."
            )
        )
    if all(one.usable_share == 0.0 for one in found):
        said.append(T_("No part of the stem is as thick as 4 in: no cords of stem wood."))
    return said


def _whose(species: Species, method: Method) -> Text:
    """Which row stood in for a species that has none of its own."""
    code = _code(species)
    if method == "canada":
        name, _ = canada_row_id(code)
        if name == "hardwood":
            return T_("The species has no equation of its own there; that of all hardwoods is used.")
        if name == "softwood":
            return T_("The species has no equation of its own there; that of all softwoods is used.")
        return T_("The species has no equation of its own there; that of its genus is used.")
    if code.how == "relative":
        return T_("The species has no equation of its own there; that of another of its genus is used.")
    if code.how == "genus":
        return T_("The species has no equation of its own there; that of its genus is used.")
    return T_("The species has no equation of its own there; that of its group of species is used.")
