"""The page that brings another phone to this yard, and what it shows."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from rickyard.desk.yards import yard_facts
from rickyard.web.phones import certificate, page_values, qr_answer
from rickyard.web.visit import render, voice_of

router = APIRouter(include_in_schema=False)


@router.get("/phone")
def phone_page(request: Request) -> Response:
    # Before the yard is set up too: it may be done on the phone.
    desk = request.app.state.desk()
    facts = yard_facts(desk) if desk is not None else None
    values = page_values(request, request.app.state.https)
    return render(request, voice_of(request, facts), facts, "phone.html", **values)


@router.get("/rickyard.crt")
def authority_certificate(request: Request) -> Response:
    return certificate(request.app.state.https)


@router.get("/qr/{name}.svg")
def qr_code(request: Request, name: str) -> Response:
    return qr_answer(request, name, request.app.state.https)
