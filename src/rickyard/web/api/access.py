"""Deeds about who may come in; a secret stands beside its command in the body, and is no part of the deed."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field, create_model

from rickyard.desk.access import MOST_CHARACTERS, SetPassword, set_password
from rickyard.desk.household_links import MakeLink, make_link
from rickyard.web.api.bodies import body_model, command_of
from rickyard.web.api.common import ERRORS, TheDesk, by_whoever_is_signed_in

router = APIRouter(prefix="/api/deeds", tags=["deeds"], responses=ERRORS)


class PasswordSet(BaseModel):
    person_id: int
    sign_ins_ended: int


class RoleSet(BaseModel):
    person_id: int
    role: str


class SignInEnded(BaseModel):
    sign_in_id: int


class LinkEnded(BaseModel):
    link_id: int
    household_id: int


class LinkMade(LinkEnded):
    """`token` stands in the address `/h/TOKEN`; it is told once, and empty for a key sent again."""

    token: str


PasswordBody = create_model(
    "SetPassword",
    __base__=body_model(SetPassword),
    __doc__="A password for somebody; all their sign-ins end.",
    password=(Annotated[str, Field(max_length=MOST_CHARACTERS)], ...),
)
LinkBody = body_model(MakeLink)


def _set_password(request: Request, desk: TheDesk, body: Any) -> Any:
    """A first or another password for somebody. Answer: person_id, sign_ins_ended."""
    command = by_whoever_is_signed_in(request, command_of(SetPassword, body))
    return set_password(desk, command, body.password)


def _make_link(request: Request, desk: TheDesk, body: Any) -> Any:
    """A link for a household. Answer: link_id, household_id, token."""
    answer, token = make_link(desk, by_whoever_is_signed_in(request, command_of(MakeLink, body)))
    return answer | {"token": token}


# FastAPI reads the bodies' models from the annotations, which are made above.
_set_password.__annotations__["body"] = PasswordBody
_make_link.__annotations__["body"] = LinkBody
router.post("/set-password", response_model=PasswordSet)(_set_password)
router.post("/make-link", response_model=LinkMade)(_make_link)
