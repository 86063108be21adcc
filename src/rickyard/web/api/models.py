"""What the API answers. Volumes in m³, masses in kg, moisture as a fraction of total mass (`mc_wet`) unless
the name says otherwise, money in minor units, days as ISO dates, odds from 0 to 1."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from pydantic import BaseModel, ConfigDict, model_validator

from rickyard.web.api.undoing_models import PaymentOut, StackMeasureOut


class Out(BaseModel):
    model_config = ConfigDict(from_attributes=True)


class ErrorBody(BaseModel):
    """What went wrong: a stable code, the field it concerns (may be empty), an English sentence."""

    code: str
    field: str
    message: str


class ErrorOut(BaseModel):
    error: ErrorBody


class HealthOut(BaseModel):
    status: str
    version: str
    yard: bool


class SpeciesOut(Out):
    id: str
    scientific: str
    common_en: str
    common_fr: str


class ShareOut(Out):
    """A kind of wood and its share of the oven-dry mass."""

    species: SpeciesOut
    share: float

    @model_validator(mode="before")
    @classmethod
    def _from_pair(cls, value: Any) -> Any:
        return {"species": value[0], "share": value[1]} if isinstance(value, tuple) else value


class SpreadOut(Out):
    """10th percentile, middle, 90th percentile."""

    low: float
    mid: float
    high: float


class HarvestOut(Out):
    country: str
    subdivision: str
    county: str
    certificate: str


class YardOut(Out):
    name: str
    address: str
    phone: str
    country: str
    subdivision: str
    climate_place: str
    timezone: str
    currency: str
    locale: str
    units: str
    target_mc_wet: float
    tax_rate: float


class ProgressOut(Out):
    """Forecasts up to date, all that are wanted, and those that could not be made."""

    done: int
    wanted: int
    failed: int


class LoadOut(Out):
    id: int
    number: int
    source: str
    arrived_on: date
    detail: str
    typed: str
    shares: tuple[ShareOut, ...]
    left_share: float
    left_kg: float
    undone_at: datetime | None
    undone_for: str


class ExpectedOut(Out):
    """What wood amounts to; volumes of solid wood inside bark are green."""

    species: SpeciesOut
    share: float
    solid_m3: SpreadOut
    oven_dry_kg: float
    green_kg: SpreadOut
    ranked_m3: SpreadOut
    loose_m3: SpreadOut
    heat_mj: SpreadOut


class ExpectationOut(Out):
    piece_length_m: float
    mc_wet: float
    species: tuple[ExpectedOut, ...]
    total: ExpectedOut | None


class LogOut(Out):
    number: int
    species: SpeciesOut
    length_m: float
    small_d_m: float | None
    large_d_m: float | None
    mid_d_m: float | None
    bark_thickness_m: float
    formula: str
    volume_m3: float
    gross_m3: float
    sweep_m: float
    bark_by_species: bool
    lost_m3: tuple[tuple[str, float], ...]


class LoadPageOut(Out):
    row: LoadOut
    harvest: HarvestOut
    note: str
    paid_minor: int | None
    logs: tuple[LogOut, ...]
    as_arrived: ExpectationOut
    left: ExpectationOut
    journal: tuple[JournalOut, ...]


class StackOut(Out):
    id: int
    name: str
    kind: str
    form: str
    piece_length_m: float
    thickness_m: float
    bark: bool
    cover: str
    exposure: str
    ground: str
    stacked_on: date
    start_mc_wet: float | None
    target_mc_wet: float
    row_label: str
    x_m: float | None
    y_m: float | None
    piled: str
    length_m: float
    height_m: float
    rows: int
    depth_m: float
    emptied_on: date | None
    shares: tuple[ShareOut, ...]
    oven_dry_kg: float
    outside_m3: float
    ranked_m3: float
    promised_m3: float
    free_m3: float


class JournalOut(Out):
    number: int
    happened_at: datetime
    kind: str
    reason: str
    mass_kg: float
    species: tuple[SpeciesOut, ...]
    undone: bool


class StackPageOut(Out):
    card: StackOut
    note: str
    measures: tuple[StackMeasureOut, ...]
    journal: tuple[JournalOut, ...]
    undone_at: datetime | None
    undone_for: str


class PartOut(Out):
    """One kind of wood in a stack; days are null beyond the forecast."""

    species: SpeciesOut
    share: float
    ready_p10: date | None
    ready_p50: date | None
    ready_p90: date | None
    mc_wet_today: float


class OutlookOut(Out):
    """When a stack is dry. `state`: waiting, running, done, failed; `known`: whether there is a forecast."""

    stack_id: int
    state: str
    stale: bool
    known: bool
    error: str
    made_at: datetime | None
    model: str
    target_mc_wet: float
    dates: tuple[date, ...]
    p10: tuple[float, ...]
    p50: tuple[float, ...]
    p90: tuple[float, ...]
    ready_p10: date | None
    ready_p50: date | None
    ready_p90: date | None
    odds: tuple[tuple[date, float], ...]
    parts: tuple[PartOut, ...]
    slowest: SpeciesOut | None


class ReadingOut(Out):
    """`value` by kind: percent shown (dry basis), moisture of total mass, or mass over mass when stacked."""

    id: int
    happened_on: date
    kind: str
    value: float
    temp_c: float | None
    species: SpeciesOut | None
    note: str
    face: str
    pieces: int | None
    scatter: float | None
    since: date | None
    own: bool
    wet: bool
    trust: str


class PieceOut(Out):
    """A marked piece; `odd` says why its last weight was left out, if it was."""

    label: str
    start_kg: float
    marked_on: date
    last_kg: float | None
    last_on: date | None
    odd: str


class WitnessOut(Out):
    """The marked pieces of a stack; `weigh_now`: a month has passed since they were on a scale."""

    pieces: tuple[PieceOut, ...]
    last_weighed_on: date | None
    weigh_now: bool
    days_since: int | None
    oven_known: bool


class TaughtLineOut(Out):
    """A shared part as the yard knows it: a factor on the pace of drying, or of a row on its exposure to air."""

    kind: str
    species: SpeciesOut | None
    name: str
    factor: float
    low: float
    high: float
    first_low: float
    first_high: float
    stacks: int


class LessonOut(Out):
    stack_id: int
    stack_name: str
    species: SpeciesOut
    row_label: str
    learnt_at: datetime
    forgotten: bool


class TaughtOut(Out):
    lines: tuple[TaughtLineOut, ...]
    lessons: tuple[LessonOut, ...]


class WareOut(Out):
    id: int
    name: str
    species: tuple[SpeciesOut, ...]
    form: str
    piece_length_m: float
    length_tolerance_m: float
    max_mc_wet: float | None
    price_minor: int
    price_unit: str
    active: bool


class HouseholdOut(Out):
    id: int
    name: str
    address: str
    phone: str
    note: str
    owed_minor: int
    last_delivery: date | None


class PromiseOut(Out):
    stack_id: int
    stack_name: str
    ranked_m3: float
    odds_then: float | None
    state: str


class OrderOut(Out):
    id: int
    number: int
    household_id: int
    household_name: str
    ware: WareOut
    ranked_m3: float
    typed: str
    asked_on: date
    wanted_by: date
    state: str
    total_minor: int
    note: str
    promises: tuple[PromiseOut, ...]
    odds_now: float | None


class PortionOut(Out):
    stack: StackOut
    ranked_m3: float


class OptionOut(Out):
    portions: tuple[PortionOut, ...]
    on: date
    odds: float | None
    unknown: bool
    mc_wet: tuple[float, float, float] | None


class SubstituteOut(Out):
    ware: WareOut
    option: OptionOut

    @model_validator(mode="before")
    @classmethod
    def _from_pair(cls, value: Any) -> Any:
        return {"ware": value[0], "option": value[1]} if isinstance(value, tuple) else value


class ReplyOut(Out):
    """The desk's answer: yes, risky, later, substitute, short, unknown or no."""

    ware: WareOut
    ranked_m3: float
    wanted_by: date
    verdict: str
    price_minor: int
    option: OptionOut | None
    earliest: OptionOut | None
    substitutes: tuple[SubstituteOut, ...]
    free_m3: float


class TicketOut(Out):
    """A cancelled ticket keeps its number; nothing is owed on it."""

    id: int
    number: int
    issued_at: datetime
    delivered_on: date
    order_id: int | None
    household_id: int | None
    buyer: str
    ware_name: str
    outside_m3: float
    price_minor: int
    tax_minor: int
    total_minor: int
    paid_minor: int
    owed_minor: int
    currency: str
    payments: tuple[PaymentOut, ...]
    cancelled_at: datetime | None
    cancelled_for: str


class GateOfferOut(Out):
    ware: WareOut
    stack: StackOut
    odds: float | None
    free_m3: float


class StackNoteOut(Out):
    stack: StackOut
    ready_p50: date | None

    @model_validator(mode="before")
    @classmethod
    def _from_note(cls, value: Any) -> Any:
        return (
            {"stack": value.stack, "ready_p50": value.outlook.ready_p50}
            if hasattr(value, "outlook")
            else value
        )


class WorthOut(Out):
    """What a measurement would do: cost taken off (in broken promises), share of the volume with plain odds."""

    saved_m3: float
    clear_now: float
    clear_then: float
    sd_share: float


class ReadingWantedOut(Out):
    stack: StackOut
    last: date | None
    band_mc: float
    action: str
    due: bool
    at_stake_m3: float
    worth: WorthOut


class ClashOut(Out):
    """A report that does not fit the book, in an English sentence. Open while `settled_at` is null.

    It is about the stack, or else the load.
    """

    id: int
    code: str
    sentence: str
    subject_kind: str
    subject_id: int
    stack_id: int | None
    stack_name: str
    load_id: int | None
    load_number: int | None
    raised_at: datetime
    settled_at: datetime | None
    note: str


class TodayOut(Out):
    day: date
    progress: ProgressOut
    ready_soon: tuple[StackNoteOut, ...]
    ready_now: tuple[StackNoteOut, ...]
    at_risk: tuple[OrderOut, ...]
    due: tuple[OrderOut, ...]
    unpromised: tuple[OrderOut, ...]
    readings_wanted: tuple[ReadingWantedOut, ...]
    ranked_m3: float
    promised_m3: float
    ready_m3: float
    clashes: tuple[ClashOut, ...]
    questioned: tuple[StackNoteOut, ...]


class PersonOut(Out):
    id: int
    name: str


class PhotoOut(Out):
    """A photo; its bytes are at `/photos/{id}`, a preview at `/photos/{id}/small`."""

    id: int
    sha256: str
    media_type: str
    size_bytes: int
    width_px: int
    height_px: int
    taken_at: datetime | None
    added_at: datetime
    subject_kind: str
    subject_id: int
    note: str
    latitude_deg: float | None
    longitude_deg: float | None


class PlaceOut(Out):
    """A place with weather normals."""

    id: str
    label: str
    lat: float
    lon: float
