"""A whole load: the logs of a list together, a truck by its bed, a weighbridge ticket, and two measures made one.

Volumes are solid wood inside bark, green.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

from rickyard.errors import InputError
from rickyard.measure.bark import bark_ratio_sd, bark_share, inside_bark
from rickyard.measure.defects import DefectKind, NetVolume
from rickyard.measure.limits import PIECE_LENGTH_M, STACK_LENGTH_M, STACK_ROWS, within
from rickyard.measure.loglist import LogRow, PeeledRow
from rickyard.measure.logs import LogErrors
from rickyard.measure.solid import solid_share
from rickyard.measure.spread import TO_10_90, Spread
from rickyard.measure.stacks import StackMeasure, bin_measure
from rickyard.text import T_, Quantity, Text
from rickyard.wood import Species, get_species
from rickyard.wood.moisture import db_from_wet

SHARED_ERROR = 0.5
"""Share of the variance of the formula's error, and of rot judged by eye, that all logs of a list have in common.
A judgement."""

MOISTURE_TOLD_SD_DB = 0.10
"""How far a moisture told for a whole load is off, one standard deviation [of itself]: a judgement."""

BRIDGE_SD_KG = 20.0
"""A weighbridge's own error with its two weighings, one standard deviation [kg]: a judgement on a step of 20 kg."""

APART = 1.96
"""Two measures disagree when they are further apart than so many standard deviations of their difference."""

OTHER_UNIT = 2.2
"""A size so many times above or below the middle of its column may be in another unit."""


HUGE_D_M = 1.5
"""A log thicker than this is rare enough to be asked about even where it is alone [m]: a judgement."""


@dataclass(frozen=True)
class SpeciesTotal:
    """Logs of one species: how many, volume as measured, bark on them, after deductions, with its spread [m³]."""

    species_id: str
    logs: int
    gross_m3: float
    bark_m3: float
    net_m3: Spread


@dataclass(frozen=True)
class LogListTotal:
    """A list added up.

    Attributes
    ----------
    species
        By species, the largest first.
    logs, gross_m3, bark_m3, net_m3
        Of all; `bark_m3` is counted only where the diameters were taken over bark.
    lost_m3
        Taken off, by kind of defect [m³].
    notes
        Lines that look odd, and what was said of single logs.
    """

    species: tuple[SpeciesTotal, ...]
    logs: int
    gross_m3: float
    bark_m3: float
    net_m3: Spread
    lost_m3: Mapping[DefectKind, float]
    notes: tuple[Text, ...]


def with_bark_by_species(rows: Iterable[LogRow]) -> list[LogRow]:
    """The same logs, measured over bark, with the bark of their species where the list gives none.

    From the diameter at mid length, else the mean of the ends.
    """
    done = []
    thickness: dict[tuple[str, float], float] = {}
    for row in rows:
        if row.bark_thickness_m > 0.0:
            done.append(row)
            continue
        over = _middle_d_m(row)
        key = (row.species_id, round(over, 3))
        if key not in thickness:
            thickness[key] = inside_bark(get_species(row.species_id), over).bark_thickness_m
        least = min(d for d in (row.mid_d_m, row.small_d_m, row.large_d_m) if d is not None)
        # A thin end has thinner bark than the middle; never so much that no wood is left.
        done.append(PeeledRow(**{**vars(row), "bark_thickness_m": min(thickness[key], 0.1 * least)}))
    return done


def _middle_d_m(row: LogRow) -> float:
    if row.mid_d_m is not None:
        return row.mid_d_m
    return ((row.small_d_m or 0.0) + (row.large_d_m or 0.0)) / 2.0


def log_list_total(rows: Sequence[LogRow]) -> LogListTotal:
    """A list of logs added up by species, after deductions.

    Errors of logs measured alike do not all cancel: what the hand and the bark's figure are off by is off for all, and
    so is half the variance of the formula; each log's reading is off for itself.
    Raises InputError for the log that makes no sense.
    """
    if not rows:
        raise InputError(
            "logs", wanted=T_("at least one log"), got="0", next_move=T_("Enter the logs, or paste a list.")
        )
    sums: dict[str, _Sum] = {}
    lost: dict[DefectKind, float] = {}
    said: dict[str, tuple[Text, list[int]]] = {}
    for row in rows:
        one = row.net()
        outside = row.volume_over_bark_m3() if row.bark_thickness_m else one.gross.volume_m3
        sums.setdefault(row.species_id, _Sum()).add(one, outside - one.gross.volume_m3)
        for kind, volume in one.lost_m3.items():
            lost[kind] = lost.get(kind, 0.0) + volume
        for note in one.notes:
            said.setdefault(note.msgid, (note, []))[1].append(row.line)
    whole = _Sum()
    for part in sums.values():
        whole.join(part)
    notes = [
        T_("Lines {lines}: {note}", lines=_lines(lines), note=note) if any(lines) else note
        for note, lines in said.values()
    ]
    totals = [
        SpeciesTotal(name, part.logs, part.gross, part.bark, part.spread()) for name, part in sums.items()
    ]
    return LogListTotal(
        species=tuple(sorted(totals, key=lambda total: -total.net_m3.mid)),
        logs=whole.logs,
        gross_m3=whole.gross,
        bark_m3=whole.bark,
        net_m3=whole.spread(),
        lost_m3=lost,
        notes=(*notes, *odd_sizes(rows)),
    )


class _Sum:
    """Logs added up: volumes and what they may be off by."""

    def __init__(self) -> None:
        self.logs = 0
        self.gross = self.bark = self.net = 0.0
        self.plain = [0.0, 0.0]
        self.squares = [0.0, 0.0]
        self.read = self.hand_sd = self.bark_sd = 0.0

    def add(self, one: NetVolume, bark: float) -> None:
        self.logs += 1
        self.gross += one.gross.volume_m3
        self.bark += bark
        self.net += one.net_m3
        for side, distance in enumerate((one.errors.below, one.errors.above)):
            self.plain[side] += distance
            self.squares[side] += distance * distance
        self.read += one.errors.read_sd**2
        self.hand_sd += one.errors.hand_sd
        self.bark_sd += one.errors.bark_sd

    def join(self, other: _Sum) -> None:
        self.logs += other.logs
        self.gross += other.gross
        self.bark += other.bark
        self.net += other.net
        for side in (0, 1):
            self.plain[side] += other.plain[side]
            self.squares[side] += other.squares[side]
        self.read += other.read
        self.hand_sd += other.hand_sd
        self.bark_sd += other.bark_sd

    def spread(self) -> Spread:
        below, above = (
            math.sqrt(SHARED_ERROR * plain**2 + (1.0 - SHARED_ERROR) * squares)
            for plain, squares in zip(self.plain, self.squares, strict=True)
        )
        return LogErrors(below, above, math.sqrt(self.read), self.hand_sd, self.bark_sd).about(self.net)


def odd_sizes(rows: Sequence[LogRow]) -> list[Text]:
    """Sizes that look like another unit than the rest of their column: said, and taken as they stand."""
    said = []
    columns: tuple[tuple[Text, list[tuple[float | None, int]]], ...] = (
        (T_("length"), [(row.length_m, row.line) for row in rows]),
        (T_("mid diameter"), [(row.mid_d_m, row.line) for row in rows]),
        (T_("small end"), [(row.small_d_m, row.line) for row in rows]),
        (T_("large end"), [(row.large_d_m, row.line) for row in rows]),
    )
    for name, column in columns:
        sizes = [(size, line) for size, line in column if size is not None]
        huge = [line for size, line in sizes if size > HUGE_D_M and name is not columns[0][0]]
        if huge:
            said.append(
                T_(
                    "Lines {lines}: {column} above {most}. Another unit? They count as they stand.",
                    lines=_lines(huge),
                    column=name,
                    most=Quantity(HUGE_D_M, "size"),
                )
            )
        if len(sizes) < 3 or huge:
            continue
        middle = median(size for size, _ in sizes)
        odd = [line for size, line in sizes if not middle / OTHER_UNIT < size < middle * OTHER_UNIT]
        # A list half of which is odd is a list of many sizes.
        if odd and len(odd) <= max(1, len(sizes) // 5):
            said.append(
                T_(
                    "Lines {lines}: {column} far from the others ({middle} in the middle). "
                    "Another unit? They count as they stand.",
                    lines=_lines(odd),
                    column=name,
                    middle=Quantity(middle, "side"),
                )
            )
    return said


def _lines(lines: Sequence[int]) -> str:
    shown = list(dict.fromkeys(lines))
    return ", ".join(map(str, shown[:10])) + (" ..." if len(shown) > 10 else "")


# -- a truck ----------------------------------------------------------------------------------
@dataclass(frozen=True)
class TruckMeasure:
    """A truck's load: outside as it lies, solid wood without bark [m³], notes."""

    outside: StackMeasure
    solid_m3: Spread
    notes: tuple[Text, ...]


def truck_measure(
    width_m: float,
    fill_heights_m: Sequence[float] | float,
    piece_length_m: float,
    *,
    length_m: float | None = None,
    tiers: int = 1,
    piled: str = "ranked",
    form: str = "log",
    taken_by_body_m3: float = 0.0,
) -> TruckMeasure:
    """Solid wood on a truck or trailer, by the inner width of its bed, how high it lies and how long the pieces are.

    Parameters
    ----------
    width_m
        Between the stakes or sides [m].
    fill_heights_m
        Height of the load at one or more places; a crowned or sagging load needs several [m].
    piece_length_m
        Length of the logs or pieces [m].
    length_m
        Of the bed [m], for wood thrown or ranked across; logs along the bed fill `tiers` times their own length.
    tiers
        Piles of logs one behind the other.
    piled
        ranked or loose.
    form
        split, round, log or kindling.
    taken_by_body_m3
        What wheel arches and boxes in the bed take [m³].

    Raises InputError for the size that makes no sense.
    """
    width = within("width", width_m, STACK_LENGTH_M)
    piece = within("piece_length", piece_length_m, PIECE_LENGTH_M)
    if not (isinstance(tiers, int) and STACK_ROWS[0] <= tiers <= STACK_ROWS[1]):
        raise InputError(
            "tiers",
            wanted=T_("a whole number from {low} to {high}", low=STACK_ROWS[0], high=STACK_ROWS[1]),
            got=str(tiers),
            next_move=T_("Count the piles of logs one behind the other."),
        )
    along = piece * tiers if length_m is None else within("length", length_m, STACK_LENGTH_M)
    full = bin_measure(along, width, fill_heights_m, piled=piled)
    body = within("taken_by_body", taken_by_body_m3, (0.0, 0.9 * full.outside_m3), "m³")
    left = 1.0 - body / full.outside_m3
    outside = replace(
        full,
        outside_m3=full.outside_m3 * left,
        outside_ft3=full.outside_ft3 * left,
        cords=None if full.cords is None else full.cords * left,
        spread_m3=full.spread_m3.scaled(left),
    )
    solid = product(outside.spread_m3, solid_share(piled, form, piece))
    notes = []
    if form == "log" and piece > 4.0:
        notes.append(
            T_(
                "Long logs taper and bend: the figures behind this are of 4 ft wood. Count and tape a few logs too."
            )
        )
    return TruckMeasure(outside, solid, tuple(notes))


# -- a weighbridge ----------------------------------------------------------------------------
@dataclass(frozen=True)
class WeighedLoad:
    """A load from its weight.

    Attributes
    ----------
    net_kg
        Gross less tare [kg].
    solid_m3
        Wood without bark, as it was green [m³].
    oven_dry_kg
        Of the wood without bark [kg].
    warnings
        What the figure must not be used for.
    """

    net_kg: float
    solid_m3: Spread
    oven_dry_kg: Spread
    warnings: tuple[Text, ...]


def weighed_load(
    net_kg: float,
    shares: Sequence[tuple[Species, float]],
    *,
    mc_wet: float | None = None,
    bark: bool = True,
) -> WeighedLoad:
    """Solid wood in a load from its weight, its species and its moisture.

    Parameters
    ----------
    net_kg
        Weight of the load [kg].
    shares
        Species with their shares of the solid volume; they are brought to a sum of 1.
    mc_wet
        Moisture of the wood [water / total mass]; None for freshly felled, at the species' green moisture.
    bark
        Whether the bark is on.

    Raises InputError for net, species or moisture.
    """
    net = within("net", net_kg, (1.0, 1e6), "kg")
    whole = math.fsum(share for _, share in shares)
    if not shares or whole <= 0.0 or any(share < 0.0 for _, share in shares):
        raise InputError(
            "species",
            wanted=T_("at least one species with a share above zero"),
            got=str(len(shares)),
            next_move=T_("Say what wood it is; not named yet is a choice."),
        )
    told = None if mc_wet is None else db_from_wet(within("mc_wet", mc_wet, (0.0, 0.8), ""))
    per_m3 = dry = variance = 0.0
    for species, raw in shares:
        share = raw / whole
        db = species.green_mc_db if told is None else told
        db_sd = species.green_mc_db_sd if told is None else MOISTURE_TOLD_SD_DB * told
        bark_db = species.bark_green_mc_db * min(1.0, db / species.green_mc_db)
        wood = species.basic_density_kg_m3 * (1.0 + db)
        skin = species.bark_volume_ratio * species.bark_basic_density_kg_m3 * (1.0 + bark_db) if bark else 0.0
        per_m3 += share * (wood + skin)
        dry += share * species.basic_density_kg_m3
        variance += (
            (share * wood * species.basic_density_sd_kg_m3 / species.basic_density_kg_m3) ** 2
            + (share * species.basic_density_kg_m3 * db_sd) ** 2
            + (share * skin * bark_ratio_sd(species)) ** 2
        )
    log_sd = math.hypot(math.sqrt(variance) / per_m3, BRIDGE_SD_KG / net)
    mid = net / per_m3
    factor = math.exp(TO_10_90 * log_sd)
    solid = Spread(mid / factor, mid, mid * factor)
    # Density errors cancel in the dry mass, and moisture does not; the volume's spread is on the safe side.
    warnings = [
        T_(
            "For your own reckoning: weight turned into volume is no measure to sell by. "
            "Water, bark, snow and mud weigh too."
        )
    ]
    if mc_wet is None:
        warnings.append(T_("Freshly felled wood was taken for granted; logs that lay for months weigh less."))
    return WeighedLoad(net, solid, solid.scaled(dry), tuple(warnings))


# -- two measures of one load -----------------------------------------------------------------
@dataclass(frozen=True)
class Reconciled:
    """Several measures of one load as one.

    Attributes
    ----------
    solid_m3
        The one estimate [m³].
    agree
        Whether every pair lies within what its spreads allow.
    weights
        How much each measure counts, in the order given; they sum to 1.
    apart
        Greatest distance of a pair in standard deviations of its difference.
    notes
        Which measures disagree, and the next move.
    """

    solid_m3: Spread
    agree: bool
    weights: tuple[float, ...]
    apart: float
    notes: tuple[Text, ...]


def reconcile(measures: Sequence[tuple[str | Text, Spread]], *, shared_log_sd: float = 0.0) -> Reconciled:
    """One estimate from several measures of the same load, each a name and a spread in one unit.

    Logarithms of the measures are weighed by their inverse variance. Where a pair is further apart than
    1.96 standard deviations of its difference, the measures disagree: the estimate is widened by what they differ
    by (Birge's ratio), and the pair is named.
    `shared_log_sd` is an error that all of them have in common and that no averaging takes away.

    Raises InputError for measures: fewer than one, or a figure that is not above zero.
    """
    if not measures or any(spread.low <= 0.0 for _, spread in measures):
        raise InputError(
            "measures",
            wanted=T_("one or more measures above zero"),
            got=str(len(measures)),
            next_move=T_("Leave out what was not measured."),
        )
    centres = [(math.log(s.low) + math.log(s.high)) / 2.0 for _, s in measures]
    # A tape that gives no doubt has some all the same: half a percent.
    sds = [max(0.005, math.log(s.high / s.low) / (2.0 * TO_10_90)) for _, s in measures]
    weights = [1.0 / sd**2 for sd in sds]
    whole = math.fsum(weights)
    mean = math.fsum(w * c for w, c in zip(weights, centres, strict=True)) / whole
    sd = math.sqrt(1.0 / whole)
    pairs = [
        (abs(centres[i] - centres[j]) / math.hypot(sds[i], sds[j]), i, j)
        for i in range(len(measures))
        for j in range(i)
    ]
    apart, one, other = max(pairs, default=(0.0, 0, 0))
    notes = []
    if apart > APART:
        chi = math.fsum(w * (c - mean) ** 2 for w, c in zip(weights, centres, strict=True))
        sd *= math.sqrt(max(1.0, chi / (len(measures) - 1)))
        notes.append(
            T_(
                "{first} and {second} disagree: {low:.2f} and {high:.2f}, further apart than their spreads allow. "
                "Look for a slip: a unit, a species, bark, a log counted twice. The range was widened.",
                first=measures[other][0],
                second=measures[one][0],
                low=measures[other][1].mid,
                high=measures[one][1].mid,
            )
        )
    sd = math.hypot(sd, shared_log_sd)
    factor = math.exp(TO_10_90 * sd)
    mid = math.exp(mean)
    return Reconciled(
        Spread(mid / factor, mid, mid * factor),
        apart <= APART,
        tuple(w / whole for w in weights),
        apart,
        tuple(notes),
    )


def product(first: Spread, second: Spread) -> Spread:
    """The product of two independent figures above zero, each taken as a bell curve of the logarithm on each side."""
    mid = first.mid * second.mid
    below = math.hypot(math.log(first.mid / first.low), math.log(second.mid / second.low))
    above = math.hypot(math.log(first.high / first.mid), math.log(second.high / second.mid))
    return Spread(mid / math.exp(below), mid, mid * math.exp(above))


def bark_on_load_m3(solid_m3: float, species: Species, mid_d_m: float) -> float:
    """Bark that comes with so much wood inside bark, by the logs' diameter over bark [m³]."""
    share = bark_share(species, mid_d_m)
    return solid_m3 * share / (1.0 - share)
