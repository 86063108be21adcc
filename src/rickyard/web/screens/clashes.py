"""Clashes: what was reported and does not fit the book; somebody looks and says what it was."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.clashes import SettleClash, clash, settle_clash
from rickyard.web.forms import Form, FormProblem
from rickyard.web.visit import Here, Sent, Visit

router = APIRouter(include_in_schema=False)


@router.get("/clashes/{clash_id:int}")
def clash_page(visit: Here, clash_id: int) -> Response:
    return _page(visit, clash_id, visit.form())


@router.post("/clashes/{clash_id:int}/settle")
def settle(visit: Here, clash_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        command = SettleClash(**visit.told(form), clash_id=clash_id, note=form.text("settled", needed=True))
        form.check()
        with form.asking():
            settle_clash(visit.desk, command)
    except FormProblem:
        return _page(visit, clash_id, form, 422)
    about = clash(visit.desk, clash_id)
    place = f"/stacks/{about.stack_id}" if about.stack_id else f"/wood-in/{about.load_id}"
    return visit.go(place, "settled")


def _page(visit: Visit, clash_id: int, form: Form, status: int = 200) -> Response:
    return visit.page("clash.html", status, form=form, clash=clash(visit.desk, clash_id))
