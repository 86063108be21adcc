"""The worker that makes stale forecasts.

A thread looks for stale forecasts, hands each to another process (the model keeps a core busy for seconds,
and pages must not wait for it) and keeps what comes back. One worker a book; all it needs is in the book,
so it can be stopped at any moment and starts where it was.
"""

from __future__ import annotations

import logging
import multiprocessing
import threading
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import Any

from rickyard.desk import forecasts
from rickyard.desk.context import Desk
from rickyard.errors import RickyardError

log = logging.getLogger(__name__)


class ForecastWorker:
    """Makes stale forecasts of one yard until stopped.

    Parameters
    ----------
    desk
        The yard's desk.
    processes
        How many forecasts are made at once [count].
    idle_s
        How long to wait before looking again when nothing is stale [s]; `nudge` wakes it at once.
    """

    def __init__(self, desk: Desk, *, processes: int = 1, idle_s: float = 30.0) -> None:
        self._desk = desk
        self._processes = processes
        self._idle_s = idle_s
        self._stop = threading.Event()
        self._wake = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        self._thread = threading.Thread(target=self._run, name="forecasts", daemon=True)
        self._thread.start()

    def nudge(self) -> None:
        """Something changed: look now."""
        self._wake.set()

    def stop(self) -> None:
        """Stops after the forecast in hand; what is unfinished is made next time."""
        self._stop.set()
        self._wake.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None

    def _run(self) -> None:
        # "spawn": a forked child would inherit the web server's threads and database connections.
        context = multiprocessing.get_context("spawn")
        pool = ProcessPoolExecutor(self._processes, mp_context=context)
        try:
            while not self._stop.is_set():
                try:
                    stale = [inputs for inputs, fresh in forecasts.wanted(self._desk) if not fresh]
                except RickyardError:
                    log.exception("the book cannot be read; trying again later")
                    stale = []
                if not stale:
                    self._wake.wait(self._idle_s)
                    self._wake.clear()
                    continue
                try:
                    self._make(pool, stale)
                except BrokenProcessPool:
                    log.exception("the forecasting process died; starting another")
                    pool.shutdown(wait=False, cancel_futures=True)
                    pool = ProcessPoolExecutor(self._processes, mp_context=context)
                    self._wake.wait(self._idle_s)
                    self._wake.clear()
        finally:
            pool.shutdown(wait=True, cancel_futures=True)

    def _make(self, pool: ProcessPoolExecutor, stale: list[forecasts.ForecastInputs]) -> None:
        """Makes a first handful, then lets the loop look again: what is stale may have changed meanwhile."""
        batch = stale[: 2 * self._processes]
        running: list[tuple[forecasts.ForecastInputs, Future[tuple[dict[str, Any], bytes]]]] = [
            (inputs, pool.submit(forecasts.make, inputs)) for inputs in batch
        ]
        for inputs, future in running:
            if self._stop.is_set():
                future.cancel()
                continue
            try:
                summary, members_mc = future.result()
            except BrokenProcessPool:
                raise
            except Exception as error:
                log.exception("forecast of stack %s failed", inputs.stack_id)
                forecasts.keep_failure(self._desk, inputs, f"{type(error).__name__}: {error}")
            else:
                forecasts.keep(self._desk, inputs, summary, members_mc)
