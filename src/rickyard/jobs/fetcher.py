"""The worker that asks weather services: a thread, because it waits for others nearly all the time."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable

from rickyard.desk import fetching
from rickyard.desk.context import Desk
from rickyard.errors import BookError, RickyardError
from rickyard.feeds import Client

log = logging.getLogger(__name__)


class WeatherFetcher:
    """Asks the yard's weather services when they are due, until stopped.

    Parameters
    ----------
    desk
        The yard's desk.
    idle_s
        How long to wait before looking again [s]; `nudge` wakes it at once.
    fetched
        Called after a service answered: forecasts may have become stale.
    """

    def __init__(
        self, desk: Desk, *, idle_s: float = 300.0, fetched: Callable[[], None] = lambda: None
    ) -> None:
        self._desk = desk
        self._idle_s = idle_s
        self._fetched = fetched
        self._stop = threading.Event()
        self._wake = threading.Event()
        # Its pauses end when it is stopped.
        self._client = Client(wait=self._pause)
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        self._thread = threading.Thread(target=self._run, name="weather", daemon=True)
        self._thread.start()

    def nudge(self) -> None:
        """A service was turned on or off: look now."""
        self._wake.set()

    def stop(self, wait_s: float = 5.0) -> None:
        """Stops; an answer still awaited is given up with the process, and asked for again next time."""
        self._stop.set()
        self._wake.set()
        if self._thread is not None:
            self._thread.join(wait_s)
            self._thread = None

    def _pause(self, seconds: float) -> None:
        self._stop.wait(seconds)

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                for service in fetching.due(self._desk):
                    if self._stop.is_set():
                        return
                    if fetching.fetch(self._desk, service, self._client):
                        self._fetched()
            except BookError as error:
                # What is wrong is in its words; where it was noticed helps nobody.
                log.error("no weather could be kept; trying again later: %s", error)
            except RickyardError:
                log.exception("no weather could be kept; trying again later")
            self._wake.wait(self._idle_s)
            self._wake.clear()
