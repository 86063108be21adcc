"""Makes docs/images/cut-sheet.png and split-sheet.png from invented logs, for docs/cutting.md."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image

from rickyard.cut import Saw, advice, ease_of, plan_cuts, read_logs, read_wares, split_round
from rickyard.measure import IN_M
from rickyard.paper import CutSheetData, SplitSheetData, picture_cut_sheet, picture_split_sheet
from rickyard.text import T_
from rickyard.wood import find_species

IMAGES = Path(__file__).resolve().parent.parent / "docs" / "images"
MADE_AT = datetime(2026, 11, 26, 8, 0, tzinfo=UTC)
LOGS = """log_id,length_ft,d_large_in,d_small_in,species,defects_ft
K1,12,14.5,12.5,sugar maple,4.2-5.1:crotch
K2,8,11,10,yellow birch,
K3,16,13,10,white ash,0-0.6:rot;9-9.3:nail
K4,10,9.5,8,sugar maple,
"""
WARES = """ware,piece_length_in,value_per_solid_m3,wanted_solid_m3,min_d_in,max_d_in
stove-16,16,125,,3,
hearth-18,18,120,0.4,4,
boiler-36,36,85,,,13
"""


def shrunk(png: bytes) -> bytes:
    """Half as large: drawings set at so few dots lose parts of lines and figures."""
    with Image.open(io.BytesIO(png)) as page:
        out = io.BytesIO()
        page.convert("RGB").resize((page.width // 2, page.height // 2), Image.Resampling.LANCZOS).save(
            out, "PNG", optimize=True
        )
    return out.getvalue()


def main() -> None:
    IMAGES.mkdir(parents=True, exist_ok=True)
    plan = plan_cuts(read_logs(LOGS).logs, read_wares(WARES).wares, Saw(0.008, 0.0254))
    sheet = CutSheetData(plan=plan, made_at=MADE_AT, title="Logs from Heron Flats Road")
    (IMAGES / "cut-sheet.png").write_bytes(shrunk(picture_cut_sheet(sheet, ppi=180)[0]))
    limit = 5 * IN_M
    rounds = SplitSheetData(
        plans=tuple(
            (T_("Wanted: no thicker than {limit}.", limit="5 in"), split_round(inches * IN_M, limit))
            for inches in (12, 18)
        ),
        made_at=MADE_AT,
        notes=advice(ease_of(find_species("black locust")))[:2],
    )
    (IMAGES / "split-sheet.png").write_bytes(shrunk(picture_split_sheet(rounds, ppi=180)[0]))


if __name__ == "__main__":
    main()
