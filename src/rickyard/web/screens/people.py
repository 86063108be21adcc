"""Who is using this phone: a name kept on the device, so that the book says who did what.

Once people must sign in it is whoever did, and another takes the phone by signing in.
"""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.people import AddPerson, RenamePerson, add_person, people, rename_person
from rickyard.web.forms import Form, FormProblem
from rickyard.web.permissions import ROLE_WORDS
from rickyard.web.visit import WHO_COOKIE, WHO_SECONDS, Here, Sent, Visit

router = APIRouter(include_in_schema=False)


@router.get("/who")
def who_page(visit: Here) -> Response:
    return _page(visit, visit.form())


@router.post("/who")
def choose(visit: Here, sent: Sent) -> Response:
    """One of the names, or nobody. What the form says of who used the phone before does not matter here."""
    if visit.access.locked:
        return visit.go("/who")
    form = Form.sent(visit.voice, sent)
    chosen = form.value("person")
    if not chosen:
        answer = visit.go("/", "who_set")
        answer.delete_cookie(WHO_COOKIE)
        return answer
    try:
        form.choice("person", [str(person.id) for person in people(visit.desk)])
        form.check()
    except FormProblem:
        return _page(visit, form, 422)
    return _mine(visit, chosen)


@router.post("/who/new")
def add(visit: Here, sent: Sent) -> Response:
    """Somebody new, who uses this phone from now on."""
    form = Form.sent(visit.voice, sent)
    try:
        command = AddPerson(key=form.key, name=form.text("person", needed=True))
        form.check()
        with form.asking():
            answer = add_person(visit.desk, command)
    except FormProblem:
        return _page(visit, form, 422)
    return _mine(visit, str(answer["person_id"]))


@router.post("/who/rename")
def rename(visit: Here, sent: Sent) -> Response:
    form = Form.sent(visit.voice, sent)
    try:
        command = RenamePerson(
            key=form.key, who_id=form.number_id("renamed"), name=form.text("new_name", needed=True)
        )
        form.check()
        with form.asking(person="new_name"):
            rename_person(visit.desk, command)
    except FormProblem:
        return _page(visit, form, 422)
    return visit.go("/who", "person_renamed")


def _mine(visit: Visit, person_id: str) -> Response:
    answer = visit.go("/", "who_set")
    # The outbox reads it: a page kept on the phone may still name who used it then. It is a label, not a lock.
    answer.set_cookie(WHO_COOKIE, person_id, max_age=WHO_SECONDS, samesite="lax")
    return answer


def _page(visit: Visit, form: Form, status: int = 200) -> Response:
    return visit.page("who.html", status, form=form, people=people(visit.desk), role_words=ROLE_WORDS)
