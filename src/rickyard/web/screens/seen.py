"""What was seen of trees: kept from the page that names them, used for a load, confirmed later; how right it was."""

from __future__ import annotations

import json
from typing import Any

from fastapi import APIRouter
from markupsafe import Markup
from starlette.responses import Response

from rickyard.desk.loads import load_numbered
from rickyard.desk.naming import ConfirmNaming, NameWood, confirm_naming, name_wood
from rickyard.desk.paging import A_PAGE, one_page
from rickyard.desk.seen import Seen, taught
from rickyard.desk.trees import (
    LoadPart,
    NamingLine,
    count_namings,
    how_sure,
    load_parts,
    naming_page,
    namings,
)
from rickyard.errors import InputError
from rickyard.identify import LEAST_RECORDS, REGIONS, Answer, KeySpecies, the_key
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.names import NAMES
from rickyard.web.tree_words import answer_words, has_own_wood, tree_name
from rickyard.web.visit import Here, Last, Sent, Visit, data
from rickyard.wood import Species, find_species

router = APIRouter(include_in_schema=False)

MOST_SEEN = 20_000
# Loads with wood to name that a form lists; any other is said by its number.
MOST_LOADS = 20
NONE = "none"
# The desk's words for what was seen, as our one field of it.
DESK_NAMES = {
    "answers": "seen",
    "character": "seen",
    "situation": "seen",
    "region": "seen",
    "count": "seen",
    "exponent": "seen",
    "was": "part",
    "load": "load_number",
    "logs": "log_numbers",
}


@router.get("/tree/seen")
def all_seen(visit: Here, before: Last = 0, known_before: Last = 0) -> Response:
    """The list of named trees: those not confirmed yet, and the others; each goes on by itself."""
    parts = []
    for confirmed, last in ((False, before), (True, known_before)):
        rows = namings(visit.desk, confirmed=confirmed, before=last or None, limit=A_PAGE + 1)
        found, more = one_page(rows)
        count = count_namings(visit.desk, confirmed=confirmed)
        parts.append((confirmed, found, count, found[-1].id if more else 0))
    return visit.page(
        "seen_list.html",
        parts=parts,
        before=before,
        known_before=known_before,
        name_of_line=lambda row: verdict_words(visit, row),
    )


@router.get("/tree/seen/{naming_id:int}")
def one_seen(visit: Here, naming_id: int) -> Response:
    return _page(visit, naming_id, _fresh(visit, naming_id))


@router.post("/tree/seen/{naming_id:int}/confirm")
def confirm(visit: Here, sent: Sent, naming_id: int) -> Response:
    form = visit.sent(sent)
    try:
        tree = form.text("tree", needed=True)
        how = form.choice("how", tuple(NAMES["known_by"]))
        command = ConfirmNaming(
            **visit.told(form),
            naming_id=naming_id,
            tree="" if tree == NONE else tree,
            how=how,
            by_whom=form.text("by_whom"),
            note=form.text("note"),
            rename=form.ticked("rename"),
        )
        form.check()
        with form.asking():
            answer = confirm_naming(visit.desk, command)
    except FormProblem:
        return _page(visit, naming_id, form, 422)
    return visit.go(f"/tree/seen/{naming_id}", "confirmed_named" if answer["named"] else "confirmed")


@router.post("/tree/seen/{naming_id:int}/use")
def use(visit: Here, sent: Sent, naming_id: int) -> Response:
    """A record that was kept before is used for a load."""
    form = visit.sent(sent)
    try:
        part = part_of(visit, form, needed=True)
        logs, share = logs_of(form), share_of(form)
        now = form.text("now", needed=True)
        form.check()
        load_id, was = part or (0, "")
        command = NameWood(
            **visit.told(form), load_id=load_id, was=was, now=now, logs=logs, share=share, naming_id=naming_id
        )
        with form.asking(**DESK_NAMES):
            answer = name_wood(visit.desk, command)
    except FormProblem:
        return _page(visit, naming_id, form, 422)
    return visit.go(f"/tree/seen/{naming_id}", said_of(answer, part, now))


@router.get("/tree/trust")
def trust(visit: Here) -> Response:
    """Said odds beside what came true, and what the yard has taught the key."""
    return visit.page(
        "tree_trust.html",
        sure=how_sure(visit.desk),
        least=LEAST_RECORDS,
        name_of_tree=lambda tree: shown_tree(visit, tree),
    )


def read_seen(form: Form) -> Seen:
    """What the page that names trees wrote into its form; a complaint if it is none of that."""
    typed = form.value("seen")
    try:
        told: Any = json.loads(typed) if len(typed) <= MOST_SEEN else None
        return Seen(
            answers=tuple(
                Answer(str(one["character"]), tuple(map(str, one["states"])), float(one.get("doubt") or 0.0))
                for one in told["answers"]
            ),
            situations=tuple(map(str, told["situations"])),
            not_seen=tuple(map(str, told["notSeen"])),
            region=str(told["region"] or ""),
            street=bool(told["street"]),
            counts=tuple((str(name), float(count)) for name, count in told["counts"].items()),
            exponent=float(told["exponent"]),
        )
    except (ValueError, TypeError, KeyError, AttributeError):
        form.complain(
            InputError(
                "seen",
                wanted=T_("what the page “Name the tree” writes"),
                got=typed[:60] or T_("nothing"),
                next_move=T_("Open the page and say what you see."),
            )
        )
        return Seen(answers=())


def part_options(visit: Visit, parts: list[LoadPart]) -> list[tuple[str, str, bool]]:
    """Wood that can be named, to choose from."""
    voice = visit.voice
    return [
        (
            part_value(part),
            voice.text(
                T_(
                    "Load {number}: {wood}, {share} ({day}, {source})",
                    number=part.load.number,
                    wood=voice.species(part.wood),
                    share=voice.percent(part.share),
                    day=voice.date(part.load.arrived_on),
                    source=part.load.source,
                )
            ),
            True,
        )
        for part in parts
    ]


def part_value(part: LoadPart) -> str:
    return f"{part.load.id}:{part.wood.id}"


def log_options(visit: Visit, parts: list[LoadPart]) -> dict[str, list[tuple[int, str]]]:
    """The logs of each such wood that was measured, by the option's value, in words."""
    voice = visit.voice
    return {
        part_value(part): [
            (
                number,
                voice.text(
                    T_(
                        "Log {number}: {length}, {diameter}",
                        number=number,
                        length=voice.dimension(length_m),
                        diameter=voice.thickness(diameter_m) if diameter_m else "",
                    )
                ),
            )
            for number, length_m, diameter_m in part.logs
        ]
        for part in parts
        if part.logs
    }


def verdict_words(visit: Visit, row: NamingLine) -> str:
    """What the key said, in words: the species or group with its odds, or the likeliest tree."""
    voice = visit.voice
    tree = tree_name(voice, row.tree) if row.tree else voice.text(T_("a tree that is in the key no more"))
    if row.level == "undecided":
        return voice.text(
            T_("not settled; likeliest {name}, {share}", name=tree, share=voice.percent(row.leader_odds))
        )
    name = voice.species(row.group) if row.group else tree
    return voice.text(T_("{name}, {share}", name=name, share=voice.percent(row.odds)))


def said_of(answer: dict[str, Any], part: tuple[int, str] | None, now: str) -> str:
    """What the next page says: used, only kept, or kept although the wood that it would have named is gone."""
    if part is None or not now or find_species(now).id == part[1]:
        return "seen_kept"
    return "seen_used" if answer["named"] else "seen_late"


def part_of(visit: Visit, form: Form, *, needed: bool = False) -> tuple[int, str] | None:
    """The load and which of its wood, as an option of the list says it; None for no load yet.

    A load's number that was typed goes before the list: then which of its wood is left to the deed (`""`), so that a
    phone that sends the form again sends the same.
    """
    if form.value("load_number").strip():
        number = form.count("load_number", low=1, high=2**31 - 1)
        try:
            return (load_numbered(visit.desk, number, "load_number"), "") if number else None
        except InputError as error:
            form.complain(error)
            return None
    typed = form.value("part").strip()
    if not typed and not needed:
        return None
    load_id, _, wood = typed.partition(":")
    if not load_id.isdigit() or len(load_id) > 9 or not wood:
        form.complain(
            InputError(
                "part",
                wanted=T_("one of the list"),
                got=typed[:60] or T_("nothing"),
                next_move=T_("Choose one."),
            )
        )
        return None
    return int(load_id), wood[:60]


def logs_of(form: Form) -> tuple[int, ...]:
    typed = form.values("log_numbers")
    if any(not number.isdigit() or len(number) > 6 for number in typed):
        form.complain(
            InputError(
                "log_numbers",
                wanted=T_("numbers of logs"),
                got=", ".join(typed)[:60],
                next_move=T_("Tick the logs in the list."),
            )
        )
        return ()
    return tuple(int(number) for number in typed)


def share_of(form: Form) -> float:
    return form.percent_or_none("share", low=0.001) or 1.0


def _fresh(visit: Visit, naming_id: int) -> Form:
    """Nothing is chosen beforehand but what was confirmed before: one tap must not confirm a guess by itself."""
    truth = naming_page(visit.desk, naming_id).line.truth
    who = visit.who.name if visit.who else ""
    if truth is None:
        return visit.form(by_whom=who, rename=True)
    return visit.form(
        tree=truth.tree.id if truth.tree else NONE, how=truth.how, by_whom=truth.by_whom or who, rename=True
    )


def _page(visit: Visit, naming_id: int, form: Form, status: int = 200) -> Response:
    page = naming_page(visit.desk, naming_id)
    voice, key = visit.voice, the_key()
    likely = [
        _option(
            tree, voice.text(T_("{name}, {share}", name=tree_name(voice, tree), share=voice.percent(share)))
        )
        for tree, share in page.candidates
    ]
    known = {tree_id for tree_id, *_ in likely}
    others = sorted(
        (_option(tree, tree_name(voice, tree)) for tree in key.species if tree.id not in known),
        key=lambda option: option[1].casefold(),
    )
    parts = load_parts(visit.desk, MOST_LOADS) if page.line.load_id is None else []
    return visit.page(
        "seen.html",
        status,
        form=form,
        page=page,
        said_words=verdict_words(visit, page.line),
        answers=[answer_words(voice, answer) for answer in page.answers],
        region=voice.text(REGIONS[page.region]) if page.region else "",
        tree_options=[*likely, *others, (NONE, voice.text(T_("a tree that is not in this list")))],
        name_of_tree=lambda tree: shown_tree(visit, tree),
        parts=part_options(visit, parts),
        logs=log_options(visit, parts),
        now=_wood_of(page.line),
    )


def _option(tree: KeySpecies, words: str) -> tuple[Any, ...]:
    """A tree to choose; names that are in no catalogue are marked as not to be translated."""
    return (tree.id, words) if has_own_wood(tree) else (tree.id, words, True)


def shown_tree(visit: Visit, tree: KeySpecies) -> str | Markup:
    name = tree_name(visit.voice, tree)
    return name if has_own_wood(tree) else data(name)


def _wood_of(line: NamingLine) -> Species | None:
    """What a record's wood is called in the book if it is used now: as confirmed, else as said."""
    if line.truth is not None:
        return line.truth.tree.wood if line.truth.tree else None
    if line.level == "undecided":
        return None
    return line.group if line.group is not None else line.tree.wood if line.tree else None


def tree_facts(visit: Visit) -> dict[str, Any]:
    """What the page that names trees needs of the book: the wood that can be named, and what the yard has taught."""
    parts = load_parts(visit.desk, MOST_LOADS)
    return {
        "parts": part_options(visit, parts),
        "logs": json.dumps(log_options(visit, parts), ensure_ascii=False),
        "known": taught(visit.desk),
    }
