"""Cuts the small real weather files that the tests read, and what pvlib makes of the whole ones.

Run by hand, with pvlib installed somewhere: it is no dependency of ours (it brings pandas and h5py, 137 MB).
    python scripts/cut_weather_files.py FOLDER_OF_CLIMATE_DATA
Columns that no reader looks at are blanked, so that the files stay small; the values that count are untouched.
"""

from __future__ import annotations

import csv
import gzip
import io
import sys
from pathlib import Path

import numpy as np

OUT = Path(__file__).resolve().parent.parent / "tests" / "weather" / "data" / "files"
EPW = "USA_PA_Pittsburgh-Allegheny.County.AP.725205_TMY3.epw"
TMY3 = "USA_NC_Greensboro_723170TYA_TMY3.csv"
KEPT_EPW = {0, 1, 2, 3, 4, 6, 7, 8, 13, 21}
KEPT_TMY3 = {
    "Date (MM/DD/YYYY)",
    "Time (HH:MM)",
    "GHI (W/m^2)",
    "Dry-bulb (C)",
    "Dew-point (C)",
    "RHum (%)",
    "Wspd (m/s)",
}


def main() -> None:
    folder = Path(sys.argv[1])
    OUT.mkdir(parents=True, exist_ok=True)
    _pvlib(folder)
    lines = (folder / "hourly" / EPW).read_text(encoding="utf-8").splitlines()
    rows = [line.split(",") for line in lines[8:]]
    small = [",".join(cell if i in KEPT_EPW else "0" for i, cell in enumerate(row)) for row in rows]
    heads = [
        ",".join(line.split(",")[:10]) if not line.startswith("LOCATION") else line for line in lines[:8]
    ]
    _write(f"{EPW}.gz", "\n".join([*heads, *small]) + "\n")
    reader = list(csv.reader(io.StringIO((folder / "hourly" / TMY3).read_text(encoding="utf-8"))))
    keep = [i for i, head in enumerate(reader[1]) if head in KEPT_TMY3]
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\n")
    write.writerow(reader[0])
    for row in reader[1:]:
        write.writerow([row[i] for i in keep])
    _write(f"{TMY3}.gz", out.getvalue())
    kamloops = (
        (folder / "hourly" / "ECCC_hourly_Kamloops_A_BC_2016H1.csv").read_text(encoding="utf-8").splitlines()
    )
    _write("ECCC_hourly_Kamloops_A_BC_2016.csv.gz", "\n".join(kamloops[: 1 + 24 * 91]) + "\n")
    daily = (folder / "hourly" / "ECCC_daily_Kamloops_A_BC_2016H1.csv").read_text(encoding="utf-8")
    _write("ECCC_daily_Kamloops_A_BC_2016.csv.gz", daily)
    with gzip.open(folder / "daily" / "GHCN-Daily_USC00106388.csv.gz", "rt", encoding="utf-8") as file:
        kept = [line for line in file if line.split(",")[1][:4] in ("2000", "2001")]
    _write("GHCN-Daily_USC00106388_2000-2001.csv.gz", "".join(kept))


def _pvlib(folder: Path) -> None:
    """Every 37th hour as pvlib reads the whole files, and the means of all."""
    import pvlib

    epw, _ = pvlib.iotools.read_epw(folder / "hourly" / EPW)
    tmy, _ = pvlib.iotools.read_tmy3(folder / "hourly" / TMY3, map_variables=True)
    rows = [["file", "hour", "air_c", "rh_pct", "wind_m_s", "sun_w_m2"]]
    for name, frame in (("epw", epw), ("tmy3", tmy)):
        values = np.stack(
            [frame[c] for c in ("temp_air", "relative_humidity", "wind_speed", "ghi")], axis=1
        ).astype(float)
        rows += [[name, str(i), *(f"{v:g}" for v in values[i])] for i in range(0, len(values), 37)]
        rows.append([name, "mean", *(f"{v:.5f}" for v in values.mean(axis=0))])
    with (OUT / "pvlib_0.16.1.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)


def _write(name: str, text: str) -> None:
    with (OUT / name).open("wb") as file, gzip.GzipFile("", "wb", 9, file, mtime=0) as packed:
        packed.write(text.encode())


if __name__ == "__main__":
    main()
