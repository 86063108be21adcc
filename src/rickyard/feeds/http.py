"""One way to ask: with limits on time and size, a few tries with growing pauses, and no more often than is polite."""

from __future__ import annotations

import email.utils
import threading
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime

import httpx

from rickyard import __version__
from rickyard.errors import FeedError
from rickyard.text import T_

CONNECT_S, READ_S, WHOLE_S = 10.0, 20.0, 60.0
"""Time to connect, between two pieces of an answer, and for all of it [s]."""
MOST_BYTES = 30_000_000
TRIES = 3
FIRST_PAUSE_S, MOST_PAUSE_S = 2.0, 30.0
"""A pause doubles after every failed try; a service that asks for a longer one is asked again another time."""
BETWEEN_S = 1.0
"""Least time between two requests to one host [s]."""
BUSY_AGAIN_S = 3600.0
"""When to ask again after `429` without a time [s]."""


class Client:
    """Asks services for bytes.

    Parameters
    ----------
    wait
        Sleeps; tests count instead.
    clock
        Seconds that only grow.
    connect_s, read_s, whole_s
        Limits of time [s].
    """

    def __init__(
        self,
        *,
        wait: Callable[[float], None] = time.sleep,
        clock: Callable[[], float] = time.monotonic,
        connect_s: float = CONNECT_S,
        read_s: float = READ_S,
        whole_s: float = WHOLE_S,
    ) -> None:
        self._wait = wait
        self._clock = clock
        self._limits = httpx.Timeout(read_s, connect=connect_s)
        self._whole_s = whole_s
        self._last: dict[str, float] = {}
        self._turn = threading.Lock()

    def get(self, url: str, params: Mapping[str, str | int | float]) -> bytes:
        """The body of a `200`.

        Raises FeedError: after three tries if the service is unreachable, late, cut off or failing; at once if it
        refuses or asks to wait longer than half a minute.
        """
        pause = FIRST_PAUSE_S
        for left in range(TRIES - 1, -1, -1):
            self._my_turn(url)
            try:
                return self._once(url, params)
            except FeedError as error:
                asked = error.again_s
                if not left or error.code == "feed_refused" or (asked is not None and asked > MOST_PAUSE_S):
                    raise
                self._wait(pause if asked is None else max(asked, pause))
                pause = min(2.0 * pause, MOST_PAUSE_S)
        raise AssertionError("unreachable")

    def _my_turn(self, url: str) -> None:
        host = httpx.URL(url).host
        with self._turn:
            now = self._clock()
            due = self._last.get(host, now - BETWEEN_S) + BETWEEN_S
            if due > now:
                self._wait(due - now)
            self._last[host] = max(now, due)

    def _once(self, url: str, params: Mapping[str, str | int | float]) -> bytes:
        host = httpx.URL(url).host
        begun = self._clock()
        try:
            with (
                httpx.Client(
                    timeout=self._limits, headers={"User-Agent": f"Rickyard/{__version__}"}
                ) as client,
                client.stream("GET", url, params=dict(params)) as answer,
            ):
                body = bytearray()
                for piece in answer.iter_bytes():
                    body += piece
                    if len(body) > MOST_BYTES:
                        raise FeedError(
                            T_("{host} sent more than {most} MB.", host=host, most=MOST_BYTES // 1_000_000),
                            code="feed_nonsense",
                        )
                    if self._clock() - begun > self._whole_s:
                        raise _late(host)
                return _checked(host, answer, bytes(body))
        except httpx.TimeoutException as error:
            raise _late(host) from error
        except (httpx.RemoteProtocolError, httpx.ReadError, httpx.DecodingError) as error:
            raise FeedError(
                T_("{host} broke off in the middle of its answer.", host=host), code="feed_cut"
            ) from error
        except httpx.HTTPError as error:
            raise FeedError(
                T_(
                    "{host} cannot be reached: {reason}.",
                    host=host,
                    reason=str(error) or type(error).__name__,
                ),
                code="feed_unreachable",
            ) from error


def _checked(host: str, answer: httpx.Response, body: bytes) -> bytes:
    status = answer.status_code
    if status == 200:
        return body
    said = _reason(body)
    if status == 429:
        raise FeedError(
            T_("{host} says that it was asked too often; it is asked again later.", host=host),
            code="feed_busy",
            again_s=_retry_after(answer.headers.get("retry-after", "")),
        )
    if status >= 500:
        raise FeedError(
            T_("{host} is in trouble itself (error {status}).", host=host, status=status), code="feed_failed"
        )
    raise FeedError(
        T_(
            "{host} refuses (error {status}{said}). Check the address and the key.",
            host=host,
            status=status,
            said=f": {said}" if said else "",
        ),
        code="feed_refused",
    )


def _reason(body: bytes) -> str:
    """What the service says of itself, shortened; only text that is plainly text."""
    text = body[:2000].decode("utf-8", errors="replace")
    if '"reason"' in text:
        text = text.split('"reason"', 1)[1].lstrip(' :"').split('"')[0]
    elif "<" in text:
        return ""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())[:160]


def _retry_after(text: str) -> float:
    if text.strip().isdigit():
        return float(text)
    moment = email.utils.parsedate_tz(text)
    if moment is not None:
        return max(email.utils.mktime_tz(moment) - datetime.now(UTC).timestamp(), 0.0)
    return BUSY_AGAIN_S


def _late(host: str) -> FeedError:
    return FeedError(T_("{host} did not answer in time.", host=host), code="feed_late")
