"""What wood is: species, density, moisture, sorption, shrinkage.

Pure: no database, no clock, no file but the tables packaged in `data`.
"""

from rickyard.wood.density import (
    density_at,
    density_kg_m3,
    dry_mass_at_kg,
    dry_mass_kg,
    estimated_shrinkage_pct,
    green_mass_with_bark_kg,
    green_to_dry_with_bark,
    mass_kg,
    most_water_db,
    shrinkage_share,
    sinks_above_db,
    solid_volume_factor,
)
from rickyard.wood.lasting import ServiceLife, WoodCaution, service_life, wood_cautions
from rickyard.wood.lookup import (
    UNNAMED,
    UNNAMED_HARDWOOD,
    UNNAMED_SOFTWOOD,
    AmbiguousNameError,
    all_groups,
    all_species,
    find_species,
    get_species,
    species_named,
    suggest_species,
)
from rickyard.wood.moisture import db_from_wet, mass_lost_share, mc_db_after_weighing, wet_from_db
from rickyard.wood.names import plain
from rickyard.wood.sorption import emc_db, emc_range_db, fibre_saturation_db, rh_at_emc
from rickyard.wood.species import Group, Rank, Species

__all__ = [
    "UNNAMED",
    "UNNAMED_HARDWOOD",
    "UNNAMED_SOFTWOOD",
    "AmbiguousNameError",
    "Group",
    "Rank",
    "ServiceLife",
    "Species",
    "WoodCaution",
    "all_groups",
    "all_species",
    "db_from_wet",
    "density_at",
    "density_kg_m3",
    "dry_mass_at_kg",
    "dry_mass_kg",
    "emc_db",
    "emc_range_db",
    "estimated_shrinkage_pct",
    "fibre_saturation_db",
    "find_species",
    "get_species",
    "green_mass_with_bark_kg",
    "green_to_dry_with_bark",
    "mass_kg",
    "mass_lost_share",
    "mc_db_after_weighing",
    "most_water_db",
    "plain",
    "rh_at_emc",
    "service_life",
    "shrinkage_share",
    "sinks_above_db",
    "solid_volume_factor",
    "species_named",
    "suggest_species",
    "wet_from_db",
    "wood_cautions",
]
