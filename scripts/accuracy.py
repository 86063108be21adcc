"""Makes docs/accuracy.md: every model against every published set, misses included.

`python scripts/accuracy.py` writes the page; with `--check` it only says whether the page was made by the
models as they are now. Each package's tables come from a module of the same name in scripts/accuracy_d.
"""

from __future__ import annotations

import csv
import hashlib
import importlib.util
import sys
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime
from multiprocessing import get_context
from pathlib import Path
from types import ModuleType

from rickyard.season import MODEL_VERSION

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "accuracy.md"
TWINS = ROOT / "tests" / "season" / "data" / "twins.csv"
MODELS = ("wood", "identify", "measure", "heat", "weather", "season", "rules", "cut", "worth")
LONGEST_FIRST = tuple(sorted(MODELS, key=lambda package: package not in ("season", "identify", "weather")))
SUFFIXES = {".py", ".csv", ".npz", ".gz", ".json"}


def models_fingerprint() -> str:
    """A hash over the source and the data of the packages that compute, independent of where they lie."""
    digest = hashlib.sha256()
    for package in MODELS:
        folder = ROOT / "src" / "rickyard" / package
        for path in sorted(folder.rglob("*")):
            if path.suffix in SUFFIXES and path.is_file():
                digest.update(path.relative_to(ROOT).as_posix().encode())
                digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def page_fingerprint() -> str:
    """The fingerprint that the page says it was made by; empty if there is none."""
    if not PAGE.exists():
        return ""
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        if line.startswith("Models: `"):
            return line.split("`")[1]
    return ""


def twins_made_by() -> str:
    """The model that the twin experiments were run with; empty if they were not."""
    if not TWINS.exists():
        return ""
    with TWINS.open(encoding="utf-8", newline="") as file:
        return next((row["model"] for row in csv.DictReader(file)), "")


def main(arguments: list[str]) -> int:
    if "--check" in arguments:
        if twins_made_by() != MODEL_VERSION:
            print(
                f"{TWINS.name} was made by {twins_made_by() or 'no model'}, the model now is {MODEL_VERSION}: "
                "run scripts/twins.py --write, then make accuracy",
                file=sys.stderr,
            )
            return 1
        if page_fingerprint() == models_fingerprint():
            return 0
        print(
            "docs/accuracy.md was made by another version of the models: run make accuracy", file=sys.stderr
        )
        return 1
    PAGE.write_text(render(), encoding="utf-8")
    return 0


def render() -> str:
    lines = [
        "# How far the models can be trusted",
        "",
        "Made by `make accuracy`; do not edit by hand.",
        "Every model stands here against every published set it was checked on, misses included.",
        "What was used to fit or fill a table is no check of it, and is said to be a fit.",
        "",
        f"Made on {datetime.now(UTC).date().isoformat()}.",
        f"Models: `{models_fingerprint()}`",
        "",
    ]
    # Packages do not wait for each other; those that take longest begin first.
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        made = dict(zip(LONGEST_FIRST, pool.map(_section, LONGEST_FIRST), strict=True))
    for package in MODELS:
        lines += made[package]
    return "\n".join(lines)


def _section(package: str) -> list[str]:
    module = _module(package)
    if module is None:
        return []
    lines = [f"## {package}", ""]
    for table in module.tables():
        lines += [f"### {table['title']}", ""]
        if table.get("source"):
            lines += [f"Source: {table['source']}", ""]
        if table.get("note"):
            lines += [table["note"], ""]
        lines.append("| " + " | ".join(table["columns"]) + " |")
        lines.append("|" + "---|" * len(table["columns"]))
        lines += ["| " + " | ".join(_cell(value) for value in row) + " |" for row in table["rows"]]
        lines.append("")
    return lines


def _cell(value: str) -> str:
    return str(value).replace("|", "\\|").replace("\n", " ")


def _module(package: str) -> ModuleType | None:
    path = ROOT / "scripts" / "accuracy_d" / f"{package}.py"
    if not path.exists():
        return None
    spec = importlib.util.spec_from_file_location(f"accuracy_of_{package}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
