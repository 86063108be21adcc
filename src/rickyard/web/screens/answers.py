"""What takes seconds to work out: what if, the inside of a piece, planning ahead, the drying calendar.

Pages show that an answer is being worked out and fill in; without scripts, loading them again does the same.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from typing import Any, Literal
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.responses import RedirectResponse, Response

from rickyard import season, weather
from rickyard.desk.answers import (
    CalendarLine,
    LogPile,
    Question,
    calendar_line,
    keeping_of,
    logs_question,
    plan_of,
    stack_questions,
    yard_species,
)
from rickyard.desk.forecasts import StackOutlook, outlook
from rickyard.desk.loads import load_page
from rickyard.desk.mixes import names_of
from rickyard.desk.stacks import StackCard, stack_page, stacks
from rickyard.errors import InputError
from rickyard.jobs import Answer, Answers
from rickyard.measure import IN_M
from rickyard.paper import (
    CalendarBlock,
    CalendarData,
    CalendarEntry,
    entry_kind,
    entry_words,
    render_calendar,
)
from rickyard.season.labour import SOURCE
from rickyard.season.wording import change_words, labour_words, sooner_words, start_words, thickness_words
from rickyard.show import Voice
from rickyard.text import T_, Text
from rickyard.web import sections
from rickyard.web.forms import Form, FormProblem
from rickyard.web.names import NAMES
from rickyard.web.sheets import entry_of
from rickyard.web.visit import Here, Visit
from rickyard.wood import find_species, get_species

router = APIRouter(include_in_schema=False)

ODDS = ("0.5", "0.8", "0.9", "0.95")
THICK_IN, THICK_CM = (3, 4, 5, 6), (8, 10, 12, 15)
MOST_WOODS = 8


@router.get("/stacks/{stack_id:int}/what-if")
def stack_what_if(visit: Here, stack_id: int, by: str = "") -> Response:
    """What can still be done to a stack, side by side."""
    card = stack_page(visit.desk, stack_id).card
    look = outlook(visit.desk, stack_id)
    form = visit.form(wanted_by=by or None)
    day = None
    if by:
        day = form.day("wanted_by", visit.today)
    asked = stack_questions(visit.desk, stack_id, look, by=None if form.complaints else day)
    answer = answers_of(visit).get(asked[0]) if asked else None
    return visit.page(
        "stack_what_if.html",
        422 if form.complaints else 200,
        form=form,
        card=card,
        answer=answer,
        rows=outcome_rows(visit.voice, answer.value) if answer and answer.state == "ready" else [],
        dry_already=bool(answer and answer.state == "ready" and _dry_already(answer.value, visit.today)),
        here=visit.request.url.path + (f"?{urlencode({'by': by})}" if by else ""),
        labour_source=visit.voice.text(SOURCE),
    )


@router.get("/stacks/{stack_id:int}/section")
def stack_section(visit: Here, stack_id: int, at: str = "") -> Response:
    """The inside of the typical piece on one of several days."""
    card = stack_page(visit.desk, stack_id).card
    look = outlook(visit.desk, stack_id)
    asked = stack_questions(visit.desk, stack_id, look)
    answer = answers_of(visit).get(asked[1]) if asked else None
    found: season.Sections | None = answer.value if answer and answer.state == "ready" else None
    drawn, number = None, 0
    if found is not None:
        days = [section.on for section in found.days]
        number = next((place for place, day in enumerate(days) if day >= visit.today), len(days) - 1)
        if at.isdigit():
            number = min(int(at[:3]), len(days) - 1)
        drawn = sections.inside(found, number, card.target_mc_wet, say=visit.voice.moisture_short)
    return visit.page(
        "stack_section.html",
        card=card,
        answer=answer,
        found=found,
        drawn=drawn,
        number=number,
        wood=get_species(found.species_id) if found else None,
        scale=scale_words(visit.voice),
        here=visit.request.url.path + (f"?{urlencode({'at': at})}" if at else ""),
    )


@router.get("/wood-in/{load_id:int}/lying")
def logs_lying(visit: Here, load_id: int) -> Response:
    """How dry the logs of a load are by now, and when they would be if nobody cut them."""
    load = load_page(visit.desk, load_id).row
    asked = logs_question(visit.desk, load_id)
    answer = answers_of(visit).get(asked) if asked else None
    found: LogPile | None = answer.value if answer and answer.state == "ready" else None
    return visit.page(
        "load_lying.html",
        load=load,
        asked=asked,
        answer=answer,
        found=found,
        days=[day_words(visit.voice, day, found.horizon) for day in found.ready] if found else [],
        here=visit.request.url.path,
        place=place_label(visit),
    )


@router.get("/what-if")
def plan_page(visit: Here) -> Response:
    """Before anything is stacked: what if, how thick at most, how late at most."""
    typed = visit.request.query_params
    asked = "wood" in typed
    imperial = not visit.voice.metric
    form = visit.form(
        **{
            "wood": "",
            "piece_form": "split",
            "thickness": "5" if imperial else "12",
            "piece_length": "16" if imperial else "40",
            "cover": "top",
            "exposure": "normal",
            "stacked_on": visit.today,
            "wanted_by": visit.today.replace(day=1) + timedelta(days=300),
            "odds": "0.9",
        }
        | {name: value for name, value in typed.items() if name not in ("lang", "units")}
    )
    answer: Answer | None = None
    if asked:
        try:
            answer = answers_of(visit).get(_plan(visit, form))
        except FormProblem:
            asked = False
    rows: list[dict[str, Any]] = []
    limits: list[str] = []
    if answer is not None and answer.state == "ready":
        changed, backwards = answer.value
        rows = outcome_rows(visit.voice, changed, planned=True)
        limits = limit_words(visit.voice, backwards)
    return visit.page(
        "what_if.html",
        422 if form.complaints else 200,
        form=form,
        answer=answer,
        rows=rows,
        limits=limits,
        here=f"/what-if?{urlencode(list(typed.multi_items()))}",
        labour_source=visit.voice.text(SOURCE),
        place=place_label(visit),
        odds_options=[(odds, visit.voice.odds(float(odds))) for odds in ODDS],
    )


@router.get("/calendar")
def calendar_page(visit: Here) -> Response:
    """The drying calendar of the yard's place."""
    form, lines = _calendar(visit)
    got = [(line, answers_of(visit).get(line)) for line in lines] if not form.complaints else []
    done = [(line, answer.value) for line, answer in got if answer.state == "ready"]
    query = urlencode([(name, value) for name, value in visit.request.query_params.multi_items()])
    return visit.page(
        "calendar.html",
        422 if form.complaints else 200,
        form=form,
        asked=bool(lines),
        blocks=_blocks_on_screen(visit.voice, done),
        failed=[answer.error for _, answer in got if answer.state == "failed"],
        done=len([answer for _, answer in got if answer.state != "waiting"]),
        wanted=len(got),
        here=f"/calendar?{query}",
        pdf=f"/calendar.pdf?{query}",
        months=[visit.voice.short_month(date(2001, month, 1)) for month in range(1, 13)],
        thicknesses=_thickness_options(visit.voice, form.values("thicknesses")),
        place=place_label(visit),
    )


@router.get("/calendar.pdf")
def calendar_pdf(visit: Here, paper: str = "") -> Response:
    """The calendar to print; back to the page while it is not all worked out."""
    form, lines = _calendar(visit)
    got = [(line, answers_of(visit).get(line)) for line in lines] if not form.complaints else []
    if not got or any(answer.state != "ready" for _, answer in got):
        return RedirectResponse(f"/calendar?{visit.request.url.query}", 303)
    page: Literal["a4", "letter"] = "a4" if paper == "a4" else "letter"
    data = _calendar_data(visit, [(line, answer.value) for line, answer in got], page)
    return Response(
        render_calendar(data),
        media_type="application/pdf",
        headers={"Content-Disposition": 'inline; filename="drying-calendar.pdf"'},
    )


def stack_extras(visit: Visit, card: StackCard, look: StackOutlook) -> dict[str, Any]:
    """What the page of a stack shows of answers: those already worked out, and how to get the others."""
    voice = visit.voice
    if not look.known or card.emptied_on is not None:
        return {"window_said": "", "month_bars": (), "kept": None, "answers_come": False}
    found = season.windows(look.dates, sections.ready_days(look))
    said = season.window_words(found, voice.month, voice.odds)
    past = found.windows and found.windows[0].last < visit.today
    return {
        "window_said": voice.text(said) if said is not None and not past else "",
        "month_bars": sections.month_bars(look, visit.today, label=voice.short_month),
        "kept": keeping_of(visit.facts.climate_place, card, look),
        "answers_come": answers_of(visit).background,
    }


# -- what the templates show ------------------------------------------------------------------------


def place_label(visit: Visit) -> str:
    """The name of the place whose weather the yard has."""
    return weather.find_place(visit.facts.climate_place).label


def answers_of(visit: Visit) -> Answers:
    found: Answers = visit.request.app.state.answers
    return found


def put_when_ready(
    visit: Visit,
    question: Question | None,
    waiting: Callable[[Answer], Response],
    put: Callable[[Any], object],
    path: str,
) -> Response:
    """What takes its time goes into the book once it is worked out; until then the page says that it waits.

    Without a question it is in the book already.
    """
    if question is not None:
        answer = answers_of(visit).get(question)
        if answer.state != "ready":
            return waiting(answer)
        put(answer.value)
    return visit.go(path)


def outcome_rows(voice: Voice, found: season.WhatIf, *, planned: bool = False) -> list[dict[str, Any]]:
    """One row for each change, in words."""
    rows = []
    for outcome in found.outcomes:
        first = outcome.change.id == "as_it_is"
        words = change_words(
            "as_planned" if first and planned else outcome.change.id,
            outcome.pieces,
            thickness=voice.thickness,
            length=voice.length,
        )
        rows.append(
            {
                "id": outcome.change.id,
                "words": voice.text(words),
                "first": first,
                "p50": day_words(voice, outcome.p50, found.horizon),
                "range": voice.text(
                    T_(
                        "{low} to {high}",
                        low=day_words(voice, outcome.p10, found.horizon),
                        high=day_words(voice, outcome.p90, found.horizon),
                    )
                ),
                "sooner": "" if first else voice.text(sooner_words(outcome)),
                "good": not first and outcome.sooner_days[1] > 0,
                "bad": not first and outcome.sooner_days[1] < 0,
                "odds_by": outcome.odds_by,
                "odds_later": outcome.odds_later,
                "labour": ""
                if first
                else voice.text(labour_words(outcome, number=lambda hours: voice.number(hours, 2))),
            }
        )
    return rows


def _dry_already(found: season.WhatIf, today: date) -> bool:
    """Whether nine members in ten are dry as it stands: nothing is to be gained."""
    last = found.outcomes[0].p90
    return last is not None and last <= today


def day_words(voice: Voice, day: date | None, horizon: date) -> str:
    if day is None:
        return voice.text(T_("later than {day}", day=horizon))
    return voice.date(day)


def limit_words(voice: Voice, found: season.Backwards) -> list[str]:
    return [
        voice.text(thickness_words(found.thickness, thickness=voice.thickness, odds=voice.odds)),
        voice.text(start_words(found.start, day=voice.date, odds=voice.odds)),
    ]


def scale_words(voice: Voice) -> list[str]:
    """The steps of the picture's scale, driest first."""
    edges = [voice.percent(step) for step in sections.STEPS]
    between = [T_("{low} to {high}", low=low, high=high) for low, high in itertools.pairwise(edges)]
    said: list[Text] = [T_("under {high}", high=edges[0]), *between, T_("over {low}", low=edges[-1])]
    return [voice.text(text) for text in said]


def _blocks_on_screen(
    voice: Voice, done: list[tuple[CalendarLine, season.CalendarRow]]
) -> list[dict[str, Any]]:
    """By species: the thicknesses, and a row of cells for each month of stacking."""
    blocks: dict[str, list[season.CalendarRow]] = {}
    for _, row in done:
        blocks.setdefault(row.species_id, []).append(row)
    return [
        {
            "name": voice.species(get_species(species_id)),
            "thick": [voice.thickness(row.thickness_m) for row in rows],
            "model": rows[0].model,
            "members": rows[0].members,
            "months": [
                [
                    {
                        "main": words[0] + ("*" if entry.parted else ""),
                        "span": words[1],
                        "kind": entry_kind(entry),
                    }
                    for entry in (entry_of(row.cells[month]) for row in rows)
                    for words in (entry_words(voice, entry),)
                ]
                for month in range(12)
            ],
        }
        for species_id, rows in blocks.items()
    ]


def _calendar_data(
    visit: Visit, done: list[tuple[CalendarLine, season.CalendarRow]], page: Literal["a4", "letter"]
) -> CalendarData:
    blocks: dict[str, list[tuple[float, tuple[CalendarEntry, ...]]]] = {}
    for _, row in done:
        entries = tuple(entry_of(cell) for cell in row.cells)
        blocks.setdefault(row.species_id, []).append((row.thickness_m, entries))
    line, first = done[0]
    voice = visit.voice
    return CalendarData(
        place=place_label(visit),
        blocks=tuple(
            CalendarBlock(species=voice.species(get_species(species_id)), rows=tuple(rows))
            for species_id, rows in blocks.items()
        ),
        piece_length_m=line.length_m,
        cover=NAMES["cover"][line.cover],
        target_mc_wet=line.target_mc_wet,
        model=first.model,
        members=first.members,
        made_at=visit.desk.now(),
        locale=voice.locale,
        units=voice.units,
        page=page,
    )


def _thickness_options(voice: Voice, chosen: Sequence[str] = ()) -> list[tuple[str, str]]:
    """Sizes to choose from, in the user's unit; those chosen in the other unit stay."""
    usual = [f"{size}cm" for size in THICK_CM] if voice.metric else [f"{size}in" for size in THICK_IN]
    other = [f"{size}in" for size in THICK_IN] + [f"{size}cm" for size in THICK_CM]
    sizes = usual + [size for size in chosen if size in other and size not in usual]
    return [(size, voice.thickness(_size_m(size))) for size in sizes]


def _size_m(size: str) -> float:
    return float(size[:-2]) * (0.01 if size.endswith("cm") else IN_M)


def _calendar(visit: Visit) -> tuple[Form, list[CalendarLine]]:
    """The form as asked, and the lines of the calendar; none before anything was asked."""
    typed = visit.request.query_params
    voice = visit.voice
    asked = "wood" in typed
    species = [] if asked else yard_species(stacks(visit.desk))
    form = visit.form(
        wood=typed.get("wood", "") if asked else ", ".join(voice.species(get_species(i)) for i in species),
        thicknesses=typed.getlist("thicknesses") or [_thickness_options(voice)[1][0]],
        cover=typed.get("cover", "top"),
    )
    if not asked:
        return form, []
    names = names_of(form.value("wood"))
    found: list[str] = []
    if not 1 <= len(names) <= MOST_WOODS:
        form.complain(
            InputError(
                "wood",
                wanted=T_("one to {most} kinds of wood, parted by commas", most=MOST_WOODS),
                got=str(len(names)),
                next_move=T_("Name them, such as: red oak, white ash."),
            )
        )
    for name in names[:MOST_WOODS]:
        try:
            found.append(find_species(name, field="wood").id)
        except InputError as error:
            form.complain(error)
    known = {value for value, _ in _thickness_options(Voice(units="metric"))}
    known |= {value for value, _ in _thickness_options(Voice(units="imperial"))}
    sizes = [size for size in form.values("thicknesses") if size in known]
    cover = form.choice("cover", season.COVERS)
    if form.complaints or not sizes:
        return form, []
    lines = [
        calendar_line(visit.desk, species_id, _size_m(size), cover=cover)
        for species_id in dict.fromkeys(found)
        for size in dict.fromkeys(sizes)
    ]
    return form, lines


def _plan(visit: Visit, form: Form) -> Any:
    """The question of the planning form; FormProblem if it makes none."""
    species_id = ""
    try:
        species_id = find_species(form.value("wood").strip(), field="wood").id
    except InputError as error:
        form.complain(error)
    piece_form = form.choice("piece_form", ("split", "round"))
    thickness_m = form.length("thickness", low=0.03, high=0.60, small=True)
    length_m = form.length("piece_length", low=0.10, high=2.5, small=True)
    cover = form.choice("cover", season.COVERS)
    exposure = form.choice("exposure", season.EXPOSURES)
    stacked_on = form.day("stacked_on", visit.today)
    by = form.day("wanted_by", visit.today)
    odds = float(form.choice("odds", ODDS, "0.9") or 0.9) if form.value("odds") in ODDS else 0.9
    for name, day in (("stacked_on", stacked_on), ("wanted_by", by)):
        if abs((day - visit.today).days) > 800:
            form.complain(
                InputError(
                    name,
                    wanted=T_("a day within two years of today"),
                    got=day.isoformat(),
                    next_move=T_("Give a nearer day."),
                )
            )
    if by <= stacked_on:
        form.complain(
            InputError(
                "wanted_by",
                wanted=T_("a day after the stacking"),
                got=by.isoformat(),
                next_move=T_("Give a later day."),
            )
        )
    form.check()
    with form.asking(thickness="thickness", length="piece_length"):
        pieces = season.Pieces(
            species_id=species_id,
            form=piece_form,
            length_m=length_m,
            thickness_m=thickness_m,
            cover=cover,
            exposure=exposure,
            stacked_on=stacked_on,
        )
    return plan_of(visit.desk, pieces, by=by, odds=odds)
