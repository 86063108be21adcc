"""Makes docs/commands.md: the help of every command, as the command itself gives it."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from pathlib import Path

os.environ["COLUMNS"] = "100"
os.environ["NO_COLOR"] = "1"

from rickyard.cli.app import run

PAGE = Path(__file__).resolve().parent.parent / "docs" / "commands.md"
COMMANDS = (
    (),
    ("species",),
    ("heat",),
    ("measure", "tree"),
    ("measure", "log"),
    ("measure", "list"),
    ("measure", "stack"),
    ("measure", "truck"),
    ("measure", "weight"),
    ("measure", "reconcile"),
    ("measure", "heap"),
    ("measure", "box"),
    ("measure", "bundle"),
    ("measure", "steps"),
    ("measure", "cords"),
    ("season", "forecast"),
    ("season", "meter"),
    ("rules", "measure"),
    ("rules", "wording"),
    ("serve",),
    ("book",),
    ("book", "new"),
    ("book", "demo"),
    ("book", "check"),
    ("book", "upgrade"),
    ("book", "backup"),
    ("book", "restore"),
    ("book", "export"),
    ("book", "import"),
    ("book", "stock"),
    ("people",),
    ("people", "list"),
    ("people", "add"),
    ("people", "role"),
    ("people", "password"),
    ("people", "lock-out"),
)


def help_of(command: tuple[str, ...]) -> str:
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        run([*command, "--help"])
    return "\n".join(line.rstrip() for line in printed.getvalue().strip().splitlines())


def render() -> str:
    lines = [
        "# Commands",
        "",
        "Made by `make commands`; do not edit by hand.",
        "",
        "Lengths and volumes may be typed with their unit (`16in`, `40cm`, `8ft`); a bare number is SI.",
        "Moistures in and out are fractions of total mass (`--moisture-wet`) unless their name says otherwise;",
        "only a meter reading is a percent, as displayed, of dry mass.",
        "`--json` prints one object on standard output; bad input ends with exit code 2 and one error object on",
        'standard error: `{"error": {"code", "field", "message"}}`.',
        "",
    ]
    for command in COMMANDS:
        lines += [f"## {' '.join(('rickyard', *command))}", "", "```text", help_of(command), "```", ""]
    return "\n".join(lines)


if __name__ == "__main__":
    if "--check" in sys.argv[1:]:
        fresh = PAGE.exists() and PAGE.read_text(encoding="utf-8") == render()
        sys.exit(0 if fresh else "docs/commands.md is stale: run make commands")
    PAGE.write_text(render(), encoding="utf-8")
