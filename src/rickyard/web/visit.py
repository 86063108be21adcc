"""One request's surroundings: whose desk, in which language and units, and how a page is answered."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import Annotated, Any

from fastapi import Depends, Query, Request
from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup, escape
from starlette.datastructures import FormData
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from rickyard import __version__
from rickyard.desk.context import Desk, new_key
from rickyard.desk.people import Person, person
from rickyard.desk.wood_in import Harvest
from rickyard.desk.yards import YardFacts, yard_facts
from rickyard.errors import ClashError, InputError
from rickyard.show import LOCALES, Voice, jinja_callables
from rickyard.text import T_, Text
from rickyard.web.doors import open_doors
from rickyard.web.forms import Form
from rickyard.web.names import NAMES
from rickyard.web.offline import HEADER as WORKS_OFFLINE
from rickyard.web.offline import mark_of
from rickyard.web.outbox_words import outbox_words
from rickyard.web.permissions import Access, access_of
from rickyard.web.regions import BY_CODE, REGIONS
from rickyard.wood import Species

UNITS = ("imperial", "metric")
# What the next page says once after a deed; a cookie carries the key for some seconds.
SAID_COOKIE, SAID_SECONDS = "said", 30
# Whose phone this is: the id of a person, kept on the device for a year. A label, not a lock.
WHO_COOKIE, WHO_SECONDS = "who", 31_536_000
SAID: dict[str, Text] = {
    "yard_set_up": T_("The yard is set up. Next: what you sell, or the wood that stands here already."),
    "yard_changed": T_("The yard's facts are changed."),
    "taken_in": T_("The load is in the book."),
    "measure_noted": T_("The measure is noted. The journal is as it was."),
    "measure_aside": T_("The measure is set aside; it counts no more."),
    "measures_followed": T_("The book follows the measures together."),
    "offer_noted": T_("The offer is noted."),
    "offer_changed": T_("The offer is changed."),
    "offer_taken": T_("Taken: the load is in the book."),
    "offer_refused": T_("Noted that we said no."),
    "costs_set": T_("Saved. What offers are worth follows."),
    "named": T_("The wood is named; the book follows."),
    "seen_used": T_("The wood is named, and what you saw is kept with the load."),
    "seen_kept": T_("What you saw is in the book."),
    "seen_late": T_("What you saw is in the book. Nothing of that wood is left in the load to be named."),
    "confirmed": T_("Noted. It counts in what the key says from now on."),
    "confirmed_named": T_("Noted, and what is left of the wood in the load is named anew."),
    "stacked": T_("The stack is in the book. Its forecast is being made."),
    "read": T_("The reading is in the book. The forecast is being made again."),
    "read_beyond": T_(
        "The reading is in the book. It is past the range of a pin meter (6 to 30 %, dry basis) and only tells "
        "on which side of it the wood is. An oven sample tells more."
    ),
    "read_frozen": T_(
        "The reading is in the book and counts for little: a pin meter cannot be trusted in frozen wood. "
        "Thaw a piece for a day, split it and measure again."
    ),
    "read_surface": T_(
        "The reading is in the book. The outside says little of the inside: it counts as the least the wood holds."
    ),
    "marked": T_("The marked pieces are in the book. Weigh them again in a month."),
    "weighed": T_("The weighing is in the book. The forecast is being made again."),
    "judged": T_("Noted. The forecast is being made again."),
    "forgotten": T_("Forgotten. The forecasts are being made again."),
    "measured": T_("The measure is in the book."),
    "read_clash": T_("The reading is in the book, but it does not fit what the book says: see below."),
    "measured_clash": T_("The measure is in the book, but it does not fit what the book says: see below."),
    "put_onto": T_("The wood is on this stack now."),
    "put_onto_clash": T_("The wood is on this stack now, but it does not fit what the book says: see below."),
    "divided": T_("Divided. This is the new stack."),
    "divided_clash": T_("Divided, but it does not fit what the book says: see below."),
    "was_split": T_("Split. This is the new stack. Measure it when it stands."),
    "was_split_clash": T_("Split, but it does not fit what the book says: see below."),
    "sent_back": T_("Noted: the wood went back."),
    "sent_back_clash": T_("Noted: the wood went back. It does not fit what the book says: see below."),
    "stacked_clash": T_("The stack is in the book, but it does not fit what the book says: see below."),
    "gone": T_("Noted: that wood is gone."),
    "gone_clash": T_("Noted: that wood is gone. It does not fit what the book says: see below."),
    "came_back": T_("Noted: the wood came back. The ticket and the money stay as they were."),
    "came_back_clash": T_("Noted: the wood came back. It does not fit what the book says: see below."),
    "settled": T_("Settled."),
    "reopened": T_("The stack is open again."),
    "cut_sheet_made": T_("The cut sheet is in the book."),
    "cut_sheet_mixed": T_(
        "The cut sheet is in the book. A column of the list is written in several units; each was read as written. "
        "Look whether one is a slip."
    ),
    "ticked": T_("Ticked off."),
    "unticked": T_("Taken back: it is not cut."),
    "found_planned": T_("Noted. What is not cut of this log is planned anew."),
    "found_same": T_("Noted. The plan of this log stays as it was."),
    "splitting_sheet_made": T_("The splitting sheet is in the book."),
    "timed": T_("The hours are in the book; they count from now on."),
    "photo_added": T_("The photo is in the book."),
    "photo_removed": T_("The photo is gone."),
    "who_set": T_("This phone says now who is using it."),
    "person_renamed": T_("The name is changed."),
    "person_added": T_("The person is in the book."),
    "role_set": T_("The role is changed."),
    "password_set": T_("The password is set. Browsers that were signed in must sign in again."),
    "locked_out": T_("They cannot come in any more."),
    "sign_in_ended": T_("That browser is signed out."),
    "link_ended": T_("That link does not work any more."),
    "moved": T_("The stack's place and cover are changed."),
    "emptied": T_("The stack is closed."),
    "household_forgotten": T_("Who they were is forgotten. Wood, money and tickets stay."),
    "buyer_forgotten": T_("Who bought is forgotten. Wood, money and the ticket stay."),
    "household_set": T_("The household is in the book."),
    "noted": T_("The order is noted; nothing is promised yet."),
    "promised": T_("Promised. The wood is kept for this order."),
    "cancelled": T_("The order is cancelled and its wood is free again."),
    "delivered": T_("Delivered. The ticket is ready to print."),
    "sold": T_("Sold. The ticket is ready to print."),
    "paid": T_("The payment is in the book."),
    "ticket_undone": T_("Taken back. The ticket is cancelled, and the wood is where it was."),
    "ticket_undone_promised": T_(
        "Taken back. The ticket is cancelled, and the order is open again with what was promised for it."
    ),
    "ticket_undone_asked": T_(
        "Taken back. The ticket is cancelled. The order is asked again: what was promised for it is not free any more."
    ),
    "payment_undone": T_("The payment is taken back; it is owed again."),
    "load_undone": T_("The load is taken back. It keeps its number."),
    "stack_undone": T_("The stacking is taken back. The wood is where it was, and the name is free."),
    "measure_undone": T_("Taken back: the measure before it counts again."),
    "moving_undone": T_("Taken back: the wood is where it was."),
    "undone_clash": T_("Taken back. It does not fit what else the book says: see below."),
    "ware_set": T_("Saved."),
    "list_taken": T_("The list is taken in, all of it."),
    "weather_in": T_("The weather file is in the book. Forecasts that it changes are being made again."),
    "weather_back": T_("The weather file is taken back; nothing hangs on it any more."),
    "offsets_changed": T_("Changed. Forecasts are being made again."),
    "place_chosen": T_("The place is changed. All forecasts are being made again."),
    "service_on": T_("The service is on and will be asked now."),
    "service_off": T_("The service is off."),
}


OPEN_BOOK = Access(locked=False, comer=None)


class NoYardError(Exception):
    """The book has no yard yet: set one up first."""


@lru_cache(maxsize=16)
def environment(locale: str) -> Environment:
    """The templates in one language. StrictUndefined: a slip in a template is an error, not a blank."""
    env = Environment(
        loader=PackageLoader("rickyard.web"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n", "jinja2.ext.do"],
    )
    env.install_gettext_callables(**jinja_callables(locale), newstyle=True)  # type: ignore[attr-defined]
    env.globals.update(data=data, new_key=new_key)
    env.tests["allowed"] = lambda path, access, method="GET": access.may(path, method)
    return env


def data(value: object) -> Markup:
    """What people typed (names, places, notes): shown as it is, never translated."""
    return Markup('<span translate="no">{}</span>').format(escape(value))


def woods(voice: Voice, shares: Iterable[tuple[Species, float]]) -> str:
    """60% sugar maple, 40% yellow birch."""
    named = [(voice.species(species), share) for species, share in shares]
    return voice.shares(named) if named else voice.text(T_("nothing left"))


def harvest_words(voice: Voice, harvest: Harvest) -> Markup:
    """York, New Brunswick, Canada: the county as typed, the rest in the user's language."""
    region = BY_CODE.get(f"{harvest.country}-{harvest.subdivision}")
    country = NAMES["country"].get(harvest.country)
    parts = [data(harvest.county)] if harvest.county else []
    parts.append(escape(voice.text(region.name)) if region else data(harvest.subdivision))
    parts.append(escape(voice.text(country)) if country else data(harvest.country))
    if harvest.certificate:
        parts.append(data(harvest.certificate))
    return Markup(", ").join(part for part in parts if part)


def region_options(voice: Voice) -> list[tuple[str, str]]:
    """(code, "New Brunswick, Canada") for choosing a place."""
    return [
        (region.code, f"{voice.text(region.name)}, {voice.text(NAMES['country'][region.country])}")
        for region in REGIONS
    ]


def voice_of(request: Request, facts: YardFacts | None) -> Voice:
    """The voice for a request: `?lang=` and `?units=`, else this device's cookies, else the yard's own."""
    locale = next(
        (
            choice
            for choice in (request.query_params.get("lang"), request.cookies.get("lang"))
            if choice in LOCALES
        ),
        facts.locale if facts else "en_CA",
    )
    units = next(
        (
            choice
            for choice in (request.query_params.get("units"), request.cookies.get("units"))
            if choice in UNITS
        ),
        facts.units if facts else "imperial",
    )
    return Voice(locale, units, facts.currency if facts else "CAD", facts.timezone if facts else "UTC")


def render(
    request: Request, voice: Voice, facts: YardFacts | None, template: str, status: int = 200, **values: Any
) -> HTMLResponse:
    """A page; keeps the language and units of the address in this device's cookies."""
    page = environment(voice.locale).get_template(template)
    whole = not template.startswith("parts/")
    # Pages that the phone fetches only to keep them must not use up what the next page is to say.
    looked_at = request.headers.get("sec-fetch-mode", "navigate") == "navigate"
    said = SAID.get(request.cookies.get(SAID_COOKIE, "")) if whole and looked_at else None
    access = access_of(request) if facts else OPEN_BOOK
    html = page.render(
        request=request,
        path=request.url.path,
        v=voice,
        facts=facts,
        who=who_of(request) if facts else None,
        access=access,
        asset=request.app.state.assets.url,
        said=voice.text(said) if said else "",
        version=__version__,
        made_at=datetime.now(UTC).isoformat(timespec="seconds"),
        outbox_words=lambda: outbox_words(voice),
        name_of=lambda group, item: voice.text(NAMES[group][item]),
        names=NAMES,
        options_of=lambda group: [(item, voice.text(text)) for item, text in NAMES[group].items()],
        v_small=voice.symbol("cm" if voice.metric else "in"),
        v_big=voice.symbol("m" if voice.metric else "ft"),
        region_options=region_options(voice),
        names_of=lambda species: [voice.species(item) for item in species],
        woods=lambda shares: woods(voice, shares),
        **values,
    )
    response = HTMLResponse(open_doors(html, access, request.url.path), status)
    if said is not None:
        response.delete_cookie(SAID_COOKIE)
    for name, choice in (("lang", voice.locale), ("units", voice.units)):
        if request.query_params.get(name) == choice:
            response.set_cookie(name, choice, max_age=31_536_000, samesite="lax", httponly=True)
    return response


@dataclass(frozen=True)
class Visit:
    """A request that comes to a yard that is set up."""

    request: Request
    desk: Desk
    facts: YardFacts
    voice: Voice
    today: date
    who: Person | None = None
    access: Access = OPEN_BOOK

    def page(self, template: str, status: int = 200, **values: Any) -> Response:
        """A page; to the outbox of a phone, which shows its own, only what is wrong with the form."""
        form = values.get("form")
        if sent_by_outbox(self.request) and isinstance(form, Form) and form.trouble is not None:
            # Nothing is wrong with what was typed: the phone is to send it again by itself.
            raise form.trouble
        if sent_by_outbox(self.request) and isinstance(form, Form) and form.complaints:
            wrong = [{"field": field, "label": label, "text": text} for field, label, text in form.summary]
            return JSONResponse({"errors": wrong}, status)
        page = render(
            self.request, self.voice, self.facts, template, status, visit=self, today=self.today, **values
        )
        mark = mark_of(self.request)
        if mark is not None and status == 200 and mark.each != "stood_in":
            page.headers[WORKS_OFFLINE] = mark.each
        return page

    def form(self, **presets: object) -> Form:
        return Form.fresh(self.voice, **presets)

    def sent(self, sent: FormData) -> Form:
        """The form as it was sent; ClashError (`other_person`) if somebody else uses this phone by now."""
        form = Form.sent(self.voice, sent)
        if "who" in form.typed:
            self._same_person(form.value("who"))
        return form

    def told(self, form: Form) -> dict[str, Any]:
        """What a form says of itself besides its figures, for a command: key, happened_at, sent_at, person_id."""
        return {
            "key": form.key,
            "happened_at": _moment(form, "happened_at"),
            "sent_at": _moment(form, "sent_at"),
            "person_id": self.who.id if self.who else None,
        }

    def _same_person(self, typed: str) -> None:
        """Nothing is written under the name of somebody who did not type it."""
        mine = str(self.who.id) if self.who else ""
        if typed == mine:
            return
        nobody = T_("nobody")
        other = person(self.desk, int(typed)) if typed.isdigit() and len(typed) < 10 else None
        raise ClashError(
            T_(
                "This was typed by {typed}, and now this phone is used by {now}. Nothing was written. "
                "Say that {typed} is using it, then send it again.",
                typed=other.name if other else nobody,
                now=self.who.name if self.who else nobody,
            ),
            code="other_person",
            field="who",
        )

    def go(self, path: str, said: str = "") -> Response:
        """To another page after a deed; a page that htmx asked for is told to go there as a whole."""
        return go(self.request, path, said)

    def nudge(self) -> None:
        """Tells the worker that a forecast may have become stale."""
        self.request.app.state.nudge()


def sent_by_outbox(request: Request) -> bool:
    """Whether a phone's outbox sends a kept form; it wants JSON and follows no redirects."""
    return "x-outbox" in request.headers


def who_of(request: Request) -> Person | None:
    """The person who uses this device, looked up once a request; None for nobody or a stranger.

    Whoever is signed in; while the book is open, whom the device says.
    """
    if not hasattr(request.state, "who"):
        desk: Desk | None = request.app.state.desk()
        access = access_of(request)
        if access.locked:
            comer = access.comer
            request.state.who = Person(comer.person_id, comer.name) if comer is not None else None
            return request.state.who  # type: ignore[no-any-return]
        typed = request.cookies.get(WHO_COOKIE, "")
        known = desk is not None and typed.isdigit() and len(typed) < 10
        request.state.who = person(desk, int(typed)) if desk is not None and known else None
    found: Person | None = request.state.who
    return found


def _moment(form: Form, name: str) -> datetime | None:
    """A moment that the phone wrote into a form; a complaint if it is none."""
    typed = form.value(name).strip()
    if not typed:
        return None
    try:
        moment = datetime.fromisoformat(typed)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        form.complain(
            InputError(
                name,
                wanted=T_("a moment such as 2026-11-25T14:03:00-04:00"),
                got=typed,
                next_move=T_("Load the form again."),
            )
        )
        return None
    return moment


def go(request: Request, path: str, said: str = "") -> Response:
    answer: Response
    if sent_by_outbox(request):
        answer = JSONResponse({"go": path})
    elif request.headers.get("hx-request") == "true":
        answer = Response(status_code=200, headers={"HX-Redirect": path})
    else:
        answer = RedirectResponse(path, status_code=303)
    if said:
        answer.set_cookie(SAID_COOKIE, said, max_age=SAID_SECONDS, samesite="lax", httponly=True)
    return answer


def _visit(request: Request) -> Visit:
    desk: Desk | None = request.app.state.desk()
    if desk is None:
        raise NoYardError
    facts = yard_facts(desk)
    return Visit(
        request, desk, facts, voice_of(request, facts), desk.today(), who_of(request), access_of(request)
    )


async def _form_data(request: Request) -> AsyncIterator[FormData]:
    form = await request.form(max_files=2, max_fields=5000)
    try:
        yield form
    finally:
        # Also when the page refuses: what was uploaded lies in a file of the system's until then.
        await form.close()


# The row that a page of a list goes on from; 0 for none.
Last = Annotated[int, Query(ge=0, le=2**31 - 1)]
Here = Annotated[Visit, Depends(_visit)]
Sent = Annotated[FormData, Depends(_form_data)]
