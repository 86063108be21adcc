"""Four of many clients that write entries at once, each deed sent twice. Run as a process of its own by the tests.

Arguments: target, yard id, how often each. Says "ready", waits for a line, then says the numbers of its entries.
"""

from __future__ import annotations

import sys
import uuid
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from rickyard.book import Book, Move, do_once, post
from rickyard.book.models import Deed, Lot, Spot

WHEN = {"happened_at": datetime(2026, 3, 1, tzinfo=UTC), "recorded_at": datetime(2026, 3, 1, tzinfo=UTC)}


def main(target: str, yard_id: int, times: int) -> None:
    with Book.open(target) as book:
        with book.read() as session:
            spots = dict(session.execute(select(Spot.kind, Spot.id).where(Spot.yard_id == yard_id)).all())
            lot = session.scalars(select(Lot.id).where(Lot.yard_id == yard_id).order_by(Lot.id)).first()
        assert lot is not None
        moves = [
            Move(spots[kind], "acer_saccharum", "split", lot, grams)
            for kind, grams in (("outside", -10), ("stack", 10))
        ]

        def once(session: Session, key: str) -> int:
            def run(deed: Deed) -> dict[str, int]:
                entry = post(session, yard_id, kind="opening", moves=moves, deed_id=deed.id, **WHEN)
                return {"number": entry.number}

            return int(
                do_once(session, yard_id, client_key=key, kind="count", body={}, run=run, **WHEN)["number"]
            )

        def client(_: int) -> list[int]:
            numbers = []
            for _ in range(times):
                key = uuid.uuid4().hex
                answers = []
                for _ in range(2):
                    with book.write(yard_id) as session:
                        answers.append(once(session, key))
                assert answers[0] == answers[1]
                numbers.append(answers[0])
            return numbers

        sys.stdout.write("ready\n")
        sys.stdout.flush()
        sys.stdin.readline()
        with ThreadPoolExecutor(4) as pool:
            for numbers in pool.map(client, range(4)):
                sys.stdout.write("".join(f"{number}\n" for number in numbers))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
