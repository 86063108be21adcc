"""When a stack will be dry: an ensemble of pieces, each with its own wood and weather."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rickyard.errors import InputError
from rickyard.season.constants import fitted_values
from rickyard.season.ensemble import draw, member_constants, member_damp, start_of
from rickyard.season.learning import LEAST_MEMBERS, Lesson, lesson_of, taught, thickness_class
from rickyard.season.models import AirHours, DryingModel, FiniteVolumes
from rickyard.season.physics import LAYERS, Physics, damp_hours, wet_hours, wood_class, zoned
from rickyard.season.pieces import FITTED_THICKNESS_M, Pieces
from rickyard.season.readings import Reading, evidence
from rickyard.season.reduced import REDUCED
from rickyard.season.smoother import assimilate
from rickyard.text import T_, Text
from rickyard.wood import get_species

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rickyard.season.ensemble import Ensemble
    from rickyard.weather import HourlyAir
    from rickyard.wood import Species

#: Name of the model, its constants and its grid; changes whenever a forecast may change.
MODEL_VERSION = "season-4"
HORIZON_DAYS = 540
MEMBERS = (1, 2000)


@dataclass(frozen=True)
class Ready:
    """When the mean moisture is at or below a target (fraction of total mass).

    `p10`, `p50`, `p90`: first day on which a tenth, half, nine tenths of the members have been at or below
    it; None beyond the horizon. `odds`: every seventh day from stacking, share of members at or below it
    *on* that day, which may fall again in autumn.
    """

    target_mc_wet: float
    p10: date | None
    p50: date | None
    p90: date | None
    odds: tuple[tuple[date, float], ...]


@dataclass(frozen=True)
class Forecast:
    """Moistures of all members, day by day.

    `mc_db` [days, members]: mean moisture of the pieces [water / oven-dry mass] at the beginning of each of
    `dates`, the first of which is the day of stacking. `parts` are the forecasts a mixed one was made of,
    with their shares.
    """

    dates: tuple[date, ...]
    mc_db: NDArray[np.float32]
    warnings: tuple[Text, ...] = ()
    model: str = MODEL_VERSION
    parts: tuple[tuple[float, Forecast], ...] = ()
    species_id: str = ""
    #: The members' constants after readings; None for a mixed forecast.
    ensemble: Ensemble | None = field(default=None, repr=False)
    #: What the stack's own readings taught; None without readings, or for a mixed forecast.
    lesson: Lesson | None = None
    #: Readings that stand far from everything else; they count for little until somebody looks again.
    doubted: tuple[Reading, ...] = ()
    #: The same moistures in the layers of the stack, in the order of `LAYERS` [days, 3, members]; their mean
    #: is `mc_db`. None where they were not asked for.
    layers_db: NDArray[np.float32] | None = field(default=None, repr=False)

    @property
    def members(self) -> int:
        return int(self.mc_db.shape[1])

    @cached_property
    def _percentiles(self) -> NDArray[np.float64]:
        mc = np.percentile(self.mc_db.astype(np.float64), (10, 50, 90), axis=1)
        return np.asarray(mc / (1.0 + mc))

    @property
    def p10(self) -> NDArray[np.float64]:
        """10th percentile of the moisture, fraction of total mass [days]."""
        return np.asarray(self._percentiles[0])

    @property
    def p50(self) -> NDArray[np.float64]:
        """50th percentile, likewise."""
        return np.asarray(self._percentiles[1])

    @property
    def p90(self) -> NDArray[np.float64]:
        """90th percentile, likewise."""
        return np.asarray(self._percentiles[2])

    def below(self, target_mc_wet: float) -> NDArray[np.bool_]:
        """Whether each member is at or below the target on each day [days, members]."""
        _check_target(target_mc_wet)
        return np.asarray(self.mc_db <= target_mc_wet / (1.0 - target_mc_wet))

    def ready_day(self, target_mc_wet: float) -> NDArray[np.int64]:
        """Days from stacking to each member's first day at or below the target; -1 beyond the horizon."""
        below = self.below(target_mc_wet)
        return np.where(below.any(axis=0), below.argmax(axis=0), -1)

    def ready(self, target_mc_wet: float = 0.20) -> Ready:
        """Dates and odds for a target; InputError for a target that is no moisture of firewood."""
        below = self.below(target_mc_wet)
        reached = np.logical_or.accumulate(below, axis=0).mean(axis=1)
        on = below.mean(axis=1)

        def first(share: float) -> date | None:
            # Half of 100 members is 50 of them, whatever binary fractions say.
            found = np.flatnonzero(reached >= share - 1e-9)
            return self.dates[int(found[0])] if len(found) else None

        return Ready(
            target_mc_wet=target_mc_wet,
            p10=first(0.10),
            p50=first(0.50),
            p90=first(0.90),
            odds=tuple((self.dates[i], float(on[i])) for i in range(0, len(self.dates), 7)),
        )

    def slowest(self, target_mc_wet: float = 0.20) -> Forecast:
        """The part ready last (by median ready day, then by moisture at the end); self if not mixed."""
        if not self.parts:
            return self

        def lateness(part: Forecast) -> tuple[float, float]:
            day = part.ready_day(target_mc_wet)
            late = float(np.median(np.where(day < 0, len(part.dates), day)))
            return late, float(part.mc_db[-1].mean())

        return max((part for _, part in self.parts), key=lateness)


def forecast(
    pieces: Pieces,
    air: HourlyAir,
    *,
    members: int = 100,
    seed: int = 0,
    readings: Sequence[Reading] = (),
    until: date | None = None,
    stack_key: str = "",
    model: DryingModel | None = None,
    row: str = "",
    lessons: Sequence[Lesson] = (),
    teach: bool = True,
    ensemble: Ensemble | None = None,
    drawn_as: Pieces | None = None,
    physics: Physics = Physics(),
    layers: bool = True,
) -> Forecast:
    """Moisture of a stack's pieces from the day of stacking on.

    Parameters
    ----------
    pieces
        What dries, and where it stands.
    air
        Hours of the sky, from `pieces.stacked_on` or earlier; one member for all, or at least `members`.
    members
        Size of the ensemble [unitless].
    seed
        Of all random draws. Member j of every stack with this seed shares what is not the stack's own.
    readings
        Measurements of this stack; they move the members' wood, never their weather.
    until
        Last day wanted; None: 540 days after stacking or as far as `air` reaches.
    stack_key
        Name of the stack: another name, other draws of what is the stack's own.
    model
        A drying model; None: the three-dimensional one.
    row
        Name of the row it stands in: stacks of one row share part of their exposure.
    lessons
        What readings of the yard's stacks taught; those of this stack itself are left out.
    teach
        Whether to reckon what this stack's own readings teach (`Forecast.lesson`).
    ensemble
        The members as another forecast left them, in place of drawing them: what-if questions compare the
        same members.
    drawn_as
        The pieces by whose thickness the members are drawn, if these are other ones in their place: what-if
        questions compare the same wood, and a thickness class has a pace of its own.
    physics
        Switches, for comparisons.
    layers
        Whether to look at the layers of the stack too (a tenth more work).

    Raises
    ------
    InputError
        If the air does not cover the time, `until` lies before the stacking, a reading lies outside, or
        the number of members makes no sense.
    """
    species = get_species(pieces.species_id)
    values = fitted_values()
    if not MEMBERS[0] <= members <= MEMBERS[1]:
        raise InputError(
            "members",
            wanted=T_("{low} to {high} members", low=MEMBERS[0], high=MEMBERS[1]),
            got=members,
            next_move=T_("100 is enough for dates to within a day or two."),
        )
    hours, days = air_hours(pieces, air, members, until)
    solver = FiniteVolumes() if model is None else model
    like = pieces if drawn_as is None else replace(pieces, thickness_m=drawn_as.thickness_m)
    if ensemble is None:
        plain = draw(
            pieces,
            species,
            members,
            seed,
            stack_key,
            values,
            thickness_class=thickness_class(like.thickness_m),
            row=row,
        )
        ensemble = taught(plain, like, lessons, seed=seed, stack_key=stack_key, row=row, values=values)
    else:
        plain = ensemble

    hours = wet_hours(hours, physics)
    shape = zoned(pieces.shape, species, physics)

    def simulate(which: Ensemble, count: int) -> NDArray[np.float32]:
        constants = member_constants(pieces, species, which, values, physics)
        air_in = damp_hours(hours, member_damp(pieces, which, values, physics))
        return solver.run(shape, constants, air_in, count).mean_db

    warnings = list(_warnings(pieces, species))
    lesson: Lesson | None = None
    doubted: tuple[Reading, ...] = ()
    if readings:
        taken = [evidence(reading, species, pieces.stacked_on) for reading in readings]
        for item in taken:
            if item.day > days:
                raise InputError(
                    "reading",
                    wanted=T_("a day until {day}, the last of the forecast", day=_last(pieces, days)),
                    got=item.reading.on.isoformat(),
                    next_move=T_("Correct the day of the reading."),
                )
        key = ("readings", seed, stack_key, species.id)
        heard = assimilate(ensemble, taken, simulate, key)
        if teach and members >= LEAST_MEMBERS:
            # A lesson says what the readings tell by themselves: it is drawn from members that nobody taught.
            alone = heard if ensemble is plain else assimilate(plain, taken, simulate, key)
            lesson = lesson_of(plain, alone.ensemble, pieces, stack_key, row)
        ensemble, doubted = heard.ensemble, heard.doubted
        warnings.extend(heard.warnings)
    mc_db = simulate(ensemble, days)
    dates = tuple(pieces.stacked_on + timedelta(days=i) for i in range(days + 1))
    return Forecast(
        dates=dates,
        mc_db=mc_db,
        warnings=tuple(warnings),
        model=MODEL_VERSION,
        species_id=species.id,
        ensemble=ensemble,
        lesson=lesson,
        doubted=doubted,
        layers_db=_layers(pieces, species, ensemble, values, physics, hours, mc_db) if layers else None,
    )


def _layers(
    pieces: Pieces,
    species: Species,
    ensemble: Ensemble,
    values: Mapping[str, float],
    physics: Physics,
    hours: AirHours,
    mc_db: NDArray[np.float32],
) -> NDArray[np.float32]:
    """Moisture of the stack's layers [days, 3, members].

    How far each lies from their mean is told by the reduced model and added to the moisture of the stack.
    """
    days = len(mc_db) - 1
    shape = zoned(pieces.shape, species, physics)
    runs = []
    for layer in LAYERS:
        constants = member_constants(pieces, species, ensemble, values, physics, layer)
        air_in = damp_hours(hours, member_damp(pieces, ensemble, values, physics, layer))
        runs.append(REDUCED.run(shape, constants, air_in, days).mean_db)
    each = np.stack(runs, axis=1)
    apart = each - each.mean(axis=1, keepdims=True)
    # Never as far as dry: a layer may differ from the mean by half of it.
    half = 0.5 * mc_db[:, None, :] / np.maximum(np.abs(apart).max(axis=1, keepdims=True), 1e-6)
    return np.asarray(mc_db[:, None, :] + np.minimum(half, 1.0) * apart, dtype=np.float32)


def mix(parts: Sequence[tuple[float, Forecast]]) -> Forecast:
    """The forecast of a stack of several species: the mean of each member, weighted by dry mass.

    Parameters
    ----------
    parts
        Shares of oven-dry mass (any positive scale) and forecasts of the same days and members.

    Raises
    ------
    InputError
        If there are no parts, a share is not positive, or the parts differ in days or members.
    """
    if not parts or any(not share > 0.0 for share, _ in parts):
        raise InputError(
            "shares",
            wanted=T_("one or more parts with shares above zero"),
            got=", ".join(f"{share:g}" for share, _ in parts) or "-",
            next_move=T_("Leave out what is not in the stack."),
        )
    first = parts[0][1]
    for _, part in parts[1:]:
        if part.dates != first.dates or part.members != first.members:
            raise InputError(
                "shares",
                wanted=T_("forecasts of the same days and members"),
                got=f"{len(part.dates)} x {part.members}",
                next_move=T_("Forecast all species of a stack alike."),
            )
    if len(parts) == 1:
        return first
    total = sum(share for share, _ in parts)
    weights = [share / total for share, _ in parts]
    mean = sum(
        weight * part.mc_db.astype(np.float64) for weight, (_, part) in zip(weights, parts, strict=True)
    )
    warnings: list[Text] = []
    for _, part in parts:
        warnings.extend(text for text in part.warnings if text not in warnings)
    layers: NDArray[np.float32] | None = None
    if all(part.layers_db is not None for _, part in parts):
        each = [
            w * part.layers_db
            for w, (_, part) in zip(weights, parts, strict=True)
            if part.layers_db is not None
        ]
        layers = np.asarray(np.sum(each, axis=0), dtype=np.float32)
    return Forecast(
        dates=first.dates,
        mc_db=np.asarray(mean, dtype=np.float32),
        layers_db=layers,
        warnings=tuple(warnings),
        model=first.model,
        parts=tuple((weight, part) for weight, (_, part) in zip(weights, parts, strict=True)),
        doubted=tuple({reading.ref: reading for _, part in parts for reading in part.doubted}.values()),
    )


def air_hours(pieces: Pieces, air: HourlyAir, members: int, until: date | None) -> tuple[AirHours, int]:
    """The hours from stacking on, and the number of days to run."""
    skip = (pieces.stacked_on - air.start).days
    have = air.air_c.shape[0] // 24 - skip
    wanted = HORIZON_DAYS if until is None else (until - pieces.stacked_on).days
    if until is not None and wanted < 1:
        raise InputError(
            "until",
            wanted=T_("a day after {day}, when the wood was stacked", day=pieces.stacked_on.isoformat()),
            got=until.isoformat(),
            next_move=T_("Give a later day."),
        )
    days = min(wanted, have) if until is None else wanted
    if skip < 0 or days > have or days < 1:
        raise InputError(
            "air",
            wanted=T_(
                "weather from {first} to {last}",
                first=pieces.stacked_on.isoformat(),
                last=_last(pieces, wanted),
            ),
            got=T_(
                "{first} to {last}",
                first=air.start.isoformat(),
                last=(air.start + timedelta(days=air.air_c.shape[0] // 24)).isoformat(),
            ),
            next_move=T_("Make weather for the whole time."),
        )
    count = air.air_c.shape[1]
    if count != 1 and count < members:
        raise InputError(
            "members",
            wanted=T_("weather of {members} members", members=members),
            got=count,
            next_move=T_("Make weather for as many members, or ask for fewer."),
        )
    rows = slice(24 * skip, 24 * (skip + days))
    columns = slice(0, 1 if count == 1 else members)
    return (
        AirHours(
            air.air_c[rows, columns],
            air.vapour_pa[rows, columns],
            air.wind_m_s[rows, columns],
            air.sun_w_m2[rows, columns],
            air.rain_mm[rows, columns],
        ),
        days,
    )


def _last(pieces: Pieces, days: int) -> str:
    return (pieces.stacked_on + timedelta(days=days)).isoformat()


def _warnings(pieces: Pieces, species: Species) -> list[Text]:
    """What the forecast leans on without evidence."""
    said: list[Text] = []
    low, high = FITTED_THICKNESS_M[pieces.form]
    if not 0.7 * low <= pieces.thickness_m <= 1.3 * high:
        said.append(
            T_(
                "Pieces {got:.0f} cm thick: the model was fitted on {low:.0f} to {high:.0f} cm.",
                got=100 * pieces.thickness_m,
                low=100 * low,
                high=100 * high,
            )
        )
    if species.rank == "unnamed":
        said.append(T_("The wood is not named yet: the band is wide. Naming it makes the forecast firmer."))
    elif species.rank != "species":
        said.append(T_("{name} is a group: the band covers its members.", name=species.names))
    klass = wood_class(species)
    if klass.wet_wood:
        said.append(
            T_(
                "{name} may hold pockets of wet wood: taken to dry more slowly than its density says, on one "
                "observation of aspen. Split it fine and measure it.",
                name=species.names,
            )
        )
    if pieces.form in ("round", "log") and pieces.bark:
        said.append(
            T_(
                "Rounds with bark on dry almost only through their ends; "
                "how much the bark lets through is poorly known."
            )
        )
    if pieces.cover == "none":
        said.append(T_("Rain on uncovered wood is not calibrated; an autumn may wet it more than forecast."))
    _, sd = start_of(pieces, species, fitted_values())
    if pieces.start_mc_db is None and sd > 0.0:
        said.append(
            T_(
                "The start moisture is that of green wood in general; "
                "one oven-dried sample would firm this up."
            )
        )
    return said


def horizon_warning(part: Forecast, target_mc_wet: float) -> Text | None:
    """What to say when not even half the members get dry within the forecast."""
    if part.ready(target_mc_wet).p50 is not None:
        return None
    return T_(
        "Not expected to be at {percent:.0f} % of total mass by {day}, the last day looked at.",
        percent=100 * target_mc_wet,
        day=part.dates[-1].isoformat(),
    )


def _check_target(target_mc_wet: float) -> None:
    if not 0.05 <= target_mc_wet <= 0.60:
        raise InputError(
            "target_moisture_wet",
            wanted=T_("a fraction of total mass from 0.05 to 0.60"),
            got=f"{target_mc_wet:g}",
            next_move=T_("Dry firewood is 0.20."),
        )
