"""Of each leg of a history, how much is the wood in question; reckoned, without the book.

Wood of one bucket is mixed, so what leaves it takes of everything that lies there by its share. Forwards that gives
how much of a leg had been at the focus; backwards, how much of it will come there. Both are exact shares, and what is
on both ways counts once. What leaves a bucket beyond what lay there by then is found more, and what comes in later
to make up for it is found less: differences, and nothing goes through them.

Errors go along as linear forms of independent spreads, one for each entry that was measured: two parts of one load are
wrong together, parts of two loads are not. What is taken with a spread leaves as much less behind.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from rickyard.desk.way_legs import LESS, MORE, SINKS, SOURCES, Bucket, History, Leg, Place

# Legs are shares of whole grams; less than this is their rounding [g].
_DUST_G = 0.01
_Form = dict[int, float]


@dataclass(frozen=True)
class Flow:
    """Grams of the wood in question on a leg. `error`: its spread in grams, by the entry that it comes from."""

    start: Place
    end: Place
    lot_id: int
    grams: float
    day: date
    error: Mapping[int, float]
    cause: str = ""
    # What comes to the focus for the first time; nothing elsewhere.
    new_g: float = 0.0


@dataclass
class Trace:
    """`lying`: grams of the wood in question that lie at a place now."""

    flows: list[Flow]
    lying: dict[Place, float]


@dataclass
class _Held:
    """What lies in a bucket: all of it, and what of it had been at the focus, each with its error; what it owes."""

    grams: float = 0.0
    error: _Form = field(default_factory=dict)
    ours: float = 0.0
    ours_error: _Form = field(default_factory=dict)
    owes: float = 0.0


@dataclass
class _Went:
    """A leg as it was found forwards: what lay at its start before, and what of it had been at the focus."""

    leg: Leg
    before: float
    error: _Form
    ours: float
    ours_error: _Form


def trace(history: History, focus: frozenset[Place]) -> Trace:
    """The wood that was at the focus or comes there."""
    went, held = _forwards(history, focus)
    bound: dict[Bucket, float] = {}
    bound_error: dict[Bucket, _Form] = {}
    flows: list[Flow] = []
    for one in reversed(went):
        leg = one.leg
        share = 1.0 if leg.end.place in focus else bound.get(leg.end, 0.0)
        doubt = {} if leg.end.place in focus else bound_error.get(leg.end, {})
        coming = leg.grams * share
        had = one.ours / leg.grams
        grams = one.ours + coming - had * coming
        if grams > _DUST_G:
            if not coming:
                error = one.ours_error
            else:
                coming_error = _sum((share, one.error), (leg.grams, doubt))
                error = _sum((1 - share, one.ours_error), (1 - had, coming_error), (share * had, one.error))
            new_g = leg.grams - one.ours if leg.end.place in focus and leg.start.place not in focus else 0.0
            start, end = leg.start, leg.end
            flows.append(Flow(start.place, end.place, end.lot_id, grams, leg.day, error, leg.cause, new_g))
        if leg.start.place in focus or not one.before:
            continue
        took, kept = leg.grams / one.before, max(0.0, one.before - leg.grams) / one.before
        earlier = bound.get(leg.start, 0.0)
        if share or earlier:
            spread = {leg.entry_id: leg.sd_share}
            bound[leg.start] = kept * earlier + took * share
            bound_error[leg.start] = _sum(
                (kept, bound_error.get(leg.start, {})), (took, doubt), ((share - earlier) * took, spread)
            )
    lying: dict[Place, float] = defaultdict(float)
    for bucket, what in held.items():
        lying[bucket.place] += what.grams if bucket.place in focus else what.ours
    return Trace(flows[::-1], {place: grams for place, grams in lying.items() if grams > _DUST_G})


def _forwards(history: History, focus: frozenset[Place]) -> tuple[list[_Went], dict[Bucket, _Held]]:
    held: dict[Bucket, _Held] = defaultdict(_Held)
    found: list[_Went] = []

    def tracked(place: Place) -> bool:
        return place in history.read or place.kind == "ticket" or place in focus

    def take(leg: Leg) -> None:
        """One leg whose start holds as much, or is not known."""
        what = held[leg.start] if tracked(leg.start.place) else None
        own = leg.sd_share
        before = what.grams if what is not None else 0.0
        ours, ours_error = 0.0, _Form()
        if what is not None and before > 0:
            part = min(1.0, leg.grams / before)
            error = _plus(_times(part, what.error), own * leg.grams, leg.entry_id)
            if what.ours:
                ours = what.ours * part
                ours_error = _plus(_times(part, what.ours_error), own * ours, leg.entry_id)
        else:
            part = 1.0
            error = _plus({}, own * leg.grams, leg.entry_id)
            if leg.start.place == MORE and not own and held[leg.end].grams > 0:
                # A difference whose own spread is not known is as unsure as what it is a difference of.
                error = _times(leg.grams / held[leg.end].grams, held[leg.end].error)
        if leg.start.place in focus:
            ours, ours_error = leg.grams, error
        found.append(_Went(leg, before, error, ours, ours_error))
        if what is not None:
            left = before - leg.grams
            if left <= _DUST_G:
                held[leg.start] = _Held(owes=what.owes)
            else:
                # What is taken with a spread leaves as much less behind.
                what.grams = left
                what.error = _plus(_times(1 - part, what.error), -own * leg.grams, leg.entry_id)
                if what.ours:
                    left_ours = max(0.0, what.ours - what.ours * part)
                    what.ours_error = _plus(
                        _times(1 - part, what.ours_error), -own * what.ours * part, leg.entry_id
                    )
                    what.ours = left_ours
        if leg.end.place.kind not in SINKS and tracked(leg.end.place):
            there = held[leg.end]
            there.grams += leg.grams
            there.error = _sum((1.0, there.error), (1.0, error))
            if ours:
                there.ours += ours
                there.ours_error = _sum((1.0, there.ours_error), (1.0, ours_error))

    for legs in history.entries:
        wanted: dict[Bucket, float] = defaultdict(float)
        for leg in legs:
            if tracked(leg.start.place) and leg.start.place.kind not in SOURCES:
                wanted[leg.start] += leg.grams
        there = {bucket: held[bucket].grams for bucket in wanted}
        for leg in legs:
            asked = wanted.get(leg.start)
            if asked is None or asked <= there[leg.start] + _DUST_G:
                take(leg)
            else:
                # More left than lay there by then: nobody knows from where.
                part = there[leg.start] / asked
                short = leg.grams * (1 - part)
                if part > 0:
                    take(_like(leg, grams=leg.grams * part))
                beyond = Bucket(MORE, leg.end.species_id, leg.end.lot_id)
                take(_like(leg, start=beyond, grams=short, cause="beyond"))
                held[leg.start].owes += short
        for bucket in {leg.end: None for leg in legs}:
            what = held.get(bucket)
            if what is not None and what.owes > _DUST_G and what.grams > 0:
                paid = min(what.owes, what.grams)
                what.owes -= paid
                first = next(leg for leg in legs if leg.end == bucket)
                less = Bucket(LESS, bucket.species_id, bucket.lot_id)
                take(Leg(bucket, less, paid, first.entry_id, first.day, 0.0, "beyond"))
    return found, held


def _like(leg: Leg, *, grams: float, start: Bucket | None = None, cause: str = "") -> Leg:
    return Leg(start or leg.start, leg.end, grams, leg.entry_id, leg.day, leg.sd_share, cause or leg.cause)


def _sum(*parts: tuple[float, Mapping[int, float]]) -> _Form:
    """A sum of linear forms, each times a factor."""
    total: _Form = {}
    for factor, form in parts:
        if not factor or not form:
            continue
        if not total:
            total = _times(factor, form)
            continue
        for key, value in form.items():
            total[key] = total.get(key, 0.0) + factor * value
    return total


def _times(factor: float, form: Mapping[int, float]) -> _Form:
    return {key: factor * value for key, value in form.items()}


def _plus(form: _Form, value: float, key: int) -> _Form:
    """The form itself, with more of one spread."""
    if value:
        form[key] = form.get(key, 0.0) + value
    return form


def spread_of(errors: Iterable[Mapping[int, float]]) -> float:
    """Standard deviation of a sum of amounts whose errors are these [g]."""
    total = _sum(*((1.0, error) for error in errors))
    return float(sum(value * value for value in total.values()) ** 0.5)
