"""The house keeps its own rules: arrows go one way, pages made by commands are fresh, nothing points outside."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "src" / "rickyard"
PURE = {"wood", "identify", "measure", "heat", "weather", "season", "rules", "cut", "worth"}
# What each package may import of ours; the arrows of docs/architecture.md.
MAY_IMPORT: dict[str, set[str]] = {
    "wood": set(),
    "identify": {"wood"},
    "measure": {"wood"},
    "heat": {"wood", "measure"},
    "weather": {"wood"},
    "season": {"wood", "weather", "measure"},
    "rules": {"measure"},
    "cut": {"wood", "measure"},
    "worth": {"wood", "measure", "cut"},
    "show": {"wood", "measure"},
    "paper": {"show", "measure", "rules", "wood", "cut"},
    "feeds": {"weather"},
    "book": set(),
    "desk": PURE | {"book", "feeds", "show", "paper"},
    "jobs": {"desk", "feeds"},
    "web": PURE | {"desk", "jobs", "show", "paper"},
    "cli": PURE | {"desk", "paper", "show", "web"},
}
EVERYWHERE = {"errors", "text", "__version__"}


def imports_of(path: Path) -> set[str]:
    """The packages of ours that a module imports, by their first name."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names = [item.name for item in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module == "rickyard":
            names = [f"rickyard.{item.name}" for item in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
        else:
            continue
        found |= {name.split(".")[1] for name in names if name.startswith("rickyard.")}
    return found - EVERYWHERE


@pytest.mark.parametrize("package", sorted(MAY_IMPORT))
def test_arrows_go_one_way(package: str) -> None:
    wrong = {
        (path.relative_to(SOURCE).as_posix(), name)
        for path in (SOURCE / package).rglob("*.py")
        for name in imports_of(path) - {package} - MAY_IMPORT[package]
    }
    assert wrong == set()


@pytest.mark.parametrize("package", sorted(PURE))
def test_pure_packages_open_nothing_and_read_no_clock(package: str) -> None:
    forbidden = re.compile(
        r"\b(sqlalchemy|socket|urllib|requests|httpx|datetime\.now|date\.today|time\.time)\b"
    )
    wrong = {
        (path.relative_to(SOURCE).as_posix(), found.group())
        for path in (SOURCE / package).rglob("*.py")
        for found in forbidden.finditer(path.read_text(encoding="utf-8"))
    }
    assert wrong == set()


@pytest.mark.parametrize(
    "script",
    [
        ["accuracy.py", "--check"],
        ["notice.py", "--check"],
        ["commands.py", "--check"],
        ["words.py", "--check"],
    ],
    ids=lambda arguments: arguments[0],
)
def test_pages_made_by_a_command_are_fresh(script: list[str]) -> None:
    """`make accuracy`, `make notice`, `make commands` and `make words` have been run after the last change."""
    done = subprocess.run(
        [sys.executable, str(ROOT / "scripts" / script[0]), *script[1:]],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_accuracy_check_can_fail(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A page made by other models is found out."""
    import importlib.util

    spec = importlib.util.spec_from_file_location("accuracy", ROOT / "scripts" / "accuracy.py")
    assert spec is not None
    assert spec.loader is not None
    accuracy = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(accuracy)
    page = tmp_path / "accuracy.md"
    page.write_text("Models: `0123456789abcdef`\n")
    monkeypatch.setattr(accuracy, "PAGE", page)

    assert accuracy.main(["--check"]) == 1


def test_no_module_has_outgrown_its_reader() -> None:
    long = {
        path.relative_to(ROOT).as_posix(): count
        for path in SOURCE.rglob("*.py")
        if (count := len(path.read_text(encoding="utf-8").splitlines())) > 650
    }
    assert long == {}
