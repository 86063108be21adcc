"""The owner's page of people: roles, passwords, browsers signed in, and who did what."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.access import (
    ROLES,
    EndSignIn,
    LockOut,
    SetPassword,
    SetRole,
    end_sign_in,
    lock_out,
    people_rows,
    set_password,
    set_role,
)
from rickyard.desk.audit import DEEDS_A_PAGE, deeds_done
from rickyard.desk.paging import one_page
from rickyard.desk.people import AddPerson, add_person
from rickyard.web.deed_words import path_of, read_words
from rickyard.web.forms import Form, FormProblem
from rickyard.web.permissions import ROLE_WORDS
from rickyard.web.visit import Here, Last, Sent, Visit

router = APIRouter(include_in_schema=False)


@router.get("/people")
def people_page(visit: Here) -> Response:
    return _page(visit, visit.form(role="helper"))


@router.post("/people/new")
def add(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        command = AddPerson(
            **visit.told(form),
            name=form.text("person", needed=True),
            role=form.choice("role", ROLES),
        )
        form.check()
        with form.asking():
            add_person(visit.desk, command)
    except FormProblem:
        return _page(visit, form, 422)
    return visit.go("/people", "person_added")


@router.post("/people/{person_id:int}/role")
def change_role(visit: Here, person_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        command = SetRole(who_id=person_id, role=form.choice("role", ROLES), **visit.told(form))
        form.check()
        with form.asking():
            set_role(visit.desk, command)
    except FormProblem:
        return _page(visit, form, 422, of=person_id)
    return visit.go("/people", "role_set")


@router.post("/people/{person_id:int}/password")
def change_password(visit: Here, person_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        with form.asking():
            set_password(
                visit.desk,
                SetPassword(who_id=person_id, **visit.told(form)),
                form.value("password"),
            )
    except FormProblem:
        return _page(visit, form, 422, of=person_id)
    return visit.go("/people", "password_set")


@router.post("/people/{person_id:int}/lock-out")
def keep_out(visit: Here, person_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        with form.asking():
            lock_out(visit.desk, LockOut(who_id=person_id, **visit.told(form)))
    except FormProblem:
        return _page(visit, form, 422, of=person_id)
    return visit.go("/people", "locked_out")


@router.post("/people/sign-ins/{sign_in_id:int}/end")
def end_one(visit: Here, sign_in_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    end_sign_in(visit.desk, EndSignIn(sign_in_id=sign_in_id, **visit.told(form)))
    return visit.go("/people", "sign_in_ended")


@router.get("/people/deeds")
def deeds_page(visit: Here, before: Last = 0, person: Last = 0) -> Response:
    """Who did what, newest first, a page at a time."""
    rows = deeds_done(visit.desk, before=before or None, person_id=person or None, limit=DEEDS_A_PAGE + 1)
    found, more = one_page(rows, DEEDS_A_PAGE)
    return visit.page(
        "deeds.html",
        deeds=found,
        older=found[-1].id if more else 0,
        before=before,
        person=person,
        people=people_rows(visit.desk),
        path_of=path_of,
        read_words=lambda kind, value: read_words(visit.voice, kind, value),
    )


def _page(visit: Visit, form: Form, status: int = 200, *, of: int = 0) -> Response:
    return visit.page(
        "people.html",
        status,
        form=form,
        rows=people_rows(visit.desk),
        of=of,
        roles=ROLES,
        role_words=ROLE_WORDS,
    )
