"""Wedges drying in the air of their stack: the solver of the second world.

A piece is a sector of a round with the grain along z: two flat faces where it was split, an outer arc with bark,
two ends. Half the angle and half the length are solved, from just outside the pith. Nodes lie on the faces, so
that a face's moisture is an unknown like any other and the film acts on it directly.
Implicit Euler, one direction after the other, the order turned round every step; every sweep moves water between
nodes or through a face and nowhere else. Many pieces run side by side, along the last axis of every array.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from truth import laws

Floats = NDArray[np.float64]

PITH = 0.08  # the splinters at the pith are gone: share of the radius
#: Moistures at which the diffusion laws are tabulated anew in each step, for each piece's temperature.
TABLE_DB = np.linspace(0.0, 0.34, 69)
RAIN_DB = 0.8
RAIN_DEPTH_M = 0.002


@dataclass(frozen=True)
class Pieces:
    """Pieces side by side, arrays of shape (pieces,); `stack` is the number of the stack each lies in."""

    stack: NDArray[np.int64]
    radius_m: Floats
    angle_rad: Floats
    length_m: Floats
    gravity: Floats
    oak: NDArray[np.bool_]
    #: Factors on the diffusion across and along the grain, and of free water in heartwood and in sapwood.
    across: Floats
    along: Floats
    free_heart: Floats
    free_sap: Floats
    #: Moisture at the start [water / oven-dry mass], and where sapwood begins [share of the radius].
    heart_db: Floats
    sap_db: Floats
    sap_from: Floats
    sorption: Floats
    frozen: Floats
    bark: Floats

    def take(self, which: NDArray[np.bool_]) -> Pieces:
        return Pieces(*(getattr(self, field.name)[which] for field in fields(self)))

    @property
    def dry_kg(self) -> Floats:
        area = 0.5 * self.angle_rad * self.radius_m**2 * (1.0 - PITH**2)
        return np.asarray(1000.0 * self.gravity * area * self.length_m)


@dataclass(frozen=True)
class Stacks:
    """Where the pieces lie, arrays of shape (stacks,)."""

    open_share: Floats  # of each face that moving air reaches
    wind_share: Floats  # of the wind at 10 m that moves between the pieces
    depth_m: Floats  # of the stack along the wind
    sun_share: Floats  # of the horizontal radiation that a face takes in
    rain_share: Floats  # of the faces wetted in an hour of rain


@dataclass(frozen=True)
class Sky:
    """Hours, arrays of shape (hours, stacks)."""

    air_c: Floats
    vapour_pa: Floats
    wind_m_s: Floats
    sun_w_m2: Floats
    raining: Floats

    def by_step(self, hours: int) -> Sky:
        """Means over `hours` hours."""
        return Sky(
            *(
                getattr(self, f.name)[: len(self.air_c) // hours * hours]
                .reshape(-1, hours, self.air_c.shape[1])
                .mean(axis=1)
                for f in fields(self)
            )
        )

    def take(self, which: NDArray[np.int64]) -> Sky:
        return Sky(*(getattr(self, f.name)[:, which] for f in fields(self)))


@dataclass(frozen=True)
class Grid:
    """Numbers of nodes along radius, half angle and half length, and how strongly they crowd at the faces."""

    radius: int = 6
    angle: int = 6
    length: int = 7
    step_hours: int = 3
    crowd: float = 2.2

    def nodes(self) -> tuple[Floats, Floats, Floats]:
        """Nodes in [PITH, 1], [0, 1] and [0, 1]; open faces at 1."""
        r = PITH + (1.0 - PITH) * np.linspace(0.0, 1.0, self.radius) ** 0.9
        s, z = np.linspace(0.0, 1.0, self.angle), np.linspace(0.0, 1.0, self.length)

        def crowded(x: Floats, crowd: float) -> Floats:
            return np.asarray(np.tanh(crowd * x) / np.tanh(crowd))

        return r, crowded(s, self.crowd), crowded(z, 1.2 * self.crowd)


@dataclass(frozen=True)
class Drying:
    """Arrays of shape (days + 1, pieces): mean moisture, and what left through the faces, summed by itself."""

    mean_db: Floats
    lost_db: Floats


def _controls(x: Floats) -> Floats:
    """Bounds of the control volumes round nodes: midpoints, and the outer nodes themselves."""
    return np.concatenate([x[:1], 0.5 * (x[1:] + x[:-1]), x[-1:]])


class _Axis:
    """One direction: capacities of the nodes, conductances between them per unit of D, area of the open face.

    Arrays end in an axis of pieces; `at` is the direction's place among the three.
    """

    def __init__(self, at: int, capacity: Floats, link: Floats, face: Floats) -> None:
        self.at, self.capacity, self.link, self.face = at, capacity, link, face

    def sweep(self, m: Floats, d: Floats, dt: float, film: Floats, goal: Floats) -> Floats:
        """Implicit Euler along this direction, in place; gives what left through the open face.

        `film` (like the face) drives the face's moisture towards `goal`.
        """
        m, d = np.moveaxis(m, self.at, 0), np.moveaxis(d, self.at, 0)
        count = len(m)
        between = dt * self.link * (0.5 * (d[1:] + d[:-1]))
        out = dt * self.face * film
        # Thomas' algorithm: forward, then back.
        upper = np.empty_like(between)
        diagonal = self.capacity[0] + between[0]
        upper[0] = between[0] / diagonal
        right = self.capacity[0] * m[0] / diagonal
        held = [right]
        for i in range(1, count):
            diagonal = self.capacity[i] + between[i - 1] * (1.0 - upper[i - 1])
            right = self.capacity[i] * m[i] + between[i - 1] * right
            if i < count - 1:
                diagonal = diagonal + between[i]
                right = right / (diagonal)
                upper[i] = between[i] / diagonal
            else:
                right = (right + out * goal) / (diagonal + out)
            held.append(right)
        m[count - 1] = held[-1]
        for i in range(count - 2, -1, -1):
            m[i] = held[i] + upper[i] * m[i + 1]
        return np.asarray(out * (m[count - 1] - goal))


class _Body:
    """The pieces on their grid."""

    def __init__(self, pieces: Pieces, grid: Grid) -> None:
        self.pieces = pieces
        r, s, z = grid.nodes()
        rf, sf, zf = _controls(r), _controls(s), _controls(z)
        radius, half, length = pieces.radius_m, 0.5 * pieces.angle_rad, 0.5 * pieces.length_m
        ring = 0.5 * np.diff(rf**2)[:, None] * radius**2
        arc = np.diff(sf)[:, None] * half
        slab = np.diff(zf)[:, None] * length
        self.volume = ring[:, None, None] * arc[None, :, None] * slab[None, None]
        total = self.volume.sum(axis=(0, 1, 2))
        self.share = self.volume / total

        def along(column: Floats) -> Floats:
            return column[:, None, None]

        # Along r the lines are per unit of angle and length, along the angle per unit of length, along z per area.
        self.axes = (
            _Axis(
                0,
                along(ring),
                along(0.5 * (r[1:] + r[:-1])[:, None] / np.diff(r)[:, None] * np.ones_like(radius)),
                radius[None, None] * np.ones((len(s), len(z), 1)),
            ),
            _Axis(
                1,
                arc[:, None, None] * ring[None, :, None],
                np.log(rf[1:] / rf[:-1])[None, :, None, None] / along(np.diff(s)[:, None] * half),
                (np.diff(rf)[:, None] * radius)[:, None] * np.ones((1, len(z), 1)),
            ),
            _Axis(2, along(slab), 1.0 / along(np.diff(z)[:, None] * length), np.ones((1, 1, 1))),
        )
        # What one unit of a line's flux is in mean moisture of the piece.
        self.weights = (
            (arc[:, None] * slab[None]) / total,
            np.broadcast_to(slab[None], (len(r), len(z), len(radius))) / total,
            (ring[:, None] * arc[None]) / total,
        )
        areas = [
            (axis.face * weight).sum(axis=(0, 1)) * total
            for axis, weight in zip(self.axes, self.weights, strict=True)
        ]
        self.surface = sum(areas)
        self.giving = pieces.bark * areas[0] + areas[1] + areas[2]  # bark counts for what it lets through
        self.total = total
        sap = r[:, None] > pieces.sap_from
        self.free = np.where(sap, pieces.free_sap, pieces.free_heart)[:, None, None]
        start = np.where(sap, pieces.sap_db, pieces.heart_db)[:, None, None]
        self.moisture = np.broadcast_to(start, self.volume.shape).copy()

    def mean(self) -> Floats:
        return np.asarray((self.share * self.moisture).sum(axis=(0, 1, 2)))

    def diffusion(self, temp_c: Floats) -> tuple[Floats, Floats]:
        """Across and along the grain at every node, by look-up in tables made for these temperatures."""
        p = self.pieces
        cold = 1.0 - (1.0 - p.frozen) * np.clip(-temp_c / 2.0, 0.0, 1.0)
        across, along = laws.diffusion_m2_s(TABLE_DB[:, None], temp_c, p.gravity, p.oak)
        place = np.clip(self.moisture * ((len(TABLE_DB) - 1) / TABLE_DB[-1]), 0.0, len(TABLE_DB) - 1.001)
        row = place.astype(np.int64)
        part = place - row
        at = row * len(temp_c) + np.arange(len(temp_c))
        wet = np.clip((self.moisture - laws.BOUND_DB) / laws.BLEND_DB, 0.0, 1.0)
        factor = 1.0 + (self.free - 1.0) * wet
        found = []
        for table in (across * p.across * cold, along * p.along * p.across * cold):
            flat = table.ravel()
            low = flat[at]
            found.append((low + part * (flat[at + len(temp_c)] - low)) * factor)
        return found[0], found[1]


def dry(
    pieces: Pieces, stacks: Stacks, sky: Sky, days: int, grid: Grid | None = None, group: int = 96
) -> Drying:
    """Dries every piece for `days` days; about `group` pieces are taken together, stacks whole."""
    grid = Grid() if grid is None else grid
    steps = sky.by_step(grid.step_hours)
    mean = np.empty((days + 1, len(pieces.stack)))
    lost = np.zeros_like(mean)
    order = np.unique(pieces.stack)
    size = max(1, round(group * len(order) / len(pieces.stack)))
    for begin in range(0, len(order), size):
        chosen = order[begin : begin + size]
        which = np.isin(pieces.stack, chosen)
        some = pieces.take(which)
        local = np.searchsorted(chosen, some.stack)
        place = Stacks(*(getattr(stacks, f.name)[chosen] for f in fields(stacks)))
        mean[:, which], lost[:, which] = _dry_some(some, local, place, steps.take(chosen), days, grid)
    return Drying(mean, lost)


def _dry_some(
    pieces: Pieces, stack: NDArray[np.int64], place: Stacks, sky: Sky, days: int, grid: Grid
) -> tuple[Floats, Floats]:
    body = _Body(pieces, grid)
    dt = 3600.0 * grid.step_hours
    each_day = 24 // grid.step_hours
    count = len(stack)
    dry_kg = pieces.dry_kg
    stack_kg = np.bincount(stack, dry_kg)
    rho = 1000.0 * pieces.gravity
    stack_rho = stack_kg / np.bincount(stack, dry_kg / rho)
    mean, lost = np.empty((days + 1, count)), np.zeros((days + 1, count))
    mean[0] = body.mean()
    total = np.zeros(count)
    temp = sky.air_c[0][stack].copy()
    leaving = np.zeros(len(place.depth_m))  # mean loss of each stack [1/s]
    wet_area = np.zeros(count)
    for step in range(days * each_day):
        air_c, film, kg, vapour = _stack_air(place, sky, step, leaving, stack_rho)
        temp = _warm(
            body,
            place,
            stack,
            temp,
            mean_now=body.mean(),
            wet_area=wet_area,
            dt=dt,
            sun=sky.sun_w_m2[step],
            air_c=air_c,
            film=film,
            kg=kg,
            vapour=vapour,
        )
        p_wood = laws.saturation_pa(temp)
        ceiling = np.minimum(1.0, laws.saturation_ice_pa(temp) / p_wood)
        h_air = vapour[stack] / p_wood
        settled = laws.equilibrium(h_air, temp, pieces.sorption)
        across, along = body.diffusion(temp)
        rain = place.rain_share[stack] * (sky.raining[step][stack] > 0.0)
        gone, wet_area = np.zeros(count), np.zeros(count)
        order = (0, 1, 2) if step % 2 == 0 else (2, 1, 0)
        for which in order:
            axis, d = body.axes[which], (along if which == 2 else across)
            face = np.moveaxis(body.moisture, axis.at, 0)[-1]
            bark = pieces.bark if which == 0 else 1.0
            speed = kg[stack] * bark * p_wood / rho
            # The chord between the face's moisture and the air's equilibrium: never negative, never past it.
            gap = face - settled
            gap = np.where(np.abs(gap) < 1e-3, np.where(gap < 0, -1e-3, 1e-3), gap)
            moist = np.minimum(laws.activity(settled + gap, temp, pieces.sorption), ceiling)
            film_m_s = speed * np.maximum((moist - np.minimum(h_air, ceiling)) / gap, 0.0)
            # In ice-saturated air wet wood stays: the goal must not lie above what the ice lets through.
            soak = np.where(face < RAIN_DB, rain * np.moveaxis(d, axis.at, 0)[-1] / RAIN_DEPTH_M, 0.0)
            both = film_m_s + soak
            goal = np.where(both > 0.0, (film_m_s * settled + soak * RAIN_DB) / np.maximum(both, 1e-30), face)
            flux = axis.sweep(body.moisture, d, dt, both, goal)
            gone += (flux * body.weights[which]).sum(axis=(0, 1))
            wet_area += (moist * bark * axis.face * body.weights[which]).sum(axis=(0, 1)) * body.total
        total += gone
        leaving = 0.5 * leaving + 0.5 * np.bincount(stack, dry_kg * gone) / stack_kg / dt
        if step % each_day == each_day - 1:
            row = step // each_day + 1
            mean[row], lost[row] = body.mean(), total
    return mean, lost


def _stack_air(
    place: Stacks, sky: Sky, step: int, leaving: Floats, stack_rho: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Air inside each stack: temperature, heat film, vapour film and vapour pressure.

    What the pieces give off is carried away by the air that passes through the stack's gaps (0.4 of its volume):
    quasi-steady, from the loss of the steps before; no moister than fog.
    """
    moving = np.maximum(place.wind_share * sky.wind_m_s[step], 0.03)
    passes = 0.4 * moving / place.depth_m  # stack volumes of air a second
    given = 0.6 * stack_rho * np.maximum(leaving, 0.0)  # kg/(m3 s) of stack, 0.6 of which is wood
    air_c = sky.air_c[step] - np.minimum(laws.LATENT_J_KG * given / (1.2 * 1006.0 * passes), 6.0)
    more_pa = given / passes * laws.GAS_VAPOUR_J_KG_K * (sky.air_c[step] + laws.KELVIN)
    vapour = np.maximum(
        np.minimum(sky.vapour_pa[step] + more_pa, laws.saturation_pa(air_c)), sky.vapour_pa[step]
    )
    film = laws.film_w_m2_k(moving)
    kg = place.open_share * laws.vapour_film_kg_m2_s_pa(film, air_c)
    return air_c, film, kg, vapour


def _warm(
    body: _Body, place: Stacks, stack: NDArray[np.int64], temp: Floats, *, mean_now: Floats, wet_area: Floats,
    dt: float, sun: Floats, air_c: Floats, film: Floats, kg: Floats, vapour: Floats,
) -> Floats:  # fmt: skip
    """The pieces' temperatures after a step: implicit, with evaporation made linear in the temperature.

    Heat capacity of wood and water 1.25 and 4.18 kJ/(kg K); exchange with the air and, at a third of the open
    faces, with surroundings by radiation at 4.6 W/(m2 K).
    """
    rho = 1000.0 * body.pieces.gravity
    heat = rho * body.total * (1250.0 + 4180.0 * mean_now)
    exchange = body.surface * (place.open_share[stack] * (film[stack] + 4.6 / 3.0))
    slope = laws.saturation_pa(temp + 0.5) - laws.saturation_pa(temp - 0.5)
    p_air = np.minimum(vapour[stack], laws.saturation_pa(temp))
    cooling = laws.LATENT_J_KG * kg[stack] * np.maximum(
        wet_area * laws.saturation_pa(temp) - body.giving * p_air, 0.0
    )  # fmt: skip
    slope = np.where(cooling > 0.0, laws.LATENT_J_KG * kg[stack] * wet_area * slope, 0.0)
    taken = body.surface * 0.65 * place.sun_share[stack] * sun[stack]
    rest = exchange * (air_c[stack] - temp) + taken - cooling
    moved = temp + dt * rest / (heat + dt * (exchange + slope))
    return np.clip(moved, air_c[stack] - 10.0, air_c[stack] + 25.0)
