"""What wood in a load amounts to: solid, green mass, stacked and loose volume, heat, with ranges."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from rickyard.book import StockKey
from rickyard.heat import heat_of_dry_mass
from rickyard.measure import Spread, YardFactor, kind_of, learn_yard_factor
from rickyard.wood import UNNAMED, Species, get_species


@dataclass(frozen=True)
class SpeciesExpectation:
    """What one species in a load amounts to. Volumes are solid wood inside bark, green."""

    species: Species
    solid_m3: Spread
    oven_dry_kg: float
    green_kg: Spread
    ranked_m3: Spread
    loose_m3: Spread
    heat_mj: Spread
    share: float


@dataclass(frozen=True)
class Expectation:
    """What a load will give, per species and together, if split at a piece length and sold at a moisture.

    `factor`: what the yard's own stacks have taught of how much wood is in them; it made the volumes.
    """

    piece_length_m: float
    mc_wet: float
    species: tuple[SpeciesExpectation, ...]
    total: SpeciesExpectation | None
    factor: YardFactor


PUBLISHED = learn_yard_factor(())
"""What is believed before any load: the published shares."""


MOSTLY = 0.75
"""Share of a mix that makes it of one kind."""


def kind_of_volumes(volumes: dict[Species, float]) -> tuple[str, Species | None]:
    """The kind of a mix of woods by their solid volumes: that of most of it, or `mixed` (None)."""
    total = sum(volumes.values())
    by_kind: dict[str, float] = defaultdict(float)
    for wood, volume in volumes.items():
        by_kind[kind_of(wood)] += volume
    kind, most = max(by_kind.items(), key=lambda item: item[1], default=("", 0.0))
    if not total or most < MOSTLY * total:
        return "mixed", None
    main = max((wood for wood in volumes if kind_of(wood) == kind), key=lambda wood: volumes[wood])
    return kind, main


def kind_of_stock(held: dict[StockKey, int]) -> str:
    """The kind of the wood that the journal holds somewhere."""
    volumes: dict[Species, float] = defaultdict(float)
    for key, grams in held.items():
        if key.form != "bark" and grams > 0:
            wood = get_species(key.species_id)
            volumes[wood] += grams / wood.basic_density_kg_m3
    return kind_of_volumes(volumes)[0]


def expectation(
    held: dict[StockKey, int],
    sd_share: float,
    *,
    piece_length_m: float,
    mc_wet: float,
    factor: YardFactor | None = None,
) -> Expectation:
    """What wood in the journal amounts to: solid, green mass, stacked and loose volume, heat, with ranges."""
    own = factor or PUBLISHED
    wood_g: dict[str, int] = defaultdict(int)
    bark_g: dict[str, int] = defaultdict(int)
    for key, grams in held.items():
        (bark_g if key.form == "bark" else wood_g)[key.species_id] += grams
    total_g = sum(wood_g.values())
    parts = [
        _expect(
            get_species(species_id), grams, bark_g[species_id], sd_share, piece_length_m, mc_wet, total_g, own
        )
        for species_id, grams in sorted(wood_g.items(), key=lambda item: -item[1])
        if grams > 0
    ]
    return Expectation(piece_length_m, mc_wet, tuple(parts), _together(parts) if parts else None, own)


def _expect(
    wood: Species,
    wood_g: int,
    bark_g: int,
    sd_share: float,
    piece_length_m: float,
    mc_wet: float,
    total_g: int,
    factor: YardFactor,
) -> SpeciesExpectation:
    dry_kg = wood_g / 1000
    solid = dry_kg / wood.basic_density_kg_m3
    # The book's spread of the measurement; 10th and 90th percentile of a normal error.
    reach = 1.2816 * sd_share
    solid_spread = Spread(solid * max(0.1, 1 - reach), solid, solid * (1 + reach))
    ranked, loose = (
        factor.share(piled, "split", piece_length_m, kind_of(wood)).into(solid)
        for piled in ("ranked", "loose")
    )
    green = dry_kg * (1 + wood.green_mc_db) + bark_g / 1000 * (1 + wood.bark_green_mc_db)
    green_reach = 1.2816 * (sd_share**2 + (wood.green_mc_db_sd / (1 + wood.green_mc_db)) ** 2) ** 0.5
    return SpeciesExpectation(
        species=wood,
        solid_m3=solid_spread,
        oven_dry_kg=dry_kg,
        green_kg=Spread(green * max(0.1, 1 - green_reach), green, green * (1 + green_reach)),
        ranked_m3=_widened(ranked, sd_share),
        loose_m3=_widened(loose, sd_share),
        heat_mj=_widened(heat_of_dry_mass(wood, dry_kg, mc_wet=mc_wet, basis="net"), sd_share),
        share=wood_g / total_g if total_g else 0.0,
    )


def _widened(spread: Spread, sd_share: float) -> Spread:
    """A conversion's spread and the measurement's own, joined as independent errors."""
    reach = 1.2816 * sd_share * spread.mid
    return Spread(
        max(0.0, spread.mid - ((spread.mid - spread.low) ** 2 + reach**2) ** 0.5),
        spread.mid,
        spread.mid + ((spread.high - spread.mid) ** 2 + reach**2) ** 0.5,
    )


def _together(parts: list[SpeciesExpectation]) -> SpeciesExpectation:
    """The whole load. Spreads are added, not taken in quadrature: the measurement error is common to all."""

    def add(name: str) -> Spread:
        spreads = [getattr(part, name) for part in parts]
        return Spread(
            sum(item.low for item in spreads),
            sum(item.mid for item in spreads),
            sum(item.high for item in spreads),
        )

    return SpeciesExpectation(
        species=parts[0].species if len(parts) == 1 else UNNAMED,
        solid_m3=add("solid_m3"),
        oven_dry_kg=sum(part.oven_dry_kg for part in parts),
        green_kg=add("green_kg"),
        ranked_m3=add("ranked_m3"),
        loose_m3=add("loose_m3"),
        heat_mj=add("heat_mj"),
        share=1.0,
    )
