"""What wood in a load amounts to: solid, green mass, stacked and loose volume, heat, with ranges."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from rickyard.book import StockKey
from rickyard.heat import heat_of_dry_mass
from rickyard.measure import Spread, expect_from_solid
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
    """What a load will give, per species and together, if split at a piece length and sold at a moisture."""

    piece_length_m: float
    mc_wet: float
    species: tuple[SpeciesExpectation, ...]
    total: SpeciesExpectation | None


def expectation(
    held: dict[StockKey, int], sd_share: float, *, piece_length_m: float, mc_wet: float
) -> Expectation:
    """What wood in the journal amounts to: solid, green mass, stacked and loose volume, heat, with ranges."""
    wood_g: dict[str, int] = defaultdict(int)
    bark_g: dict[str, int] = defaultdict(int)
    for key, grams in held.items():
        (bark_g if key.form == "bark" else wood_g)[key.species_id] += grams
    total_g = sum(wood_g.values())
    parts = [
        _expect(get_species(species_id), grams, bark_g[species_id], sd_share, piece_length_m, mc_wet, total_g)
        for species_id, grams in sorted(wood_g.items(), key=lambda item: -item[1])
        if grams > 0
    ]
    return Expectation(piece_length_m, mc_wet, tuple(parts), _together(parts) if parts else None)


def _expect(
    wood: Species,
    wood_g: int,
    bark_g: int,
    sd_share: float,
    piece_length_m: float,
    mc_wet: float,
    total_g: int,
) -> SpeciesExpectation:
    dry_kg = wood_g / 1000
    solid = dry_kg / wood.basic_density_kg_m3
    # The book's spread of the measurement; 10th and 90th percentile of a normal error.
    reach = 1.2816 * sd_share
    solid_spread = Spread(solid * max(0.1, 1 - reach), solid, solid * (1 + reach))
    outside = expect_from_solid(solid, "split", piece_length_m)
    green = dry_kg * (1 + wood.green_mc_db) + bark_g / 1000 * (1 + wood.bark_green_mc_db)
    green_reach = 1.2816 * (sd_share**2 + (wood.green_mc_db_sd / (1 + wood.green_mc_db)) ** 2) ** 0.5
    return SpeciesExpectation(
        species=wood,
        solid_m3=solid_spread,
        oven_dry_kg=dry_kg,
        green_kg=Spread(green * max(0.1, 1 - green_reach), green, green * (1 + green_reach)),
        ranked_m3=_widened(outside.ranked_m3, sd_share),
        loose_m3=_widened(outside.loose_m3, sd_share),
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
