"""The first start on a fresh machine: `rickyard serve --demo` in an empty folder, until its first page has come.

    python -m benchmarks.first_start            the table
    python -m benchmarks.first_start --write    and the section of docs/speed.md made anew

Times are the process's own processor time, for others may load the machine, and the clock's beside it.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

import psutil

from benchmarks.pages import SPEED, put_into

TITLE = "## The first start with the demo yard"
ROUNDS, GOAL_S = 3, 60.0
# What the server says on the way, and what is done by then.
STEPS = (
    ("Making the demo yard", "program read in"),
    ("demo yard: done", "book of the demo yard made"),
    ("Rickyard is at", "server ready"),
)
LAST = "first page come"
# Once measured, to compare with.
BEFORE = (
    "Before deeds were made to ask less of the book (commit 1351963, the same machine at a load of 12) it was 4.1, "
    "26.0, 27.1 and 27.6 s of processor time."
)


def start() -> dict[str, tuple[float, float]]:
    """By step: the process's user time and the clock's time since the start [s]."""
    found: dict[str, tuple[float, float]] = {}
    with tempfile.TemporaryDirectory(prefix="rickyard-first-") as folder:
        began = time.monotonic()
        server = subprocess.Popen(
            [
                *(sys.executable, "-u", "-m", "rickyard", "serve", "--demo", "--port", "0"),
                *("--book", str(Path(folder) / "book.sqlite")),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        looked_at = psutil.Process(server.pid)

        def note(step: str) -> None:
            found[step] = looked_at.cpu_times().user, time.monotonic() - began

        try:
            for line in server.stdout or ():
                for mark, step in STEPS:
                    if line.startswith(mark):
                        note(step)
                if line.startswith(STEPS[-1][0]):
                    address = line.split(" at ")[1].split()[0]
                    with urllib.request.urlopen(address, timeout=60) as page:
                        page.read()
                    note(LAST)
                    break
            else:
                raise RuntimeError(f"the server ended before it was ready: {server.wait()}")
        finally:
            server.terminate()
            server.wait(30)
    return found


def report(say: Callable[[str], None], rounds: int = ROUNDS) -> None:
    times = [start() for _ in range(rounds)]
    say(TITLE)
    say("")
    say(
        f"`rickyard serve --demo` in an empty folder, medians of {rounds} starts, seconds since the start, "
        f"measured on {datetime.now(UTC).date().isoformat()} at a load of {os.getloadavg()[0]:.1f} "
        f"on {os.cpu_count()} cores."
    )
    say(BEFORE)
    say("The worker, which makes the forecasts, is a process of its own and not counted.")
    say("")
    say("| until | processor time (user) | by the clock |")
    say("|---|---|---|")
    for step in (*(step for _, step in STEPS), LAST):
        user_s, clock_s = (median(one[step][place] for one in times) for place in (0, 1))
        say(f"| {step} | {user_s:.1f} | {clock_s:.1f} |")
    page_s = median(one[LAST][0] for one in times)
    met = "met" if page_s <= GOAL_S else "missed"
    say("")
    say(
        "- seconds until the first page on a machine with nothing else to do, by the processor time: "
        f"{page_s:.0f}; goal {GOAL_S:g}: {met}."
    )


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.first_start", description=__doc__)
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    parser.add_argument("--write", action="store_true", help="put the section into docs/speed.md")
    args = parser.parse_args()
    lines: list[str] = []

    def say(text: str) -> None:
        print(text, flush=True)
        lines.append(text)

    report(say, args.rounds)
    if args.write:
        put_into(SPEED, lines)


if __name__ == "__main__":
    main()
