"""The part of `check` that looks at the two chains: the journal's, and that of deeds, papers and measures."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sqlalchemy.orm import Session

from rickyard.book import chain, seals
from rickyard.text import T_, Text

Found = Iterator[tuple[str, Text]]


@dataclass(frozen=True)
class Kept:
    """An entry's number and hash in the chain of a yard, or a link's (`of`), as they were said once."""

    yard_id: int
    number: int
    hash: str
    of: str = "entry"


def look_at_chains(session: Session) -> Found:
    yield from _journal(session)
    yield from _rows(session)


def _journal(session: Session) -> Found:
    """Every entry is still what was sealed."""
    for found in chain.breaks(session.connection()):
        number = found.number
        yield {
            "unsealed": ("chain_broken", T_("Entry {number} has no seal in the chain.", number=number)),
            "changed": (
                "chain_broken",
                T_(
                    "Entry {number}, or the harvest place of its wood, is not what was sealed: it was changed "
                    "afterwards. Compare it with a backup.",
                    number=number,
                ),
            ),
            "reason": (
                "chain_broken",
                T_("The reason of entry {number} is not the one that was sealed.", number=number),
            ),
            "order": (
                "chain_broken",
                T_("The seal of entry {number} does not hang on the one before it.", number=number),
            ),
            "gone": (
                "chain_broken",
                T_("Entry {number} was sealed and is gone. Look for it in a backup.", number=number),
            ),
        }[found.what]


def _rows(session: Session) -> Found:
    """Every row of the sealed tables is still what was sealed last."""
    for found in seals.breaks(session.connection()):
        of = {"row": found.row_id, "table": found.table, "number": found.number}
        yield (
            "seal_broken",
            {
                "changed": T_(
                    "Row {row} of {table} is not what was sealed: it was changed by other means than Rickyard. "
                    "Compare it with a backup.",
                    **of,
                ),
                "unsealed": T_(
                    "Row {row} of {table} has no seal: it was written by other means than Rickyard, or its seal was "
                    "taken away. Compare it with a backup.",
                    **of,
                ),
                "gone": T_("Row {row} of {table} was sealed and is gone. Look for it in a backup.", **of),
                "again": T_(
                    "Row {row} of {table} was sealed anew in link {number}, and no deed is there that changed it. "
                    "Compare it with a backup.",
                    **of,
                ),
                "link": T_(
                    "Link {number} over deeds and papers is not what was sealed, or does not hang on the one before "
                    "it. Compare the book with a backup.",
                    **of,
                ),
            }[found.what],
        )


def hold_against(session: Session, kept: Iterable[Kept]) -> Found:
    """Both chains up to what was kept are what they were: its hash hangs on all before it."""
    for one in kept:
        if one.of == "link":
            yield from _hold_link(session, one)
            continue
        now = chain.hash_of(session.connection(), one.yard_id, one.number)
        if now is None:
            yield (
                "journal_shorter",
                T_(
                    "Entry {number} of yard {yard} was in the book once and is not any more: this book is older, "
                    "another one, or cut off.",
                    number=one.number,
                    yard=one.yard_id,
                ),
            )
        elif now != one.hash:
            yield (
                "journal_rewritten",
                T_(
                    "Entry {number} of yard {yard} is sealed {now}, but it was sealed {was}: this is another book, or "
                    "its journal was changed up to there and sealed anew.",
                    number=one.number,
                    yard=one.yard_id,
                    now=now,
                    was=one.hash,
                ),
            )


def _hold_link(session: Session, one: Kept) -> Found:
    now = seals.hash_of(session.connection(), one.yard_id, one.number)
    if now is None:
        yield (
            "links_shorter",
            T_(
                "Link {number} over deeds and papers of yard {yard} was in the book once and is not any more: this "
                "book is older, another one, or cut off.",
                number=one.number,
                yard=one.yard_id,
            ),
        )
    elif now != one.hash:
        yield (
            "links_rewritten",
            T_(
                "Link {number} over deeds and papers of yard {yard} is sealed {now}, but it was sealed {was}: this is "
                "another book, or rows were changed up to there and sealed anew.",
                number=one.number,
                yard=one.yard_id,
                now=now,
                was=one.hash,
            ),
        )
