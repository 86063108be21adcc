"""Packs the station years that the second world of the twin experiments is driven by.

`python scripts/pack_hours.py CLIMATE_FOLDER` reads the hourly files that `hourly_files.py` knows (not part of the
repository; docs/notice.d says where each comes from) and writes tests/season/data/hours/*.csv.gz, one row an hour
from the first of January in local standard time, 29 February left out.
Missing temperatures, humidities and winds are filled here by a straight line between the neighbours, and how many
were is printed for SOURCES.md; radiation stays empty where the station has none.
"""

from __future__ import annotations

import csv
import gzip
import io
import sys
from pathlib import Path

import numpy as np
from hourly_files import Station, all_stations

TARGET = Path(__file__).resolve().parent.parent / "tests" / "season" / "data" / "hours"
#: File written: beginning of the station's name, and a word that tells two of the same name apart by kind.
WANTED = {
    "montreal_2012": ("Montreal Trudeau 2012", "observed"),
    "montreal_typical": ("Montreal-McTavish", "typical"),
    "la_guardia_2013": ("New York LGA 2013", "observed"),
    "newark_2013": ("New York EWR 2013", "observed"),
    "kennedy_typical": ("New York J F Kennedy", "typical"),
    "vancouver_typical": ("Vancouver", "typical"),
}


def main(arguments: list[str]) -> int:
    stations = all_stations(Path(arguments[0]))
    TARGET.mkdir(parents=True, exist_ok=True)
    for name, (begins, kind) in WANTED.items():
        found = [s for s in stations if s.name.startswith(begins) and s.kind == kind]
        if len(found) != 1:
            names = ", ".join(s.name for s in stations)
            raise ValueError(f"{len(found)} stations begin with {begins!r}; there are: {names}")
        pack(TARGET / f"{name}.csv.gz", found[0])
    return 0


def pack(path: Path, station: Station) -> None:
    keep = np.array([(day.month, day.day) != (2, 29) for day in station.days])
    columns, missing = [], []
    for values in (station.temp_c, station.rh_pct, station.wind_m_s):
        flat = values[keep].ravel()
        gaps = np.isnan(flat)
        missing.append(int(gaps.sum()))
        columns.append(np.interp(np.arange(len(flat)), np.flatnonzero(~gaps), flat[~gaps]))
    sun = None if station.sun_w_m2 is None else station.sun_w_m2[keep].ravel()
    wet = None if station.wet is None else np.repeat(station.wet[keep], 24)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["temp_c", "rh_pct", "wind_m_s", "sun_w_m2", "wet_day"])
    for i in range(len(columns[0])):
        writer.writerow(
            [
                f"{columns[0][i]:.1f}",
                f"{columns[1][i]:.0f}",
                f"{columns[2][i]:.1f}",
                "" if sun is None else f"{sun[i]:.0f}",
                "" if wet is None else int(wet[i]),
            ]
        )
    with path.open("wb") as raw, gzip.GzipFile(filename="", fileobj=raw, mode="wb", mtime=0) as file:
        file.write(text.getvalue().encode())
    print(
        f"{path.name}: {station.name}, {len(columns[0])} hours, filled: {missing}, {path.stat().st_size} bytes"
    )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
