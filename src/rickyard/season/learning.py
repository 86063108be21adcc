"""What a yard's readings teach of its wood and its rows, beyond the stack they were taken in.

The pace of drying of a stack is taken apart into what its species does in this yard, what this thickness of
it does, and what is the stack's own; its exposure to moving air into what its row does and its own. The
readings of one stack tell its pace and exposure (a *lesson*, kept free of what was believed before); all
lessons together move the shared parts, once, for all stacks. One stack can move a species by no more than
its share of the spread, so the yard learns slowly, over stacks and seasons.

Members keep who they are: member j of every stack has the same draw j of each shared part, and each is moved
by its own difference from the lessons (conditioning draw by draw, as in kriging by Matheron's rule; Wilson
and others 2021, Journal of Machine Learning Research 22:105, from memory). A stack is never taught by its own
lesson: its readings move it directly, and would count twice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rickyard.season.constants import fitted_values
from rickyard.season.draws import normal_draws
from rickyard.season.ensemble import Ensemble, own_draws, shared_parts, spreads_of
from rickyard.wood import get_species

if TYPE_CHECKING:
    from rickyard.season.pieces import Pieces

Floats = NDArray[np.float64]

#: Thickness of split wood [m] below which it is `fine`, and from which on it is `coarse`.
CLASS_EDGES_M = (0.09, 0.13)
THICKNESS_CLASSES = ("fine", "middle", "coarse")
#: Fewer members tell no covariance to speak of.
LEAST_MEMBERS = 16
#: What one season's weather and the choice of pieces may add to a stack's seeming pace [log sd]. Assumed.
SEASON_SD = 0.10
# A lesson that tells nothing of a direction is taken to tell this little [1 / log variance].
LEAST_PRECISION = 1e-4
#: A direction whose variance fell by less than this share of what is left tells only how few the members are.
LEAST_GAIN = 0.25


@dataclass(frozen=True)
class Lesson:
    """What one stack's readings tell of its wood, whatever was believed before.

    `pace` and `exposure` are logarithms of factors on the diffusion coefficient and on the exposure to moving
    air; `precision` (pace-pace, pace-exposure, exposure-exposure) says how firmly, zero for not at all.
    """

    stack_key: str
    species_id: str
    thickness_class: str
    row: str
    pace: float
    exposure: float
    precision: tuple[float, float, float]

    @property
    def matrix(self) -> Floats:
        pp, pe, ee = self.precision
        # Rounding may leave a direction with less than nothing.
        values, axes = np.linalg.eigh(np.array([[pp, pe], [pe, ee]]))
        return np.asarray(axes @ np.diag(np.maximum(values, 0.0)) @ axes.T)

    def weighed(self, share: float) -> Lesson:
        """The lesson of a species that is this share of its stack: a reading of a mixed stack speaks for all."""
        return replace(self, precision=_rounded(share * self.matrix))

    @property
    def empty(self) -> bool:
        return self.precision[0] <= 0.0 and self.precision[2] <= 0.0


@dataclass(frozen=True)
class Learnt:
    """A shared part as the yard knows it by now: logarithm of a factor, with its spread now and at first.

    `kind` is `species`, `thickness` (of a species) or `row`; `stacks` is how many stand behind it.
    """

    kind: str
    species_id: str
    name: str
    mean: float
    sd: float
    prior_sd: float
    stacks: int


def thickness_class(thickness_m: float) -> str:
    """`fine`, `middle` or `coarse`."""
    return THICKNESS_CLASSES[int(np.searchsorted(CLASS_EDGES_M, thickness_m, side="right"))]


def lesson_of(before: Ensemble, after: Ensemble, pieces: Pieces, stack_key: str, row: str) -> Lesson:
    """What the readings told, from the members before and after them.

    The members' own means and covariances are compared, so that what no reading touched cancels exactly.
    """
    then = np.stack([before.log_k_d, before.log_phi])
    now = np.stack([after.log_k_d, after.log_phi])
    covariance = np.cov(then)
    first, last = np.linalg.inv(covariance), np.linalg.inv(np.cov(now))
    # In units of the spread before, what is told is the old variance over the new, less one.
    values, directions = np.linalg.eigh(covariance)
    root = directions @ np.diag(np.sqrt(values)) @ directions.T
    gains, axes = np.linalg.eigh(root @ (last - first) @ root)
    vector = axes.T @ root @ (last @ now.mean(axis=1) - first @ then.mean(axis=1))
    heard = gains > LEAST_GAIN
    place = np.where(heard, np.clip(vector / np.where(heard, gains, 1.0), -4.0, 4.0), 0.0)
    where = root @ axes @ place
    back = np.linalg.inv(root) @ axes
    matrix = back @ np.diag(np.where(heard, gains, 0.0)) @ back.T
    return Lesson(
        stack_key=stack_key,
        species_id=pieces.species_id,
        thickness_class=thickness_class(pieces.thickness_m),
        row=row,
        pace=round(float(where[0]), 3),
        exposure=round(float(where[1]), 3),
        precision=_rounded(matrix),
    )


def related(lessons: Sequence[Lesson], pieces: Pieces, stack_key: str, row: str) -> tuple[Lesson, ...]:
    """The lessons that can teach this stack something: of other stacks, of its species or its row."""
    found = [
        lesson
        for lesson in lessons
        if lesson.stack_key != stack_key
        and not lesson.empty
        and (lesson.species_id == pieces.species_id or (row and lesson.row == row))
    ]
    return tuple(sorted(found, key=lambda item: (item.stack_key, item.species_id)))


def taught(
    ensemble: Ensemble,
    pieces: Pieces,
    lessons: Sequence[Lesson],
    *,
    seed: int,
    stack_key: str,
    row: str,
    values: Mapping[str, float] | None = None,
) -> Ensemble:
    """The members of a stack before its own readings, moved by what other stacks taught."""
    heard = related(lessons, pieces, stack_key, row)
    if not heard:
        return ensemble
    values = fitted_values() if values is None else values
    model = _Model(heard, values)
    members = ensemble.members
    drawn = np.empty((members, 2 * len(heard)))
    for number, lesson in enumerate(heard):
        species = get_species(lesson.species_id)
        spreads = spreads_of(species, values)
        parts = shared_parts(
            species, lesson.thickness_class, lesson.row or lesson.stack_key, members, seed, spreads
        )
        own = own_draws(species, members, seed, lesson.stack_key)
        drawn[:, 2 * number] = parts.species + parts.thickness + spreads.own * own[:, 0]
        drawn[:, 2 * number + 1] = parts.row + spreads.own_phi * own[:, 2]
    noise = np.empty_like(drawn)
    for number, lesson in enumerate(heard):
        two = normal_draws(("lesson", seed, lesson.stack_key, lesson.species_id), members, 2)
        noise[:, 2 * number : 2 * number + 2] = two @ np.linalg.cholesky(model.doubt(number)).T
    push = model.said + noise - drawn
    species_gain = model.gain("species", pieces.species_id, "")
    class_gain = model.gain("thickness", pieces.species_id, thickness_class(pieces.thickness_m))
    row_gain = model.gain("row", "", row) if row else np.zeros(2 * len(heard))
    species_step, class_step, row_step = push @ species_gain, push @ class_gain, push @ row_gain
    return replace(
        ensemble,
        log_k_d=ensemble.log_k_d + species_step + class_step,
        log_phi=ensemble.log_phi + row_step,
        log_k_d_shared=ensemble.log_k_d_shared + species_step,
    )


def learnt(lessons: Sequence[Lesson], values: Mapping[str, float] | None = None) -> tuple[Learnt, ...]:
    """What the yard knows by now, part by part: species, their thickness classes, rows."""
    heard = [lesson for lesson in lessons if not lesson.empty]
    if not heard:
        return ()
    values = fitted_values() if values is None else values
    model = _Model(heard, values)
    found = []
    parts = sorted(
        {("species", lesson.species_id, "") for lesson in heard}
        | {("thickness", lesson.species_id, lesson.thickness_class) for lesson in heard}
        | {("row", "", lesson.row) for lesson in heard if lesson.row}
    )
    for kind, species_id, name in parts:
        gain = model.gain(kind, species_id, name)
        prior = model.prior_sd(kind, species_id)
        variance = prior**2 - float(gain @ model.shared_with(kind, species_id, name))
        behind = {
            lesson.stack_key
            for lesson in heard
            if (lesson.row == name if kind == "row" else lesson.species_id == species_id)
            and (kind != "thickness" or lesson.thickness_class == name)
        }
        found.append(
            Learnt(
                kind,
                species_id,
                name,
                mean=float(gain @ model.said),
                sd=float(np.sqrt(max(variance, 0.0))),
                prior_sd=prior,
                stacks=len(behind),
            )
        )
    return tuple(found)


def _rounded(matrix: Floats) -> tuple[float, float, float]:
    """Firm to three figures: a kept lesson read back is the lesson that was kept."""
    pp, pe, ee = (round(float(x), 3) for x in (matrix[0, 0], matrix[0, 1], matrix[1, 1]))
    return pp, pe, ee


class _Model:
    """The linear model behind the lessons: how their paces and exposures hang together, and with each part."""

    def __init__(self, lessons: Sequence[Lesson], values: Mapping[str, float]) -> None:
        self.lessons = lessons
        self.values = values
        self._spreads = {
            lesson.species_id: spreads_of(get_species(lesson.species_id), values) for lesson in lessons
        }
        count = len(lessons)
        self.said = np.array([x for lesson in lessons for x in (lesson.pace, lesson.exposure)])
        covariance = np.zeros((2 * count, 2 * count))
        for i, one in enumerate(lessons):
            spreads = self._spreads[one.species_id]
            for j, other in enumerate(lessons):
                same = one.species_id == other.species_id
                if same:
                    covariance[2 * i, 2 * j] += spreads.species**2
                if same and one.thickness_class == other.thickness_class:
                    covariance[2 * i, 2 * j] += spreads.thickness**2
                # Two species of one stack stand in one row as well.
                if (one.row and one.row == other.row) or (not one.row and i == j):
                    covariance[2 * i + 1, 2 * j + 1] += spreads.row**2
            covariance[2 * i, 2 * i] += spreads.own**2
            covariance[2 * i + 1, 2 * i + 1] += spreads.own_phi**2
            covariance[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] += self.doubt(i)
        self._inverse = np.linalg.inv(covariance)

    def doubt(self, number: int) -> Floats:
        """Covariance of the error of a lesson."""
        told = self.lessons[number].matrix + LEAST_PRECISION * np.eye(2)
        season = np.diag([SEASON_SD**2, 0.0])
        return np.asarray(np.linalg.inv(told) + season)

    def prior_sd(self, kind: str, species_id: str) -> float:
        if kind == "row":
            return next(iter(self._spreads.values())).row
        spreads = spreads_of(get_species(species_id), self.values)
        return spreads.species if kind == "species" else spreads.thickness

    def shared_with(self, kind: str, species_id: str, name: str) -> Floats:
        """Covariance of a shared part with each lesson's pace and exposure."""
        variance = self.prior_sd(kind, species_id) ** 2
        found = np.zeros(2 * len(self.lessons))
        for number, lesson in enumerate(self.lessons):
            if kind == "row":
                found[2 * number + 1] = variance if lesson.row and lesson.row == name else 0.0
            elif lesson.species_id == species_id and (kind == "species" or lesson.thickness_class == name):
                found[2 * number] = variance
        return found

    def gain(self, kind: str, species_id: str, name: str) -> Floats:
        return np.asarray(self.shared_with(kind, species_id, name) @ self._inverse)
