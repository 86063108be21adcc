"""Wood in: loads as they come, roughly or log by log, and what to expect of them."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from rickyard.desk.clashes import clashes
from rickyard.desk.cut_sheets import cut_of_load, cut_sheets
from rickyard.desk.expectations import Expectation
from rickyard.desk.load_measures import load_measures
from rickyard.desk.loads import LoadRow, LogLine, count_loads, load_page, loads, sources
from rickyard.desk.log_lists import GaugedLogs, gauge_logs
from rickyard.desk.mixes import read_mix
from rickyard.desk.naming import KeepSeen, NameWood, keep_seen, name_wood
from rickyard.desk.offer_views import offer_of_load
from rickyard.desk.paging import A_PAGE, MOST_SEARCH, one_page
from rickyard.desk.photos import photos_of_load
from rickyard.desk.seen import Seen
from rickyard.desk.split_sheets import splitting_sheets
from rickyard.desk.trees import namings
from rickyard.desk.wood_in import (
    Harvest,
    TakeInLogs,
    TakeInRough,
    expect_logs,
    expect_rough,
    take_in_logs,
    take_in_rough,
)
from rickyard.desk.yard_factor import yard_factor
from rickyard.errors import InputError, RickyardError
from rickyard.measure import log_list_template
from rickyard.show import Voice, parse_mass
from rickyard.text import T_
from rickyard.web.forms import Form, FormProblem
from rickyard.web.log_forms import LOG_LINES, MORE_LINES, MOST_LINES, fold_open, lines_of, read_logs
from rickyard.web.names import NAMES, REASONS
from rickyard.web.offline import works_offline
from rickyard.web.regions import BY_CODE
from rickyard.web.screens.seen import read_seen, verdict_words
from rickyard.web.visit import Here, Last, Sent, Visit, data, harvest_words

router = APIRouter(include_in_schema=False)

RECENT_MIXES = 4
# Loads that recent mixes are taken from.
MIXES_FROM = 100
# The desk's words for the harvest and the money of a load, as our fields.
_NAMES = {
    "country": "harvest_region",
    "subdivision": "harvest_region",
    "shares": "wood",
    "species": "wood",
    "logs": "paste",
}


@router.get("/wood-in")
@works_offline()
def loads_page(visit: Here, search: str = "", before: Last = 0) -> Response:
    search = search[:MOST_SEARCH]
    found, more = one_page(loads(visit.desk, search=search, before=before or None, limit=A_PAGE + 1))
    return visit.page(
        "wood_in.html",
        rows=found,
        search=search,
        searchable=bool(search) or before > 0 or more,
        count=count_loads(visit.desk),
        older=found[-1].id if more else 0,
    )


@router.get("/wood-in/new")
@works_offline(queues=T_("a load, roughly"))
def new_load(visit: Here, opening: bool = False) -> Response:
    rows = _last_loads(visit)
    form = visit.form(arrived_on=visit.today, opening=opening, mix="", **harvest_presets(visit, rows))
    return _rough_page(visit, form, rows)


@router.post("/wood-in/new")
def take_rough(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        command = _rough(visit, form)
        seen = read_seen(form) if form.value("seen") else None
        form.check()
        with form.asking(**_NAMES):
            answer = take_in_rough(visit.desk, command)
            if seen is not None and len(command.shares) == 1:
                _keep_with(visit, command, int(answer["load_id"]), seen)
    except FormProblem:
        return _rough_page(visit, form, _last_loads(visit), 422)
    return visit.go(f"/wood-in/{answer['load_id']}", "taken_in")


@router.post("/wood-in/expect")
def expect(visit: Here, sent: Sent) -> Response:
    """What the load being typed would give; asked by htmx while it is typed, empty until it makes sense."""
    form = visit.sent(sent)
    expected: Expectation | None = None
    try:
        command = _rough(visit, form, needs_source=False)
        expected = expect_rough(command, factor=yard_factor(visit.desk))
    except (FormProblem, RickyardError):
        # Half a form is no error: the person is still typing.
        expected = None
    return visit.page("parts/expected.html", expected=expected)


@router.get("/wood-in/logs")
@works_offline(queues=T_("a load, log by log"))
def new_logs(visit: Here) -> Response:
    presets = harvest_presets(visit, loads(visit.desk, limit=1))
    form = visit.form(arrived_on=visit.today, lines=LOG_LINES, **presets)
    return _logs_page(visit, form)


@router.post("/wood-in/logs")
def take_logs(visit: Here, sent: Sent) -> Response:
    form = visit.sent(sent)
    if form.value("more"):
        form.typed["lines"] = [str(min(MOST_LINES, lines_of(form) + MORE_LINES))]
        return _logs_page(visit, form)
    try:
        logs = read_logs(form, sent)
        if form.value("look"):
            with form.asking():
                gauged = gauge_logs(logs, over_bark=form.ticked("over_bark"))
            return _logs_page(visit, form, gauged=gauged)
        command = TakeInLogs(
            **visit.told(form),
            source=form.text("source", needed=True),
            harvest=harvest_of(form),
            arrived_on=form.day("arrived_on", visit.today),
            logs=logs,
            over_bark=form.ticked("over_bark"),
            paid_minor=form.money_or_none("paid", low_minor=-100_000_000),
            note=form.text("note"),
        )
        form.check()
        with form.asking(**_NAMES):
            answer = take_in_logs(visit.desk, command)
    except FormProblem:
        return _logs_page(visit, form, status=422)
    return visit.go(f"/wood-in/{answer['load_id']}", "taken_in")


@router.get("/wood-in/{load_id:int}")
@works_offline(each="load")
def one_load(visit: Here, load_id: int, piece: str = "") -> Response:
    return _load_page(visit, load_id, visit.form(piece_length=piece))


@router.post("/wood-in/{load_id:int}/name")
def name_later(visit: Here, load_id: int, sent: Sent) -> Response:
    form = visit.sent(sent)
    try:
        command = NameWood(
            key=form.key,
            load_id=load_id,
            was=form.text("was", needed=True),
            now=form.text("now", needed=True),
        )
        form.check()
        with form.asking():
            name_wood(visit.desk, command)
    except FormProblem:
        return _load_page(visit, load_id, form, 422)
    return visit.go(f"/wood-in/{load_id}", "named")


def _keep_with(visit: Visit, load: TakeInRough, load_id: int, seen: Seen) -> None:
    """What was seen of the tree that a load is of: a deed of its own under the load's key, so it too is done once."""
    keep_seen(
        visit.desk,
        KeepSeen(
            key=f"{load.key[:58]}-seen",
            happened_at=load.happened_at,
            sent_at=load.sent_at,
            person_id=load.person_id,
            seen=seen,
            load_id=load_id,
            was=load.shares[0][0],
        ),
    )


def _load_page(visit: Visit, load_id: int, form: Form, status: int = 200) -> Response:
    piece_length_m = 0.4064 if not visit.voice.metric else 0.40
    if form.value("piece_length") and status == 200:
        try:
            piece_length_m = form.length("piece_length", low=0.05, high=2.6, small=True)
            form.check()
        except FormProblem:
            piece_length_m, status = 0.4064, 422
    page = load_page(visit.desk, load_id, piece_length_m=piece_length_m, factor=yard_factor(visit.desk))
    held = [item.species for item in page.left.species]
    voice = visit.voice

    def diameters(log: LogLine) -> list[str]:
        return [voice.thickness(d) for d in (log.small_d_m, log.mid_d_m, log.large_d_m) if d is not None]

    return visit.page(
        "load.html",
        status,
        page=page,
        form=form,
        unnamed=any(species.rank != "species" for species in held),
        was_options=[(species.id, voice.species(species)) for species in held],
        harvest_words=harvest_words(voice, page.harvest),
        diameters=diameters,
        log_words=lambda log: log_words(voice, log),
        reason_words=lambda reason: voice.text(REASONS[reason]) if reason in REASONS else data(reason),
        measures=load_measures(visit.desk, load_id),
        photos=photos_of_load(visit.desk, load_id),
        seen=namings(visit.desk, load_id=load_id),
        verdict_words=lambda row: verdict_words(visit, row),
        sheets=cut_sheets(visit.desk, load_id=load_id),
        splits=splitting_sheets(visit.desk, load_id=load_id),
        cut=cut_of_load(visit.desk, load_id),
        lying=page.row.left_share > 0.001 and page.row.detail != "opening",
        answers_come=visit.request.app.state.answers.background,
        offer_id=offer_of_load(visit.desk, load_id),
        clashes=clashes(visit.desk, open_only=False, load_id=load_id),
    )


def log_words(voice: Voice, log: LogLine) -> str:
    """Why a log counts as it does: what was taken off, what was seen and is wood, its sag, whose bark."""
    parts = [
        voice.text(
            T_(
                "{volume} {defect} off",
                volume=voice.amount(lost, "m3", 3),
                defect=voice.text(NAMES["defect"][kind]),
            )
        )
        for kind, lost in log.lost_m3
    ]
    taken = {kind for kind, _ in log.lost_m3}
    parts += [
        voice.text(NAMES["defect"][kind])
        for kind in dict.fromkeys(defect.kind for defect in log.defects)
        if kind not in taken
    ]
    if log.sweep_m:
        parts.append(voice.text(T_("sags {sag}", sag=voice.thickness(log.sweep_m))))
    if log.bark_by_species:
        parts.append(voice.text(T_("bark as usual for its species")))
    parts += [voice.text(note) for note in log.notes]
    return "; ".join(parts)


def _rough_page(visit: Visit, form: Form, rows: list[LoadRow], status: int = 200) -> Response:
    mixes: dict[str, str] = {}
    for row in rows:
        shares = [(species, round(share, 2)) for species, share in row.shares]
        code = ", ".join(f"{round(100 * share)}% {species.id}" for species, share in shares)
        if shares and code not in mixes and len(mixes) < RECENT_MIXES:
            mixes[code] = visit.voice.shares([(visit.voice.species(wood), share) for wood, share in shares])
    if form.value("mix") not in mixes:
        form.typed["mix"] = [""]
    choices = [*mixes.items(), ("", visit.voice.text(T_("another mix, typed below")))] if mixes else []
    return visit.page("load_new.html", status, form=form, mixes=choices, sources=sources(visit.desk))


def _last_loads(visit: Visit) -> list[LoadRow]:
    """Enough of the last loads to offer their mixes again."""
    return loads(visit.desk, limit=MIXES_FROM)


def _logs_page(visit: Visit, form: Form, *, gauged: GaugedLogs | None = None, status: int = 200) -> Response:
    expected = None if gauged is None else expect_logs(gauged, factor=yard_factor(visit.desk))
    return visit.page(
        "logs_new.html",
        status,
        form=form,
        lines=lines_of(form),
        fold_open=lambda index: fold_open(form, index),
        gauged=gauged,
        expected=expected,
        sources=sources(visit.desk),
        example=log_list_template(visit.voice.locale),
    )


def _rough(visit: Visit, form: Form, *, needs_source: bool = True) -> TakeInRough:
    quantity, kind = quantity_of(form)
    shares: tuple[tuple[str, float], ...] = ()
    try:
        shares = read_mix(form.value("mix") or form.value("wood"), "wood")
    except InputError as error:
        form.complain(error)
    command = TakeInRough(
        **visit.told(form),
        source=form.text("source", needed=needs_source),
        harvest=harvest_of(form),
        arrived_on=form.day("arrived_on", visit.today),
        quantity=quantity,
        quantity_kind=kind,
        shares=shares,
        typed=form.text("quantity"),
        paid_minor=form.money_or_none("paid", low_minor=-100_000_000),
        note=form.text("note"),
        opening=form.ticked("opening"),
    )
    form.check()
    return command


def quantity_of(form: Form) -> tuple[float, str]:
    """Volume as stacked, loose or solid, or green mass: (amount in SI, the desk's word for it)."""
    try:
        kg = parse_mass(form.value("quantity"), "quantity", unit="kg", locale=form.voice.locale)
        if not form.value("quantity").strip().replace(",", "").replace(".", "").isdigit():
            return kg, "green_kg"
    except InputError:
        # No mass, so it must be a volume, whose complaint is the more helpful one.
        pass
    units = ("cord", "stacked_m3", "loose_m3", "solid_m3", "ft3", "loose_ft3")
    volume = form.volume("quantity", allowed=units)
    kind = {"loose_m3": "loose_m3", "loose_ft3": "loose_m3", "solid_m3": "solid_m3"}
    return volume.m3, kind.get(volume.unit, "stacked_m3")


def harvest_of(form: Form) -> Harvest:
    region = BY_CODE.get(form.value("harvest_region"))
    if region is None:
        form.choice("harvest_region", tuple(BY_CODE))
        return Harvest(country="")
    return Harvest(
        country=region.country,
        subdivision=region.subdivision,
        county=form.text("county"),
        certificate=form.text("certificate"),
    )


def harvest_presets(visit: Visit, rows: list[LoadRow]) -> dict[str, str]:
    """Where the last load was cut; before the first, the yard's own region."""
    if rows:
        last = load_page(visit.desk, rows[0].id).harvest
        return {"harvest_region": f"{last.country}-{last.subdivision}", "county": last.county}
    return {"harvest_region": f"{visit.facts.country}-{visit.facts.subdivision}"}
