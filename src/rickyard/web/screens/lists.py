"""Lists from other programs: sent, looked at, columns matched, taken in as a whole."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.responses import Response

from rickyard.desk.lists import COLUMNS, KINDS, UNITS, Asked
from rickyard.desk.lists.examples import ENDINGS, example_list
from rickyard.desk.lists.reading import MOST_BYTES
from rickyard.desk.lists.taking import ListPlan, TakeInList, look_at_list, take_in_list
from rickyard.errors import ClashError, InputError
from rickyard.measure import LogListError
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.list_words import becomes
from rickyard.web.visit import Here, Sent, Visit

router = APIRouter(include_in_schema=False)

_GOES_TO = {"households": "/households", "stock": "/stacks", "prices": "/wares"}
_TYPES = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
_NAMES = {
    "file": "list_file",
    "kind": "list_kind",
    "sheet": "list_sheet",
    "column": "list_file",
    "harvest": "list_harvest",
}
SHOWN_FIRST = 30
"""Lines of a sort that stand there at once; the others are folded up under them."""


@router.get("/lists")
def lists_page(visit: Here, kind: str = "households") -> Response:
    return _page(visit, visit.form(list_kind=kind if kind in KINDS else "households"))


@router.get("/lists/example/{kind}.{ending}")
def example(visit: Here, kind: str, ending: str) -> Response:
    """An empty list with the right columns and one invented line."""
    if kind not in KINDS or ending not in ENDINGS:
        raise HTTPException(404)
    return Response(
        example_list(kind, ending, visit.voice.locale),
        media_type=_TYPES[ending],
        headers={"Content-Disposition": f'attachment; filename="rickyard-{kind}.{ending}"'},
    )


@router.post("/lists/look")
def look(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    return _looked(visit, form, sent)


@router.post("/lists/take")
def take(visit: Here, sent: Sent) -> Response:
    """Takes in what was looked at; what nobody has looked at yet is shown first."""
    form = visit.sent(sent)
    if not form.value("seen"):
        return _looked(visit, form, sent)
    try:
        command = _command(visit, form, sent)
        take_in_list(visit.desk, command)
    except LogListError:
        # Every bad line stands in what is shown.
        return _looked(visit, form, sent)
    except ClashError as error:
        if error.code != "changed_meanwhile":
            raise
        form.complain(
            InputError(
                "list_file",
                wanted=T_("what was looked at"),
                got=T_("another list, or a book that has changed since"),
                next_move=T_("Nothing was written. Look at what it would do now, then take it in."),
            )
        )
        return _looked(visit, form, sent)
    except (InputError, FormProblem) as error:
        _complain(form, error)
        return _page(visit, form, 422)
    visit.nudge()
    return visit.go(_GOES_TO[command.kind], "list_taken")


def _looked(visit: Visit, form: Form, sent: FormData) -> Response:
    clashed = list(form.complaints)
    try:
        command = _command(visit, form, sent, complained=bool(clashed))
        plan = look_at_list(visit.desk, command)
    except (InputError, FormProblem) as error:
        _complain(form, error)
        return _page(visit, form, 422)
    form.typed["seen"] = [plan.seen] if not plan.problems else [""]
    form.typed["list_sheet"] = [plan.sheet]
    form.typed["heads"] = [plan.heads]
    for item in plan.columns:
        form.typed[f"column-{item.place}"] = [item.meaning]
    return _page(visit, form, 422 if plan.problems or clashed else 200, plan)


def _command(visit: Visit, form: Form, sent: FormData, *, complained: bool = False) -> TakeInList:
    upload = sent.get("list_file")
    content, name = b"", ""
    if isinstance(upload, UploadFile) and upload.filename:
        # It may be read twice: to be taken, and then to show what is wrong with it.
        upload.file.seek(0)
        # One byte more than is taken, so that the desk can say that it is too large.
        content, name = upload.file.read(MOST_BYTES + 1), upload.filename
    else:
        form.complain(
            InputError("list_file", wanted=T_("a file"), got=T_("nothing"), next_move=T_("Choose a file."))
        )
    kind = form.choice("list_kind", tuple(KINDS))
    units = ("", *UNITS)
    columns = tuple(
        (f"#{int(place) + 1}", form.value(field))
        for field in form.typed
        if (place := field.removeprefix("column-")) != field and place.isdecimal() and len(place) < 4
    )
    asked = Asked(
        sheet=form.value("list_sheet"),
        head_line=form.count("head_line", low=1, high=10_000) if form.value("head_line").strip() else 0,
        columns=columns if form.value("heads") else (),
        short_unit=form.choice("short_unit", units) if form.value("short_unit") else "",
        long_unit=form.choice("long_unit", units) if form.value("long_unit") else "",
        harvest=form.value("list_harvest"),
        heads=form.value("heads"),
    )
    if not complained:
        form.check()
    return TakeInList(
        **visit.told(form),
        kind=kind,
        content=content,
        name=name,
        asked=asked,
        locale=visit.voice.locale,
        seen=form.value("seen"),
    )


def _complain(form: Form, error: Exception) -> None:
    if isinstance(error, InputError):
        form.complain(error, _NAMES)
        if error.field == "sheet":
            # The sheet of another workbook: the next look finds one by itself.
            form.typed["list_sheet"] = [""]


def _page(visit: Visit, form: Form, status: int = 200, plan: ListPlan | None = None) -> Response:
    voice = visit.voice
    kind = form.value("list_kind") if form.value("list_kind") in KINDS else "households"
    return visit.page(
        "lists.html",
        status,
        form=form,
        plan=plan,
        kind=kind,
        kinds=[(value, voice.text(words)) for value, words in KINDS.items()],
        endings=ENDINGS,
        choices=[(item.id, voice.text(item.label)) for item in COLUMNS[kind]],
        units=[(unit, unit) for unit in UNITS],
        becomes=lambda line: becomes(voice, line),
        shown_first=SHOWN_FIRST,
        most_mb=MOST_BYTES // 1_000_000,
    )
