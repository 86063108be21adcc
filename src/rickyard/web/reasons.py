"""Deeds that are done from a page of their own, after it has said what they will do, and that need a reason."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from starlette.datastructures import FormData
from starlette.responses import Response

from rickyard.desk.context import Answer, Command, Desk
from rickyard.web.forms import Form, FormProblem
from rickyard.web.visit import Visit


def done_because(
    visit: Visit,
    sent: FormData,
    make: Callable[[dict[str, Any], str], Command],
    do: Callable[[Desk, Any], Answer],
    again: Callable[[Form], Response],
    then: Callable[[Answer], tuple[str, str]],
) -> Response:
    """On to where the deed's answer leads and what is said there, or the page again with what is to be put right."""
    form = visit.sent(sent)
    try:
        command = make(visit.told(form), form.text("reason", needed=True))
        form.check()
        with form.asking():
            answer = do(visit.desk, command)
    except FormProblem:
        return again(form)
    visit.nudge()
    return visit.go(*then(answer))
