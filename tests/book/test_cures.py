"""Every cure can be found in the code, and the script that takes them away tells red from green.

The whole of it runs by `python scripts/break_cures.py`, which takes about a minute.
"""

from __future__ import annotations

import importlib.util
import re
import sys
from dataclasses import replace
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = ROOT / "scripts" / "break_cures.py"


def load():
    if "break_cures" not in sys.modules:
        spec = importlib.util.spec_from_file_location("break_cures", SCRIPT)
        sys.modules["break_cures"] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules["break_cures"])
    return sys.modules["break_cures"]


NAMES = [cure.name for cure in load().CURES]


@pytest.mark.parametrize("name", NAMES)
def test_each_cure_is_where_the_script_looks(name: str) -> None:
    script = load()
    cure = next(cure for cure in script.CURES if cure.name == name)
    file, test = re.match(r"(.*)::(\w+)", cure.test).groups()

    for patched, text in script.removed(cure, ROOT).items():
        assert text != (ROOT / patched).read_text(encoding="utf-8")
        compile(text, patched, "exec")
    assert f"def {test}(" in (ROOT / file).read_text(encoding="utf-8")


def test_every_trap_has_a_cure() -> None:
    assert {cure.trap[0] for cure in load().CURES} >= set("12345")


def test_a_cure_taken_away_turns_its_test_red() -> None:
    script = load()
    cure = next(cure for cure in script.CURES if cure.name == "foreign-keys")

    assert script.try_cure(cure).wrong == ""


@pytest.mark.parametrize(
    ("codes", "wrong"),
    [
        ((0, 1), ""),
        ((0, 0), "the test stays green without the cure"),
        ((1, 1), "the test is not green with the cure in place (pytest says 1)"),
        ((0, 2), "the test could not be run without the cure (pytest says 2)"),
    ],
)
def test_only_green_then_red_will_do(
    codes: tuple[int, int], wrong: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    script = load()
    answers = iter(codes)
    monkeypatch.setattr(script, "imported_from", lambda root: root)
    monkeypatch.setattr(script, "run_test", lambda root, test: (next(answers), "E   Failed"))

    assert script.try_cure(script.CURES[0]).wrong == wrong


def test_a_cure_that_moved_is_noticed() -> None:
    script = load()
    cure = replace(script.CURES[0], patches=((script.ENGINE, "no such text", ""),))

    with pytest.raises(ValueError, match="must follow the code"):
        script.removed(cure, ROOT)
