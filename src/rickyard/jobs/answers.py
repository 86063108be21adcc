"""The worker that answers questions which take seconds, so that no page waits for them.

Questions come from pages, wait in a short line, and are worked out one at a time in a process of its own, the last
asked first, for somebody is looking at it; patient ones (a whole calendar) come after all others.
Answers are kept in memory, the latest few hundred; a question whose line grew too long is simply asked again.
"""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict
from dataclasses import dataclass
from typing import Any, Literal

from rickyard.desk.answers import Question
from rickyard.jobs.elsewhere import DiedError, Elsewhere

log = logging.getLogger(__name__)

KEPT, WAITING = 300, 200


@dataclass(frozen=True)
class Answer:
    """`ready` with its value, `waiting` with how many are `ahead` of it, or `failed` with what went wrong."""

    state: Literal["ready", "waiting", "failed"]
    value: Any = None
    error: str = ""
    ahead: int = 0


class Answers:
    """Works out questions in the background; with `background=False` at once, while the caller waits."""

    def __init__(self, *, background: bool = True) -> None:
        self.background = background
        self._kept: OrderedDict[str, Answer] = OrderedDict()
        self._line: OrderedDict[str, Question] = OrderedDict()
        self._at_work = ""
        self._lock = threading.Lock()
        self._wake = threading.Event()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def peek(self, question: Question) -> Answer | None:
        """The answer if it is known already; asks nothing."""
        with self._lock:
            return self._kept.get(question.key)

    def get(self, question: Question) -> Answer:
        """The answer, or that it is being worked out: ask again soon."""
        key = question.key
        with self._lock:
            known = self._kept.get(key)
            if known is not None:
                self._kept.move_to_end(key)
                return known
            if self.background:
                if key != self._at_work:
                    waiting = self._line.get(key)
                    if waiting is not None and waiting.patient and not question.patient:
                        # Somebody looks at it now.
                        del self._line[key]
                    self._line.setdefault(key, question)
                    while len(self._line) > WAITING:
                        self._line.popitem(last=False)
                self._start()
                ahead = 0 if key == self._at_work else 1 + self._before(key)
                return Answer("waiting", ahead=ahead)
        return self._keep(key, _worked_out(question))

    def stop(self) -> None:
        """Stops at once; what was being worked out is dropped."""
        self._stop.set()
        self._wake.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None

    def _before(self, key: str) -> int:
        """How many in the line come before this one."""
        line = list(self._line.values())
        mine = self._line[key]
        if mine.patient:
            place = list(self._line).index(key)
            return sum(not other.patient for other in line) + sum(other.patient for other in line[:place])
        place = list(self._line).index(key)
        return sum(not other.patient for other in line[place + 1 :])

    def _next(self) -> Question | None:
        with self._lock:
            keys = [key for key, question in self._line.items() if not question.patient]
            key = keys[-1] if keys else next(iter(self._line), None)
            if key is None:
                self._at_work = ""
                return None
            self._at_work = key
            return self._line.pop(key)

    def _keep(self, key: str, answer: Answer) -> Answer:
        with self._lock:
            self._kept[key] = answer
            if self._at_work == key:
                self._at_work = ""
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return answer

    def _start(self) -> None:
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name="answers", daemon=True)
            self._thread.start()
        self._wake.set()

    def _run(self) -> None:
        process = Elsewhere("answers", _worked_out)
        try:
            while not self._stop.is_set():
                question = self._next()
                if question is None:
                    self._wake.wait(30.0)
                    self._wake.clear()
                    continue
                try:
                    answer = process.ask(question, self._stop)
                except DiedError as error:
                    log.error("the answering process died: %s", error)
                    answer = Answer("failed", error=f"the answering process died: {error}")
                if answer is not None:
                    self._keep(question.key, answer)
        finally:
            process.end()


def _worked_out(question: Question) -> Answer:
    try:
        return Answer("ready", question.answer())
    except Exception as error:
        log.exception("%s failed", type(question).__name__)
        return Answer("failed", error=f"{type(error).__name__}: {error}")
