"""The worker that makes stale forecasts.

Each of one or two threads looks for stale forecasts, hands one after the other to a process of its own (the model
keeps a core busy for seconds, and pages must not wait for it) and keeps what comes back. All it needs is in the book,
so it can be stopped at any moment, in the middle of a forecast too, and goes on where it was.
"""

from __future__ import annotations

import logging
import multiprocessing
import os
import threading
from multiprocessing.connection import Connection
from typing import Any

from rickyard.desk import forecasts
from rickyard.desk.context import Desk
from rickyard.errors import RickyardError

log = logging.getLogger(__name__)

# How often the thread looks up from waiting for a forecast to see whether it should stop.
LOOK_UP_S = 0.2
# A yard's computer has two cores or more; a third would hardly be missed, but its memory would.
MOST_MAKERS = 2
# How far the makers stand back for pages and everything else on the computer.
NICE = 10


class ForecastWorker:
    """Makes stale forecasts of one yard until stopped.

    Parameters
    ----------
    desk
        The yard's desk.
    idle_s
        How long to wait before looking again when nothing is stale [s]; `nudge` wakes it at once.
    makers
        How many forecasts are made at the same time; None: one for each core, at most two.
    """

    def __init__(self, desk: Desk, *, idle_s: float = 30.0, makers: int | None = None) -> None:
        self._desk = desk
        self._idle_s = idle_s
        self._stop = threading.Event()
        count = min(MOST_MAKERS, os.cpu_count() or 1) if makers is None else makers
        self._wakes = [threading.Event() for _ in range(count)]
        self._threads: list[threading.Thread] = []
        # Which stacks are being made, so that no two makers take the same.
        self._in_hand: set[int] = set()
        self._claiming = threading.Lock()

    def start(self) -> None:
        for wake in self._wakes:
            thread = threading.Thread(target=self._run, args=(wake,), name="forecasts", daemon=True)
            thread.start()
            self._threads.append(thread)

    def nudge(self) -> None:
        """Something changed: look now."""
        for wake in self._wakes:
            wake.set()

    def stop(self) -> None:
        """Stops at once; a forecast in hand is dropped and made next time."""
        self._stop.set()
        self.nudge()
        for thread in self._threads:
            thread.join()
        self._threads.clear()

    def _run(self, wake: threading.Event) -> None:
        maker = _Maker()
        try:
            while not self._stop.is_set():
                if not self._make_next(maker):
                    wake.wait(self._idle_s)
                    wake.clear()
        finally:
            maker.end()

    def _claim(self) -> forecasts.ForecastInputs | None:
        """The first stale forecast that nobody is making."""
        with self._claiming:
            for inputs, fresh in forecasts.wanted(self._desk):
                if not fresh and inputs.stack_id not in self._in_hand:
                    self._in_hand.add(inputs.stack_id)
                    return inputs
        return None

    def _make_next(self, maker: _Maker) -> bool:
        """Makes the first stale forecast; False if there is none, or the book is in trouble."""
        inputs = None
        try:
            inputs = self._claim()
            if inputs is None:
                return False
            try:
                made = maker.make(inputs, self._stop)
            except _MakerDiedError as error:
                # The same inputs would kill it again, and the other stacks wait.
                made = f"the forecasting process died: {error}"
            if made is None:
                return False
            if isinstance(made, str):
                log.error("forecast of stack %s failed: %s", inputs.stack_id, made)
                forecasts.keep_failure(self._desk, inputs, made)
            else:
                forecasts.keep(self._desk, inputs, *made)
        except RickyardError:
            log.exception("no forecast could be kept; trying again later")
            return False
        finally:
            if inputs is not None:
                with self._claiming:
                    self._in_hand.discard(inputs.stack_id)
        return True


class _MakerDiedError(Exception):
    """The forecasting process ended by itself, killed for want of memory, say."""


class _Maker:
    """The process that makes forecasts, started when it is first needed, and again if it died."""

    def __init__(self) -> None:
        self._process: multiprocessing.process.BaseProcess | None = None
        self._ours: Connection | None = None

    def make(
        self, inputs: forecasts.ForecastInputs, stop: threading.Event
    ) -> tuple[dict[str, Any], bytes] | str | None:
        """A forecast, or the words of its failure, or None if asked to stop meanwhile."""
        process, ours = self._started()
        try:
            ours.send(inputs)
            while not ours.poll(LOOK_UP_S):
                if stop.is_set():
                    return None
                if not process.is_alive():
                    raise EOFError
            return ours.recv()  # type: ignore[no-any-return]
        except (EOFError, OSError) as error:
            # End of file if it died at work; a reset or broken pipe if it died before it took the inputs.
            self.end()
            raise _MakerDiedError(f"exit code {process.exitcode}") from error

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
                target=_make_what_comes, args=(theirs,), name="forecasts", daemon=True
            )
            self._process.start()
            theirs.close()
        return self._process, self._ours


def _make_what_comes(theirs: Connection) -> None:
    """Runs in the maker's process: inputs come in, a forecast or the words of its failure go out."""
    if hasattr(os, "nice"):
        os.nice(NICE)
    while True:
        try:
            inputs = theirs.recv()
        except EOFError:
            return
        try:
            theirs.send(forecasts.make(inputs))
        except Exception as error:
            log.exception("forecast of stack %s failed", inputs.stack_id)
            theirs.send(f"{type(error).__name__}: {error}")
