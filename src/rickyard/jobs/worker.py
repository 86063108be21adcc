"""The worker that makes stale forecasts.

Each of one or two threads looks for stale forecasts, hands one after the other to a process of its own (the model
keeps a core busy for seconds, and pages must not wait for it) and keeps what comes back. All it needs is in the book,
so it can be stopped at any moment, in the middle of a forecast too, and goes on where it was.
"""

from __future__ import annotations

import logging
import os
import threading
from typing import Any

from rickyard.desk import forecasts
from rickyard.desk.context import Desk
from rickyard.desk.forecast_inputs import ForecastInputs
from rickyard.errors import BookError, RickyardError
from rickyard.jobs.elsewhere import DiedError, Elsewhere

log = logging.getLogger(__name__)

# A yard's computer has two cores or more; a third would hardly be missed, but its memory would.
MOST_MAKERS = 2


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
        maker = Elsewhere("forecasts", _made)
        try:
            while not self._stop.is_set():
                if not self._make_next(maker):
                    wake.wait(self._idle_s)
                    wake.clear()
        finally:
            maker.end()

    def _claim(self) -> ForecastInputs | None:
        """The first stale forecast that nobody is making."""
        with self._claiming:
            for inputs, fresh in forecasts.wanted(self._desk):
                if not fresh and inputs.stack_id not in self._in_hand:
                    self._in_hand.add(inputs.stack_id)
                    return inputs
        return None

    def _make_next(self, maker: Elsewhere) -> bool:
        """Makes the first stale forecast; False if there is none, or the book is in trouble."""
        inputs = None
        try:
            inputs = self._claim()
            if inputs is None:
                return False
            try:
                made = maker.ask(inputs, self._stop)
            except DiedError as error:
                # The same inputs would kill it again, and the other stacks wait.
                made = f"the forecasting process died: {error}"
            if made is None:
                return False
            if isinstance(made, str):
                log.error("forecast of stack %s failed: %s", inputs.stack_id, made)
                forecasts.keep_failure(self._desk, inputs, made)
            else:
                forecasts.keep(self._desk, inputs, *made)
        except BookError as error:
            # What is wrong is in its words; where it was noticed helps nobody.
            log.error("no forecast could be kept; trying again later: %s", error)
            return False
        except RickyardError:
            log.exception("no forecast could be kept; trying again later")
            return False
        finally:
            if inputs is not None:
                with self._claiming:
                    self._in_hand.discard(inputs.stack_id)
        return True


def _made(inputs: ForecastInputs) -> tuple[dict[str, Any], bytes] | str:
    """Runs in the maker's process: a forecast, or the words of its failure."""
    try:
        return forecasts.make(inputs)
    except Exception as error:
        log.exception("forecast of stack %s failed", inputs.stack_id)
        return f"{type(error).__name__}: {error}"
