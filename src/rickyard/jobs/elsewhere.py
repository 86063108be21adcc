"""Work done in a process of its own: pages must not wait while it keeps a core busy."""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import Any

# How often a thread looks up from waiting for an answer to see whether it should stop.
LOOK_UP_S = 0.2
# Behind the pages, which are quick when they come to the processor at all.
NICE = 10


class DiedError(Exception):
    """The process ended by itself, killed for want of memory, say."""


class Elsewhere:
    """A process that works out what it is sent, started when it is first needed, and again if it died.

    Parameters
    ----------
    name
        Of the process.
    work
        Gives the answer to what is sent; a function of a module, that raises nothing: it says its failures.
    """

    def __init__(self, name: str, work: Callable[[Any], Any]) -> None:
        self._name, self._work = name, work
        self._process: multiprocessing.process.BaseProcess | None = None
        self._ours: Connection | None = None

    def ask(self, what: Any, stop: threading.Event) -> Any | None:
        """The answer, or None if asked to stop meanwhile. Raises DiedError if the process ended by itself."""
        process, ours = self._started()
        try:
            ours.send(what)
            while not ours.poll(LOOK_UP_S):
                if stop.is_set():
                    return None
                if not process.is_alive():
                    raise EOFError
            return ours.recv()
        except (EOFError, OSError) as error:
            # End of file if it died at work; a reset or broken pipe if it died before it took what was sent.
            self.end()
            raise DiedError(f"exit code {process.exitcode}") from error

    def end(self) -> None:
        if self._process is not None:
            self._process.terminate()
            self._process.join()
        if self._ours is not None:
            self._ours.close()
        self._process = self._ours = None

    def _started(self) -> tuple[multiprocessing.process.BaseProcess, Connection]:
        if self._process is None or self._ours is None:
            # "spawn": a forked child would inherit the web server's threads and database connections.
            context = multiprocessing.get_context("spawn")
            self._ours, theirs = context.Pipe()
            self._process = context.Process(
                target=_work_on_what_comes, args=(theirs, self._work), name=self._name, daemon=True
            )
            self._process.start()
            theirs.close()
        return self._process, self._ours


def _work_on_what_comes(theirs: Connection, work: Callable[[Any], Any]) -> None:
    """Runs in the other process until nobody asks any more."""
    if hasattr(os, "nice"):
        os.nice(NICE)
    while True:
        try:
            what = theirs.recv()
        except EOFError:
            return
        theirs.send(work(what))
