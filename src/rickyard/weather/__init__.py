"""The sky over the yard: places, monthly normals, and hourly weather made from them.

`find_place` turns a name or a point of the map into a place, `normals_at` gives its usual year with the error that
must be expected, and `generate_air` makes hourly weather for an ensemble of members.
The hour at calendar time t of member j depends on (place, seed, j, t) only.
`read_weather` reads files of real weather, and `air_for` joins what was observed and forecast to the members.
"""

from rickyard.weather.air import HourlyAir, constant_air
from rickyard.weather.climate import as_year
from rickyard.weather.degree_days import cooling_degree_days, heating_degree_days
from rickyard.weather.generator import generate_air, mean_air
from rickyard.weather.humidity import dew_point_c, psat_ice_pa, psat_water_pa, relative_humidity
from rickyard.weather.join import Issue, Sky, air_for, sky_notes
from rickyard.weather.normals import HONEST_ERROR, Normals, NormalsError, interpolate_normals, normals_at
from rickyard.weather.offsets import Offsets, offsets_of
from rickyard.weather.places import (
    Place,
    all_places,
    find_place,
    nearest_places,
    picked_places,
    place_at,
    suggest_places,
)
from rickyard.weather.read import FileMeaning, read_weather
from rickyard.weather.record import FORMATS, Note, WeatherFileError, WeatherRecord, merged

__all__ = [
    "FORMATS",
    "HONEST_ERROR",
    "FileMeaning",
    "HourlyAir",
    "Issue",
    "Normals",
    "NormalsError",
    "Note",
    "Offsets",
    "Place",
    "Sky",
    "WeatherFileError",
    "WeatherRecord",
    "air_for",
    "all_places",
    "as_year",
    "constant_air",
    "cooling_degree_days",
    "dew_point_c",
    "find_place",
    "generate_air",
    "heating_degree_days",
    "interpolate_normals",
    "mean_air",
    "merged",
    "nearest_places",
    "normals_at",
    "offsets_of",
    "picked_places",
    "place_at",
    "psat_ice_pa",
    "psat_water_pa",
    "read_weather",
    "relative_humidity",
    "sky_notes",
    "suggest_places",
]
