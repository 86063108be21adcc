"""Makes NOTICE from docs/notice.d: each data set's origin, licence and credit."""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def render() -> str:
    head = (
        "Rickyard is licensed under the MIT licence (see LICENSE).\n"
        "It carries data made from the sources below; each stands under its own terms.\n"
    )
    parts = [
        path.read_text(encoding="utf-8").strip() for path in sorted((ROOT / "docs/notice.d").glob("*.md"))
    ]
    return "\n\n".join([head.strip(), *parts]) + "\n"


if __name__ == "__main__":
    target = ROOT / "NOTICE"
    if "--check" in sys.argv[1:]:
        sys.exit(0 if target.read_text(encoding="utf-8") == render() else "NOTICE is stale: run make notice")
    target.write_text(render(), encoding="utf-8")
