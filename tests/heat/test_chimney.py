"""Where the heat of a fire goes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.errors import InputError
from rickyard.heat import flue_balance

LB = 1055.05585262 / 0.45359237 / 1e6  # Btu/lb in MJ/kg


def test_worked_example_of_the_notes():
    """8,600 Btu/lb, 20 % wet, 70 °F room, 400 °F flue, 100 % excess air: 6,880 - 240 - 518 - 782 - 275 = 5,065."""
    balance = flue_balance(8600 * LB, 0.20, room_c=(70 - 32) / 1.8, flue_c=(400 - 32) / 1.8, excess_air=1.0)

    assert balance.gross / LB == pytest.approx(6880, abs=0.5)
    assert balance.fuel_water / LB == pytest.approx(240, abs=0.5)
    assert balance.hydrogen_water / LB == pytest.approx(518, abs=0.5)
    assert balance.dry_gas / LB == pytest.approx(782, abs=0.5)
    assert balance.other / LB == pytest.approx(275, abs=0.5)
    assert balance.recoverable / LB == pytest.approx(5065, abs=1.0)
    assert balance.efficiency == pytest.approx(0.736, abs=0.0005)


@given(
    st.floats(0.0, 0.6),
    st.floats(0.0, 35.0),
    st.floats(120.0, 400.0),
    st.floats(0.0, 3.0),
    st.floats(5.8, 6.3),
)
def test_losses_and_what_is_left_make_the_whole(mc_wet, room_c, flue_c, excess_air, hydrogen_pct):
    found = flue_balance(
        20.0, mc_wet, room_c=room_c, flue_c=flue_c, excess_air=excess_air, hydrogen_pct=hydrogen_pct
    )

    parts = found.fuel_water + found.hydrogen_water + found.dry_gas + found.other + found.recoverable
    assert parts == pytest.approx(20.0 * (1 - mc_wet))


@pytest.mark.parametrize(
    ("hotter", "colder"),
    [({"flue_c": 300.0}, {"flue_c": 200.0}), ({"excess_air": 2.0}, {"excess_air": 0.5})],
)
def test_a_hotter_flue_and_more_air_cost_heat(hotter, colder):
    assert flue_balance(20.0, 0.2, **hotter).efficiency < flue_balance(20.0, 0.2, **colder).efficiency


@pytest.mark.parametrize(
    "wrong",
    [{"room_c": 200.0}, {"flue_c": 50.0}, {"excess_air": -0.1}, {"other_share": 1.0}, {"hydrogen_pct": -1.0}],
)
def test_nonsense_is_refused_by_field(wrong):
    with pytest.raises(InputError) as caught:
        flue_balance(20.0, 0.2, **wrong)

    assert caught.value.field == next(iter(wrong))
