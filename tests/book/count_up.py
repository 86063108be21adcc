"""Counts up a number in a book as deeds do: reads it, then writes it. Run as a process of its own by the tests.

Arguments: target, yard id, how often. Says "ready", waits for a line, then says which numbers it got.
"""

from __future__ import annotations

import json
import sys

from sqlalchemy import text

from rickyard.book import Book


def main(target: str, yard_id: int, times: int) -> None:
    got = []
    with Book.open(target) as book:
        sys.stdout.write("ready\n")
        sys.stdout.flush()
        sys.stdin.readline()
        for _ in range(times):
            with book.write(yard_id) as session:
                where = {"yard_id": yard_id}
                number = session.execute(
                    text("SELECT next FROM serial WHERE yard_id = :yard_id AND kind = 'load'"), where
                ).scalar_one()
                session.execute(
                    text("UPDATE serial SET next = :next WHERE yard_id = :yard_id AND kind = 'load'"),
                    {**where, "next": number + 1},
                )
            got.append(number)
    sys.stdout.write(json.dumps(got))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
