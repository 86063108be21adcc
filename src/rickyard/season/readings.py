"""Measurements of a stack, and what each says of its mean piece, with how much doubt.

A pin meter errs in two ways: its scale and the correction of the species are off alike for every reading of
a stack, the pieces and the contact differ from one reading to the next. Marked pieces that are weighed again
and again are always the same few: that they dry faster or started wetter than the stack's mean is one error
shared by all their weighings. Errors that are shared are latent numbers of each member, drawn with their own
spread and moved by the smoother like the wood itself, so that ten readings by one meter do not pass for ten
meters.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from statistics import fmean, median, stdev
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rickyard.errors import InputError
from rickyard.season.meter import FROZEN_C, FROZEN_SD, RANGE_PCT, meter_mc
from rickyard.text import T_, Text

if TYPE_CHECKING:
    from rickyard.wood import Species

Floats = NDArray[np.float64]

KINDS = ("meter", "oven", "weighed")
FACES = ("split", "surface")
TRUSTS = ("", "right", "aside")
# One sample or a few pieces stand for the stack: pieces differ. Assumed.
OVEN_SD_DB, OVEN_SD_SHARE = 0.01, 0.05
# Weighing the slice and judging it dry, where the slice came from a marked piece itself. Assumed.
OVEN_OWN_SD_DB, OVEN_OWN_SD_SHARE = 0.01, 0.02
#: Mass ratio of witness pieces: reading the scale, bark and dust lost. Assumed.
WEIGHED_SD = 0.012
#: How single pieces of a stack differ: log standard deviation of the pace of drying (thickness counts twice,
#: the wood and the place in the stack besides), and of the start moisture. Assumed.
PIECE_PACE_SD, PIECE_START_SD = 0.20, 0.06
#: Pieces taken to stand behind a weighing that does not say how many.
PIECES_UNSAID = 4
#: Where drying ends, to scale the pace of a piece by [dry basis]. Assumed: equilibrium in open air.
FLOOR_DB = 0.14
# A meter: the share of its doubt that all its readings have in common, and how single pieces scatter about
# the stack's mean [points + share of the moisture]. Assumed.
METER_COMMON_SHARE = 0.7
METER_PIECE_PCT, METER_PIECE_SHARE = 1.5, 0.06
#: A typed scatter of few pieces is itself uncertain: it counts beside this many pieces of the assumed one.
SCATTER_PRIOR_PIECES = 3
#: A reading on the outside of a piece. The surface follows the air within days while the inside lags: the
#: wood is hardly drier than that, and how much wetter is not told. Assumed.
SURFACE_SD = 0.04
#: Rain on weighed pieces [share of their mass]: they are lighter than that when it has dried off. Assumed.
WET_SD = 0.02


@dataclass(frozen=True)
class Reading:
    """One measurement of a stack.

    Parameters
    ----------
    kind
        `meter`: the percent a pin meter shows; `oven`: moisture of an oven-dried sample as a fraction of its
        total mass; `weighed`: mass of marked pieces over their mass on the day of marking.
    on
        The day.
    value
        In the unit of the kind; of several pieces, their mean (meters: see `mean_shown`).
    temp_c
        Temperature of the wood [deg C], for meters.
    face
        Where a meter's pins went: a fresh `split` face or the outer `surface`.
    pieces
        How many pieces were measured; None: not said.
    scatter
        Standard deviation among them, in the unit of the kind; None: not said.
    since
        Day on which the weighed pieces were marked and first weighed; None: the day of stacking.
    step
        Smallest step of the scale over the mass on it [unitless]; None: fine enough not to matter.
    own
        The oven sample was cut from the marked pieces themselves.
    wet
        The weighed pieces were wet from rain.
    trust
        `right`: somebody looked again and it is right; `aside`: it does not count; else it is judged by the rest.
    ref
        The caller's own name for the reading.
    """

    kind: str
    on: date
    value: float
    temp_c: float | None = None
    face: str = "split"
    pieces: int | None = None
    scatter: float | None = None
    since: date | None = None
    step: float | None = None
    own: bool = False
    wet: bool = False
    trust: str = ""
    ref: str = ""

    def __post_init__(self) -> None:
        for name, got, names in (
            ("kind", self.kind, KINDS),
            ("face", self.face, FACES),
            ("trust", self.trust, TRUSTS),
        ):
            if got not in names:
                raise InputError(
                    name,
                    wanted=T_("one of {names}", names=", ".join(item for item in names if item)),
                    got=got,
                    next_move=T_("Choose how it was measured."),
                )
        if self.kind == "oven" and not 0.0 < self.value < 0.75:
            raise InputError(
                "reading",
                wanted=T_("moisture of an oven sample between 0 and 0.75 of its total mass"),
                got=f"{self.value:g}",
                next_move=T_("Divide the mass lost in the oven by the mass before it."),
            )
        if self.kind == "weighed" and not 0.2 <= self.value <= 1.3:
            raise InputError(
                "reading",
                wanted=T_("a mass between 0.2 and 1.3 of the mass on the day of stacking"),
                got=f"{self.value:g}",
                next_move=T_("Divide the mass of the marked pieces now by their mass when stacked."),
            )
        if self.kind == "meter" and not 3.0 <= self.value <= 150.0:
            raise InputError(
                "reading",
                wanted=T_("a meter reading from {low:g} to {high:g} percent", low=3, high=150),
                got=f"{self.value:g}",
                next_move=T_("Type the percent as the meter shows it."),
            )
        if self.pieces is not None and not 1 <= self.pieces <= 200:
            raise InputError(
                "pieces",
                wanted=T_("{low} to {high} pieces", low=1, high=200),
                got=self.pieces,
                next_move=T_("Count the pieces that were measured."),
            )
        for name, figure in (("scatter", self.scatter), ("step", self.step)):
            if figure is not None and not (math.isfinite(figure) and figure >= 0.0):
                raise InputError(
                    name,
                    wanted=T_("a figure of zero or more"),
                    got=f"{figure:g}",
                    next_move=T_("Leave it out if it is not known."),
                )


@dataclass(frozen=True)
class Evidence:
    """A reading as the smoother takes it: `value` and `sd` of the moisture [dry basis] or of the mass ratio.

    `bound` is "above" or "below" where only that is known. `latents` names the shared errors it is seen
    through, each with its standard deviation; `sd` is what is left to this reading alone.
    """

    reading: Reading
    day: int
    value: float
    sd: float
    bound: str = ""
    since: int = 0
    latents: Mapping[str, float] = field(default_factory=dict)

    @property
    def rank(self) -> tuple[object, ...]:
        """The order in which readings are taken, whatever the order in which they came."""
        r = self.reading
        return (self.day, r.kind, self.value, self.sd, self.bound, self.since, r.own, r.wet, r.trust, r.ref)

    def predicted(self, mean_db: NDArray[np.float32], latents: Mapping[str, Floats] | None = None) -> Floats:
        """What each member says the measurement should have been; `mean_db` [days + 1, members].

        `latents`: standard normal numbers of the members by name; those left out are zero.
        """
        z = {name: sd * latents[name] for name, sd in self.latents.items() if latents and name in latents}
        now = mean_db[self.day].astype(np.float64)
        if self.reading.kind == "meter":
            return np.asarray(now + z.get("meter", 0.0))
        if not self.latents and self.reading.kind == "oven":
            return np.asarray(now)
        then = mean_db[self.since].astype(np.float64)
        start = then * np.exp(z.get(f"start {self.since}", 0.0))
        left = np.maximum(now - FLOOR_DB, 1e-3) / np.maximum(then - FLOOR_DB, 1e-3)
        # A faster piece has gone the same way sooner; below the floor all pieces are alike.
        pace = np.exp(z.get(f"pace {self.since}", 0.0))
        piece = np.where(
            (now > FLOOR_DB) & (start > FLOOR_DB), FLOOR_DB + (start - FLOOR_DB) * left**pace, now
        )
        if self.reading.kind == "oven":
            return np.asarray(piece)
        return np.asarray((1.0 + piece) / (1.0 + start))

    def miss(self, predicted: Floats) -> Floats:
        """Reading minus prediction, nothing where a bound is kept."""
        miss = self.value - predicted
        if self.bound == "above":
            return np.maximum(miss, 0.0)
        if self.bound == "below":
            return np.minimum(miss, 0.0)
        return miss


def evidence(reading: Reading, species: Species, stacked_on: date) -> Evidence:
    """What a reading says of the stack's mean piece; InputError if it was taken before the stacking."""
    day = _day(reading.on, stacked_on)
    if reading.kind == "meter":
        return _of_meter(reading, species, day)
    since = 0 if reading.since is None else _day(reading.since, stacked_on)
    pieces = PIECES_UNSAID if reading.pieces is None else reading.pieces
    if reading.kind == "oven":
        mc_db = reading.value / (1.0 - reading.value)
        if not reading.own:
            return Evidence(reading, day, mc_db, OVEN_SD_DB + OVEN_SD_SHARE * mc_db)
        latents = _of_pieces(since, pieces, day)
        # One of the pieces for all of them.
        among = PIECE_START_SD * mc_db * math.sqrt(1.0 - 1.0 / pieces)
        sd = math.hypot(OVEN_OWN_SD_DB + OVEN_OWN_SD_SHARE * mc_db, among)
        return Evidence(reading, day, mc_db, sd, since=since, latents=latents)
    if day < since:
        raise InputError(
            "reading",
            wanted=T_("a weighing after the pieces were marked on {day}", day=reading.since or stacked_on),
            got=reading.on.isoformat(),
            next_move=T_("Correct the day of the weighing or of the marking."),
        )
    # A step of the scale is rounded evenly: its standard deviation is step / sqrt(12).
    sd = math.hypot(WEIGHED_SD, (reading.step or 0.0) / math.sqrt(12.0))
    bound = ""
    if reading.wet:
        sd, bound = math.hypot(sd, WET_SD), "below"
    return Evidence(
        reading, day, reading.value, sd, bound, since=since, latents=_of_pieces(since, pieces, day)
    )


def mean_shown(shown: Sequence[float]) -> tuple[float, float | None]:
    """What several readings of one meter come to: their mean and their standard deviation.

    Where some are beyond the meter's range the middle one is taken: it stays right while fewer than half are.
    """
    floor, ceiling = RANGE_PCT
    within = all(floor <= percent <= ceiling for percent in shown)
    middle = fmean(shown) if within else median(shown)
    return middle, stdev(shown) if len(shown) > 1 else None


def cautions(reading: Reading) -> tuple[Text, ...]:
    """What is to be said of a reading as it is taken, before anything is reckoned."""
    said: list[Text] = []
    if reading.kind != "meter":
        return ()
    floor, ceiling = RANGE_PCT
    if reading.value > ceiling:
        said.append(
            T_(
                "{shown:g} % is past the {high:g} % up to which a pin meter follows the wood: it only tells that "
                "the wood is wetter than that. An oven sample tells how wet.",
                shown=reading.value,
                high=ceiling,
            )
        )
    elif reading.value < floor:
        said.append(
            T_(
                "{shown:g} % is under the {low:g} % down to which a pin meter follows the wood: it only tells "
                "that the wood is drier than that.",
                shown=reading.value,
                low=floor,
            )
        )
    if reading.temp_c is not None and reading.temp_c < FROZEN_C:
        said.append(
            T_(
                "Frozen wood: a pin meter cannot be trusted in it, and the reading counts for little. Bring a "
                "piece indoors, let it thaw for a day, split it and measure again."
            )
        )
    if reading.face == "surface":
        said.append(
            T_(
                "A reading on the outside says little of the inside: it is taken as the least the wood holds. "
                "Split a piece and put the pins into the fresh face."
            )
        )
    return tuple(said)


def errors_of(kind: str, mc_db: float, pieces: int) -> float:
    """The whole error of a measurement that is still to be taken, of wood about so moist [dry basis, or ratio]."""
    if kind == "oven":
        return OVEN_SD_DB + OVEN_SD_SHARE * mc_db
    if kind == "meter":
        # The meter's own doubt and the pieces', as for one reading corrected for its species.
        return math.hypot(0.015, METER_PIECE_PCT / 100.0 + METER_PIECE_SHARE * mc_db)
    return math.hypot(WEIGHED_SD, 0.25 * PIECE_PACE_SD / math.sqrt(pieces))


def _of_meter(reading: Reading, species: Species, day: int) -> Evidence:
    shown = meter_mc(species, reading.value, reading.temp_c)
    common = METER_COMMON_SHARE * shown.sd_db
    rest = math.sqrt(shown.sd_db**2 - common**2)
    assumed = (METER_PIECE_PCT + METER_PIECE_SHARE * reading.value) / 100.0
    pieces = reading.pieces or 1
    variance = assumed**2
    if reading.scatter is not None and pieces > 1:
        told, behind = (reading.scatter / 100.0) ** 2, pieces - 1
        variance = (SCATTER_PRIOR_PIECES * variance + behind * told) / (SCATTER_PRIOR_PIECES + behind)
    sd = math.sqrt((rest**2 + variance) / pieces)
    if reading.temp_c is not None and reading.temp_c < FROZEN_C:
        sd = math.hypot(sd, FROZEN_SD / 100.0)
    latents = {"meter": common}
    floor, ceiling = RANGE_PCT
    if reading.face == "surface":
        value = (ceiling if shown.beyond == "above" else floor) / 100.0 if shown.beyond else shown.mc_db
        return Evidence(reading, day, value, math.hypot(sd, SURFACE_SD), "above", latents=latents)
    if shown.beyond:
        edge = (ceiling if shown.beyond == "above" else floor) / 100.0
        return Evidence(reading, day, edge, sd, shown.beyond, latents=latents)
    return Evidence(reading, day, shown.mc_db, sd, latents=latents)


def _of_pieces(since: int, pieces: int, day: int) -> dict[str, float]:
    """The errors that all weighings of so many pieces share."""
    root = math.sqrt(pieces)
    latents = {f"start {since}": PIECE_START_SD / root}
    if day > since:
        latents[f"pace {since}"] = PIECE_PACE_SD / root
    return latents


def _day(on: date, stacked_on: date) -> int:
    day = (on - stacked_on).days
    if day < 0:
        raise InputError(
            "reading",
            wanted=T_("a day from {day} on, when the wood was stacked", day=stacked_on.isoformat()),
            got=on.isoformat(),
            next_move=T_("Correct the day of the reading or of the stacking."),
        )
    return day
