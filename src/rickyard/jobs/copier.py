"""Makes what is downloaded, one at a time, in a process of its own behind the pages: a backup proves itself by
restoring the whole book, which takes a core for a while."""

from __future__ import annotations

import logging
import shutil
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from rickyard.desk.bookkeeping import Period
from rickyard.desk.downloads import DownloadOrder, make_download
from rickyard.errors import BookError, RefusedError, RickyardError
from rickyard.jobs.elsewhere import DiedError, Elsewhere
from rickyard.text import T_, Text

log = logging.getLogger(__name__)


class Copier:
    """Makes archives of the book at `target`; with `background=False` in the caller's own thread."""

    def __init__(self, target: str, *, background: bool = True) -> None:
        self._target, self._background = target, background
        self._busy = threading.Lock()
        self._stop = threading.Event()

    def make(self, kind: str, yard_id: int, *, period: Period | None = None, anyway: bool = False) -> Path:
        """The archive, alone in a folder that only we can read; whoever takes it removes the folder.

        Raises
        ------
        RefusedError
            If another one is being made (`busy_copy`).
        BookError
            If the book cannot be copied, or its check finds faults (`unsound`).
        """
        if not self._busy.acquire(blocking=False):
            raise RefusedError(
                T_("Another copy of the book is being made just now. Wait a minute, then ask again."),
                code="busy_copy",
            )
        try:
            with _folder() as folder:
                order = DownloadOrder(kind, self._target, yard_id, folder / "archive.zip", period, anyway)
                self._make(order)
                return order.archive
        finally:
            self._busy.release()

    def stop(self) -> None:
        """What is being made is given up."""
        self._stop.set()

    def _make(self, order: DownloadOrder) -> None:
        if not self._background:
            make_download(order)
            return
        process = Elsewhere("copier", _outcome)
        try:
            outcome = process.ask(order, self._stop)
        except DiedError as error:
            log.error("the copying process died: %s", error)
            outcome = None
        finally:
            # Copies are rare, and the process holds as much memory as the server.
            process.end()
        if outcome is None:
            raise _unfinished(T_("it was stopped"))
        (error_or_none,) = outcome
        if error_or_none is not None:
            raise error_or_none


def _outcome(order: DownloadOrder) -> tuple[BookError | None]:
    """In the other process, which raises nothing. A tuple, for None means that the work was given up."""
    try:
        make_download(order)
    except RickyardError as error:
        # Only what it says: not every error comes through the pipe as what it is.
        return (BookError(error.text, code=error.code, field=error.field),)
    except Exception as error:
        log.exception("a copy (%s) failed", order.kind)
        return (_unfinished(f"{type(error).__name__}: {error}"),)
    return (None,)


def _unfinished(reason: Text | str) -> BookError:
    return BookError(
        T_(
            "The copy could not be finished: {reason}. See that there is room on the disk, then ask again.",
            reason=reason,
        ),
        code="cannot_copy",
    )


@contextmanager
def _folder() -> Iterator[Path]:
    """A folder with the rights of mkdtemp (its owner alone); gone again if what is made in it fails."""
    folder = Path(tempfile.mkdtemp(prefix="rickyard-copy-"))
    try:
        yield folder
    except BaseException:
        shutil.rmtree(folder)
        raise
