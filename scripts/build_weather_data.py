"""Packs the climate reference tables into src/rickyard/weather/data.

`python scripts/build_weather_data.py FOLDER` reads `places.csv` and `normals_monthly.csv` from FOLDER and writes

- `places.csv.gz`: one row per place, text kept with its sources;
- `normals.npz`: one int16 array [places, 12] per monthly quantity with the size of its unit step, in the order
  of `places.csv.gz`.

What is changed on the way, and nothing else: runs of blanks and station numbers are cut from names; `'S` becomes
`'s`; the lumped regions `Atlantic` and `YT/NT/NU` become the province or territory, read from the first digits of
the Canadian climate identifier (81 NB, 82 NS, 83 PE, 84 and 85 NL, 21 YT, 22 NT, 23 and 24 NU: from memory, and
each of the 24 places lies where that says); labels abroad end with the country.
Values of the normals are not touched.
"""

from __future__ import annotations

import csv
import gzip
import io
import re
import sys
from pathlib import Path

import numpy as np

TARGET = Path(__file__).resolve().parent.parent / "src" / "rickyard" / "weather" / "data"

STEPS = {
    "tmean_c": 0.01,
    "tmax_c": 0.01,
    "tmin_c": 0.01,
    "sd_tmax_c": 0.01,
    "sd_tmin_c": 0.01,
    "tdew_c": 0.01,
    "rh_pct": 0.1,
    "wind_ms": 0.01,
    "precip_mm": 0.1,
    "wetdays": 0.01,
    "p_ww": 0.01,
    "p_wd": 0.01,
    "wetday_mean_mm": 0.01,
    "wetday_sd_mm": 0.01,
    "wetday_skew": 0.01,
    "rad_mj_m2_d": 0.01,
    "sd_rad_mj_m2_d": 0.01,
    "hdd18": 0.1,
}

CLIMATE_ID_PROVINCE = {
    "81": "NB",
    "82": "NS",
    "83": "PE",
    "84": "NL",
    "85": "NL",
    "21": "YT",
    "22": "NT",
    "23": "NU",
    "24": "NU",
}

COUNTRIES = {
    "AM": "Armenia",
    "AU": "Australia",
    "BA": "Bosnia and Herzegovina",
    "BG": "Bulgaria",
    "BY": "Belarus",
    "CH": "Switzerland",
    "CZ": "Czechia",
    "DE": "Germany",
    "DK": "Denmark",
    "EE": "Estonia",
    "ES": "Spain",
    "FI": "Finland",
    "FR": "France",
    "GB": "United Kingdom",
    "HR": "Croatia",
    "HU": "Hungary",
    "IS": "Iceland",
    "IT": "Italy",
    "JP": "Japan",
    "KZ": "Kazakhstan",
    "LT": "Lithuania",
    "LU": "Luxembourg",
    "NL": "Netherlands",
    "NO": "Norway",
    "PL": "Poland",
    "RO": "Romania",
    "RU": "Russia",
    "SE": "Sweden",
    "SI": "Slovenia",
    "SJ": "Svalbard",
    "SK": "Slovakia",
    "UA": "Ukraine",
}

PLACE_COLUMNS = (
    "place_id",
    "name",
    "label",
    "region",
    "country",
    "lat",
    "lon",
    "elev_m",
    "quality",
    "pick",
    "record_years",
    "source",
    "wind_source",
    "normals_source",
)


def main(folder: Path) -> None:
    with (folder / "places.csv").open(encoding="utf-8", newline="") as file:
        places = list(csv.DictReader(file))
    with (folder / "normals_monthly.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))

    index = {place["place_id"]: i for i, place in enumerate(places)}
    tables = {name: np.full((len(places), 12), np.nan) for name in STEPS}
    sources: dict[str, set[str]] = {place["place_id"]: set() for place in places}
    for row in rows:
        for name, table in tables.items():
            table[index[row["place_id"]], int(row["month"]) - 1] = float(row[name])
        sources[row["place_id"]].add(row["source"])

    for place in places:
        (tag,) = sources[place["place_id"]]
        place["normals_source"] = tag
        tidy(place)

    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, PLACE_COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(places)
    TARGET.mkdir(parents=True, exist_ok=True)
    with (
        (TARGET / "places.csv.gz").open("wb") as raw,
        gzip.GzipFile(filename="", mode="wb", fileobj=raw, compresslevel=9, mtime=0) as packed,
    ):
        packed.write(text.getvalue().encode("utf-8"))

    arrays: dict[str, np.ndarray] = {}
    for name, step in STEPS.items():
        whole = np.rint(tables[name] / step)
        worst = np.abs(whole * step - tables[name]).max()
        if not worst < 1e-6:
            raise SystemExit(f"{name}: a step of {step} loses {worst}")
        arrays[name] = whole.astype(np.int16)
        if not np.array_equal(arrays[name], whole):
            raise SystemExit(f"{name}: does not fit 16 bits")
    names = list(STEPS)
    arrays["names"] = np.array(names)
    arrays["steps"] = np.array([STEPS[name] for name in names])
    np.savez_compressed(TARGET / "normals.npz", **arrays)


def tidy(place: dict[str, str]) -> None:
    """Names and regions as people write them; see the head of this file."""
    name = re.sub(r"\s{2,}.*$", "", place["name"].strip()).replace("'S", "'s").replace("'L ", "'l ")
    label = place["label"].strip().replace("'S", "'s").replace("'L ", "'l ")
    city = label.rsplit(", ", 1)[0] if place["region"] else label
    city = re.sub(r"\s\d{5,}(\s\d+)?$", "", re.sub(r"\s{2,}", " ", city))
    if place["region"] in ("Atlantic", "YT/NT/NU"):
        place["region"] = CLIMATE_ID_PROVINCE[re.sub(r"^ca-ca00", "", place["place_id"])[:2]]
    end = place["region"] or COUNTRIES[place["country"]]
    place["name"] = name
    place["label"] = f"{city}, {end}"


if __name__ == "__main__":
    main(Path(sys.argv[1]))
