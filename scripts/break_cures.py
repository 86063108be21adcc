"""Shows that every database trap's test notices when its cure is taken away.

For each cure, the book and its tests are copied to a temporary folder, the cure is removed from the copy, and the
trap's test is run there: it must be green with the cure and red without. Exits with 1 if any test stays green,
is red to begin with, or cannot be run.

    python scripts/break_cures.py            all cures (about a minute)
    python scripts/break_cures.py --list     their names
    python scripts/break_cures.py NAME ...   only these
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
ENGINE = "src/rickyard/book/engine.py"
TYPES = "src/rickyard/book/types.py"
MIGRATION = "src/rickyard/book/migrations/versions/0001_first_tables.py"
SERVER = "scripts/private_postgres.py"
TRAPS = "tests/book/test_traps.py"
MIGRATED = "tests/book/test_migrations.py"
# All that the book and its tests need; nothing else of the program is imported by them.
COPIED = (
    "src/rickyard/__init__.py",
    "src/rickyard/text.py",
    "src/rickyard/errors.py",
    "src/rickyard/book",
    "tests/book",
    SERVER,
    "pyproject.toml",
)
# pytest's own exit codes: https://docs.pytest.org/en/stable/reference/exit-codes.html
GREEN, RED = 0, 1


@dataclass(frozen=True)
class Cure:
    """A cure, how to take it away (file, text, what stands there instead), and the test that must notice."""

    name: str
    trap: str
    patches: tuple[tuple[str, str, str], ...]
    test: str


LOST = f"{TRAPS}::test_no_update_is_lost_between_four_processes"
CURES = (
    Cure(
        "no-second-handle",
        "6 lost locks: the file is opened and closed beside SQLite",
        (
            (
                "src/rickyard/book/book.py",
                "    if not path.stat().st_size:\n",
                "    path.open('rb').close()\n    if not path.stat().st_size:\n",
            ),
        ),
        f"{TRAPS}::test_a_second_look_at_a_book_leaves_its_locks",
    ),
    Cure(
        "begin-immediate",
        "1 lost updates: the driver begins transactions as it likes",
        (
            (
                ENGINE,
                "            isolation_level=None,  # the driver begins no transactions of its own\n",
                "",
            ),
            (ENGINE, "        connection.exec_driver_sql(begin)\n", "        pass\n"),
        ),
        f"{LOST}[sqlite]",
    ),
    Cure(
        "immediate",
        "1 lost updates: a writer begins like a reader",
        ((ENGINE, 'begin = "BEGIN IMMEDIATE" if writing else "BEGIN"', 'begin = "BEGIN"'),),
        f"{LOST}[sqlite]",
    ),
    Cure(
        "advisory-lock",
        "1 lost updates on PostgreSQL: writers do not wait for each other",
        (
            (
                ENGINE,
                'connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({LOCK_SPACE}, {int(yard_id)})")',
                "pass",
            ),
        ),
        f"{LOST}[postgres]",
    ),
    Cure(
        "foreign-keys",
        "2 foreign keys are off on SQLite",
        ((ENGINE, "'ON' if foreign_keys else 'OFF'", "'OFF'"),),
        f"{TRAPS}::test_an_orphan_is_refused[sqlite]",
    ),
    Cure(
        "every-connection",
        "2 foreign keys are on for writers only",
        ((ENGINE, "'ON' if foreign_keys else 'OFF'", "'ON' if foreign_keys and writing else 'OFF'"),),
        f"{TRAPS}::test_foreign_keys_are_on_in_every_connection[sqlite]",
    ),
    Cure(
        "no-naive-moments",
        "3 time zones vanish: naive moments get in",
        (
            (
                TYPES,
                "        if value.tzinfo is None:\n            raise",
                "        if value is ...:\n            raise",
            ),
        ),
        f"{TRAPS}::test_a_moment_without_a_zone_is_refused[sqlite]",
    ),
    Cure(
        "zone-restored",
        "3 time zones vanish: moments come out naive",
        ((TYPES, "return value.replace(tzinfo=UTC)", "return value"),),
        f"{TRAPS}::test_a_moment_comes_back_in_utc[sqlite]",
    ),
    Cure(
        "stored-as-utc",
        "3 time zones vanish: moments are stored in the zone they came in",
        ((TYPES, "        return value.astimezone(UTC)\n\n    def", "        return value\n\n    def"),),
        f"{TRAPS}::test_a_moment_comes_back_in_utc[sqlite]",
    ),
    Cure(
        "whole-cents",
        "4 decimals are floats on SQLite: fractions get in",
        ((TYPES, "type(value) is not int", "value is ..."),),
        f"{TRAPS}::test_what_is_not_whole_cents_is_refused",
    ),
    Cure(
        "integer-columns",
        "4 decimals are floats on SQLite: sums are made of floats",
        (
            (TYPES, "    impl = BigInteger\n", "    impl = Numeric(18, 2)\n"),
            (TYPES, "import BigInteger, ", "import Numeric, "),
            (TYPES, "        return None if value is None else int(value)\n", "        return value\n"),
            (MIGRATION, "sa.BigInteger()", "sa.Float()"),
        ),
        f"{TRAPS}::test_ten_payments_of_ten_cents_are_a_dollar[sqlite]",
    ),
    Cure(
        "exact-grams",
        "4 the same for wood: grams beyond a float",
        ((MIGRATION, "sa.BigInteger()", "sa.Float()"),),
        f"{TRAPS}::test_grams_beyond_a_float_sum_exactly[sqlite]",
    ),
    Cure(
        "never-root",
        "5 PostgreSQL refuses to run as root",
        ((SERVER, "if os.geteuid() == 0:", "if os.geteuid() < 0:"),),
        f"{TRAPS}::test_the_private_server_does_not_run_as_root",
    ),
    Cure(
        "append-only",
        "entries are never edited: without the triggers they can be",
        ((MIGRATION, '    triggers.protect(op.get_bind(), ("entry", "posting"))\n', ""),),
        f"{MIGRATED}::test_the_journal_is_append_only",
    ),
)


def removed(cure: Cure, root: Path) -> dict[str, str]:
    """The patched contents of each file; ValueError if a cure is not where this script looks for it."""
    contents: dict[str, str] = {}
    for name, old, new in cure.patches:
        text = contents.get(name) or (root / name).read_text(encoding="utf-8")
        if old not in text:
            raise ValueError(
                f"{cure.name}: {name} has no {old!r} to take away; this script must follow the code"
            )
        contents[name] = text.replace(old, new)
    return contents


@contextmanager
def copy_of_the_book() -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="rickyard-cures-") as folder:
        for name in COPIED:
            source, target = ROOT / name, Path(folder) / name
            target.parent.mkdir(parents=True, exist_ok=True)
            if source.is_dir():
                shutil.copytree(source, target, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copy(source, target)
        yield Path(folder)


def run_test(root: Path, test: str) -> tuple[int, str]:
    """Runs a test on the copy; gives pytest's exit code and what it said."""
    # Bytecode is off: a patched file of the same second and size would be taken for the old one.
    env = {**os.environ, "PYTHONPATH": str(root / "src"), "PYTHONDONTWRITEBYTECODE": "1"}
    words = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-p",
        "no:cacheprovider",
        "--tb=line",
        f"--rootdir={root}",
        test,
    ]
    done = subprocess.run(words, cwd=root, env=env, capture_output=True, text=True, timeout=300, check=False)
    return done.returncode, done.stdout + done.stderr


def imported_from(root: Path) -> Path:
    """Where the copy's tests get the program from; anything but the copy would prove nothing."""
    env = {**os.environ, "PYTHONPATH": str(root / "src")}
    words = [sys.executable, "-c", "import rickyard.book; print(rickyard.book.__file__)"]
    done = subprocess.run(words, cwd=root, env=env, capture_output=True, text=True, check=True)
    return Path(done.stdout.strip())


@dataclass(frozen=True)
class Outcome:
    """`wrong` is empty if the test went red as it should; `said` is how it failed."""

    wrong: str
    said: str = ""


def try_cure(cure: Cure) -> Outcome:
    """Runs the cure's test with the cure and without it."""
    with copy_of_the_book() as root:
        if not imported_from(root).is_relative_to(root):
            return Outcome("the copy is not what the tests import")
        code, said = run_test(root, cure.test)
        if code != GREEN:
            return Outcome(f"the test is not green with the cure in place (pytest says {code})", said)
        for name, text in removed(cure, root).items():
            (root / name).write_text(text, encoding="utf-8")
        code, said = run_test(root, cure.test)
        if code == GREEN:
            return Outcome("the test stays green without the cure")
        if code != RED:
            return Outcome(f"the test could not be run without the cure (pytest says {code})", said)
        return Outcome(
            "", next(line for line in said.splitlines() if re.match(r"E +[A-Za-z]|/.*:\d+: ", line))
        )


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        description="Takes each cure of a database trap away and shows its test red."
    )
    parser.add_argument("names", nargs="*", metavar="NAME", help="only these cures")
    parser.add_argument("--list", action="store_true", help="say the names and stop")
    asked = parser.parse_args(arguments)
    known = {cure.name: cure for cure in CURES}
    unknown = [name for name in asked.names if name not in known]
    if unknown:
        parser.error(f"no such cure: {', '.join(unknown)}; there are {', '.join(known)}")
    if asked.list:
        print(*(f"{cure.name:18} {cure.trap}" for cure in CURES), sep="\n")
        return 0
    failed = 0
    for name in asked.names or known:
        cure = known[name]
        if name == "never-root" and os.geteuid() != 0:
            print(f"not tried  {cure.name}: whoever runs this is not root")
            continue
        outcome = try_cure(cure)
        failed += bool(outcome.wrong)
        print(f"{'WRONG' if outcome.wrong else 'red'}  {cure.name}: {outcome.wrong or cure.trap}")
        print(f"      {outcome.said[-2000:]}", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
