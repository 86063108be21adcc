"""Logs in a form: typed line by line, pasted as a list, or sent as a file; all or nothing."""

from __future__ import annotations

import re

from starlette.datastructures import FormData, UploadFile

from rickyard.errors import InputError
from rickyard.measure import DEFECT_KINDS, Defect, LogListError, LogRow, defects_from, read_log_list
from rickyard.measure.defects import DefectKind
from rickyard.measure.listing import text_of
from rickyard.text import T_
from rickyard.web.forms import Complaint, Form
from rickyard.web.labels import LABELS
from rickyard.wood import UNNAMED, find_species

LOG_LINES = 5
MORE_LINES = 5
MOST_LINES = 300

# What makes a line a log; a bent or hollow nothing is none.
_SIZES = ("species", "log_length", "log_mid", "log_small", "log_large")
_FOLD = ("log_sweep", "defect_from", "defect_to", "defect_size", "more_defects")
# What a log's fields are called by the measuring, and by us.
_NAMES = {
    "length": "log_length",
    "mid": "log_mid",
    "ends": "log_large",
    "small": "log_small",
    "large": "log_large",
    "diameter": "log_mid",
    "sweep": "log_sweep",
    "defects": "defect_from",
    "bark_thickness": "bark_thickness",
}


def lines_of(form: Form) -> int:
    typed = form.value("lines")
    return min(MOST_LINES, int(typed)) if typed.isdigit() and len(typed) < 6 else LOG_LINES


def fold_open(form: Form, index: int) -> bool:
    """Whether the fold of a line holds anything, so that it must not be shut."""
    names = (*_FOLD, "defect_kind")
    return any(form.value(f"{name}-{index}") or form.errors(f"{name}-{index}") for name in names)


def read_logs(form: Form, sent: FormData) -> tuple[LogRow, ...]:
    """The logs of a form; raises FormProblem with every complaint."""
    default = form.text("default_species")
    default_id: str | None = None
    if default:
        try:
            default_id = find_species(default, field="default_species").id
        except InputError as error:
            form.complain(error)
    logs = [row for index in range(lines_of(form)) if (row := _typed_log(form, index, default_id))]
    logs += read_lists(form, sent, default_id)
    if not logs and not form.complaints:
        form.complain(
            InputError(
                "paste",
                wanted=T_("at least one log"),
                got=T_("none"),
                next_move=T_("Type, paste or upload the logs."),
            )
        )
    form.check()
    return tuple(logs)


def read_lists(form: Form, sent: FormData, default_id: str | None = None) -> list[LogRow]:
    """The logs of the pasted list, then those of the file; complaints are kept in the form."""
    logs: list[LogRow] = []
    upload = sent.get("file")
    texts = [("paste", form.value("paste"))]
    if isinstance(upload, UploadFile) and upload.filename:
        texts.append(("file", decoded(upload)))
    for field, text in texts:
        if not text.strip():
            continue
        try:
            logs += read_log_list(text, default_species=default_id or UNNAMED.id, defects=True)
        except LogListError as error:
            form.complaints += [Complaint(field, LABELS[field], problem.text) for problem in error.problems]
    return logs


def decoded(upload: UploadFile) -> str:
    """The file's text, whichever way it is written."""
    return text_of(upload.file.read())


def _typed_log(form: Form, index: int, default_id: str | None) -> LogRow | None:
    def at(name: str) -> str:
        return f"{name}-{index}"

    if not any(form.value(at(name)).strip() for name in (*_SIZES, *_FOLD)):
        return None
    before = len(form.complaints)
    species_id = default_id or UNNAMED.id
    if form.value(at("species")).strip():
        try:
            species_id = find_species(form.value(at("species")), field=at("species")).id
        except InputError as error:
            form.complain(error)
    row = LogRow(
        species_id=species_id,
        length_m=form.length(at("log_length"), low=0.2, high=30.0),
        mid_d_m=form.length_or_none(at("log_mid"), low=0.02, high=3.0, small=True),
        small_d_m=form.length_or_none(at("log_small"), low=0.02, high=3.0, small=True),
        large_d_m=form.length_or_none(at("log_large"), low=0.02, high=3.0, small=True),
        bark_thickness_m=form.length_or_none("bark_thickness", low=0.0, high=0.2, small=True) or 0.0,
        line=index + 1,
        sweep_m=form.length_or_none(at("log_sweep"), low=0.0, high=5.0, small=True) or 0.0,
        defects=(*_typed_defect(form, index), *_written_defects(form, at("more_defects"))),
    )
    if len(form.complaints) > before:
        return None
    try:
        row.net()
    except InputError as error:
        name = _NAMES.get(error.field, "log_length")
        form.complain(error, {error.field: name if name == "bark_thickness" else at(name)})
        return None
    return row


def _typed_defect(form: Form, index: int) -> tuple[Defect, ...]:
    """The defect that is typed field by field: from the thick end (0 if left empty), to, how wide."""
    names = {name: f"defect_{name}-{index}" for name in ("kind", "from", "to", "size")}
    known: dict[str, DefectKind] = {kind: kind for kind in DEFECT_KINDS}
    kind = known.get(form.value(names["kind"]))
    if kind is None:
        if any(form.value(names[name]).strip() for name in ("from", "to", "size")):
            form.complain(
                InputError(
                    names["kind"],
                    wanted=T_("what the defect is"),
                    got=T_("nothing"),
                    next_move=T_("Choose one."),
                )
            )
        return ()
    from_m = form.length_or_none(names["from"], low=0.0, high=30.0) or 0.0
    to_m = form.length(names["to"], low=0.0, high=30.0)
    diameter_m = share = None
    if re.fullmatch(r"\s*[\d.,]+\s*%\s*", form.value(names["size"])):
        share = form.percent(names["size"], low=0.01)
    else:
        diameter_m = form.length_or_none(names["size"], low=0.0, high=3.0, small=True)
    return (Defect(kind, from_m, to_m, diameter_m=diameter_m, share=share),)


def _written_defects(form: Form, name: str) -> tuple[Defect, ...]:
    """More of them, written as in a list; bare numbers are in the unit of the log's length."""
    if not form.value(name).strip():
        return ()
    try:
        return defects_from(form.value(name), unit="m" if form.voice.metric else "ft", field=name)
    except InputError as error:
        form.complain(error)
        return ()
