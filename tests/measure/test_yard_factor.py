"""The factor from log to stack that a yard learns from its own loads."""

import math
import time

import numpy as np
import pytest

from rickyard.errors import InputError
from rickyard.measure import LoadPair, Spread, learn_yard_factor, solid_share

USUAL = solid_share("ranked", "split", 0.4).mid


def spread(mid: float, share: float) -> Spread:
    return Spread(mid / (1 + share), mid, mid * (1 + share))


def pair(
    factor: float, *, kind: str = "", name: str = "", lost: float = 0.0, solid: float = 10.0
) -> LoadPair:
    """A load whose stack holds `factor` times the published share of wood."""
    outside = solid * (1 - lost) / (USUAL * factor)
    return LoadPair(spread(solid, 0.04), spread(outside, 0.03), "ranked", "split", 0.4, lost, kind, name)


def test_without_loads_it_is_the_published_share():
    found = learn_yard_factor([])

    assert found.loads == 0
    assert found.share("ranked", "split", 0.4) == solid_share("ranked", "split", 0.4)
    assert found.factor.mid == pytest.approx(1.0)
    published = solid_share("ranked", "split", 0.4)
    assert found.factor.high / found.factor.low == pytest.approx(published.high / published.low, rel=0.06)
    assert "published shares" in str(found.notes[0])


def test_it_is_drawn_towards_the_published_share_and_less_with_every_load():
    """True factor 1.10: the estimate moves there from 1, and the range narrows."""
    mids, widths = [], []
    for count in (1, 3, 10, 30):
        found = learn_yard_factor([pair(1.10, name=str(i)) for i in range(count)])
        mids.append(found.mean.mid)
        widths.append(found.mean.high / found.mean.low)
    assert 1.02 < mids[0] < mids[1] < mids[2] < mids[3] < 1.10
    assert mids[3] > 1.07
    assert widths == sorted(widths, reverse=True)


def test_what_is_lost_on_the_way_is_not_taken_for_packing():
    plain = learn_yard_factor([pair(1.05)] * 3).mean.mid
    lossy = learn_yard_factor([pair(1.05, lost=0.06)] * 3).mean.mid

    assert lossy == pytest.approx(plain, abs=0.005)


def test_kinds_differ_and_borrow_from_one_another():
    pairs = [pair(1.12, kind="oak") for _ in range(8)] + [pair(0.98, kind="birch") for _ in range(8)]
    found = learn_yard_factor(pairs)

    assert found.kinds["birch"].mid < found.mean.mid < found.kinds["oak"].mid
    assert found.kinds["birch"].mid > 0.98
    assert found.kinds["oak"].mid < 1.12
    unseen = found.share("ranked", "split", 0.4, kind="elm")
    assert unseen.mid == pytest.approx(USUAL * found.factor.mid)
    assert unseen.high / unseen.low > found.kinds["oak"].high / found.kinds["oak"].low


def test_a_slip_is_set_aside_and_named():
    pairs = [pair(1.0 + 0.01 * (i % 3), name=f"load {i}") for i in range(8)] + [pair(2.0, name="load 9")]
    found = learn_yard_factor(pairs)

    assert found.set_aside == ("load 9",)
    assert found.loads == 8
    assert "load 9" in str(found.notes[0])
    assert found.mean.mid == pytest.approx(learn_yard_factor(pairs[:-1]).mean.mid)


def test_its_ranges_hold_what_they_say():
    """Sixty invented yards drawn from the model's own prior, six loads each: the next load's share lies within the
    10th and 90th percentile 80 % of the time, give or take 13 points (two standard errors and more)."""
    rng = np.random.default_rng(5)
    inside = 0
    for _ in range(60):
        yard = rng.normal(0.0, 0.065)
        kind = {name: rng.normal(0.0, 0.03) for name in ("a", "b")}
        pairs = [
            pair(math.exp(yard + kind[name] + rng.normal(0.0, 0.05) + rng.normal(0.0, 0.035)), kind=name)
            for name in ("a", "b") * 3
        ]
        found = learn_yard_factor(pairs).share("ranked", "split", 0.4, kind="a")
        truth = USUAL * math.exp(yard + kind["a"] + rng.normal(0.0, 0.05))
        inside += found.low <= truth <= found.high
    assert 0.67 <= inside / 60 <= 0.93


def test_order_does_not_matter_and_a_year_of_loads_is_quick():
    pairs = [pair(1.0 + 0.02 * (i % 5), kind="oak" if i % 2 else "ash") for i in range(60)]
    begun = time.process_time()
    first, again = learn_yard_factor(pairs), learn_yard_factor(pairs[::-1])

    assert first.factor.mid == pytest.approx(again.factor.mid)
    assert time.process_time() - begun < 10.0


def test_a_load_measured_once_is_refused():
    with pytest.raises(InputError) as refused:
        learn_yard_factor([LoadPair(Spread(0.0, 0.0, 1.0), spread(5.0, 0.1), "ranked", "split", 0.4)])
    assert refused.value.field == "pairs"
    with pytest.raises(InputError):
        learn_yard_factor([LoadPair(spread(3.0, 0.1), spread(5.0, 0.1), "thrown", "split", 0.4)])
