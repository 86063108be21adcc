"""Long questions: answered in a process of their own, in an order that suits who waits, and no failure sticks."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from rickyard.desk.answers import CalendarLine, HurriedLine
from rickyard.jobs import Answer, Answers
from rickyard.jobs import answers as module


@dataclass(frozen=True)
class Sum:
    """A question that is quick; `die` ends the process that works on it."""

    value: int
    patient: bool = False
    die: bool = False

    @property
    def key(self) -> str:
        return repr(self)

    def answer(self) -> tuple[int, int]:
        if self.die:
            os._exit(3)
        if self.value < 0:
            raise ValueError("no negative sums")
        return self.value + 1, os.getpid()


@pytest.fixture
def answers() -> Iterator[Answers]:
    made = Answers()
    yield made
    made.stop()


def wait_for(answers: Answers, question: Sum) -> Answer:
    deadline = time.monotonic() + 60
    while (found := answers.get(question)).state == "waiting":
        assert time.monotonic() < deadline, "no answer came"
        time.sleep(0.05)
    return found


def test_background_answers_failures_and_deaths(answers: Answers) -> None:
    """One process answers; an error is told; a process that dies is told, and another takes over."""
    first = answers.get(Sum(1))
    assert first.state == "waiting"
    one, two = wait_for(answers, Sum(1)), wait_for(answers, Sum(2))
    assert (one.value[0], two.value[0]) == (2, 3)
    assert one.value[1] == two.value[1] != os.getpid()
    assert answers.peek(Sum(1)) == one
    assert answers.peek(Sum(99)) is None

    failed = wait_for(answers, Sum(-1))
    assert (failed.state, failed.error) == ("failed", "ValueError: no negative sums")

    died = wait_for(answers, Sum(5, die=True))
    assert died.state == "failed"
    assert "died" in died.error
    assert wait_for(answers, Sum(6)).value[0] == 7


def test_without_background_the_answer_is_there_at_once() -> None:
    answers = Answers(background=False)

    assert answers.get(Sum(1)).value == (2, os.getpid())
    assert answers.get(Sum(-1)).state == "failed"


def test_who_waits_comes_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """The last asked first, patient ones in their order after all others; the line is bounded."""
    answers = Answers()
    monkeypatch.setattr(answers, "_start", lambda: None)
    monkeypatch.setattr(module, "WAITING", 5)
    for number in range(3):
        answers.get(Sum(number, patient=True))
    answers.get(Sum(10))
    assert answers.get(Sum(11)).ahead == 1
    assert answers.get(Sum(10)).ahead == 2
    assert answers.get(Sum(1, patient=True)).ahead == 4

    order = []
    while (question := answers._next()) is not None:
        order.append(question)
    assert order == [Sum(11), Sum(10), *(Sum(number, patient=True) for number in range(3))]

    for number in range(8):
        answers.get(Sum(number))
    assert len(answers._line) == 5


def test_a_patient_question_that_somebody_looks_at_comes_forward(monkeypatch: pytest.MonkeyPatch) -> None:
    """A sheet asks for one of the lines that were queued for all sheets: it is worked out next, and once."""
    answers = Answers()
    monkeypatch.setattr(answers, "_start", lambda: None)
    lines = [CalendarLine("Fredericton, NB", 5, name, 0.1) for name in ("tilia_americana", "ulmus_rubra")]
    for line in lines:
        answers.get(line)

    assert answers.get(HurriedLine(**lines[1].__dict__)).ahead == 1
    assert [answers._next(), answers._next(), answers._next()] == [
        HurriedLine(**lines[1].__dict__),
        lines[0],
        None,
    ]
