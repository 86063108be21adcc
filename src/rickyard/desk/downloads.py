"""What is taken out of a served book by page or API, as an archive in a folder of its own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rickyard.book import Book, back_up, export_archive
from rickyard.desk.bookkeeping import Period, write_bookkeeping
from rickyard.desk.context import Desk


@dataclass(frozen=True)
class DownloadOrder:
    """`kind`: bookkeeping (of a period), book (the export of all tables) or backup.

    `target` holds the password of a database on a server: it is handed on, never shown.
    `anyway`: a backup is made although the check finds faults in it.
    """

    kind: str
    target: str
    yard_id: int
    archive: Path
    period: Period | None = None
    anyway: bool = False

    def __repr__(self) -> str:
        return f"DownloadOrder({self.kind!r})"


def make_download(order: DownloadOrder) -> None:
    """Makes the archive; BookError as `back_up` and `export_archive` raise it."""
    if order.kind == "backup":
        back_up(order.target, order.archive, anyway=order.anyway)
    elif order.kind == "book":
        export_archive(order.target, order.archive)
    else:
        assert order.period is not None
        with Book.open(order.target) as book:
            write_bookkeeping(Desk(book, order.yard_id), order.period, order.archive)
