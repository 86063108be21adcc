"""The public forecast: what it answers, how it is keyed, what it refuses."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from rickyard import weather, wood
from rickyard.errors import InputError
from rickyard.season import MODEL_VERSION, Forecast, Pieces, forecast, horizon_warning, mix
from rickyard.season.ensemble import draw
from rickyard.season.physics import wood_class

START = date(2026, 4, 1)
BIRCH = Pieces("betula_papyrifera", "split", 0.41, 0.10, stacked_on=START)
OAK = replace(BIRCH, species_id="quercus_rubra")


@pytest.fixture(scope="module")
def air():
    return weather.generate_air(weather.find_place("Fredericton"), START, 200, members=16, seed=5)


@pytest.fixture(scope="module")
def birch(air):
    return forecast(BIRCH, air, members=16, seed=5)


@pytest.fixture(scope="module")
def oak(air):
    return forecast(OAK, air, members=16, seed=5)


def made_up(rows):
    """A forecast with given moistures of total mass, a row a day."""
    wet = np.array(rows, dtype=np.float64)
    dates = tuple(START + timedelta(days=i) for i in range(len(rows)))
    return Forecast(dates=dates, mc_db=(wet / (1 - wet)).astype(np.float32))


class TestForecast:
    def test_days_run_from_the_stacking(self, birch):
        assert birch.dates[0] == START
        assert birch.dates[-1] == START + timedelta(days=200)
        assert birch.mc_db.shape == (201, 16)
        assert birch.mc_db.dtype == np.float32
        assert birch.model == MODEL_VERSION

    def test_percentiles_are_of_total_mass_and_in_order(self, birch):
        assert np.all(birch.p10 <= birch.p50)
        assert np.all(birch.p50 <= birch.p90)
        expected = np.median(birch.mc_db[150])
        assert birch.p50[150] == pytest.approx(expected / (1 + expected))
        start = wood.get_species("betula_papyrifera").green_mc_db
        assert birch.p50[0] == pytest.approx(start / (1 + start), abs=0.03)

    def test_a_summer_dries_birch_and_oak_later(self, birch, oak):
        """Common practice, no source: split birch dries in a summer, oak takes longer."""
        assert birch.p50[-1] < 0.20
        assert np.all(oak.p50[20:] > birch.p50[20:])

    def test_same_seed_same_forecast(self, air, birch):
        again = forecast(BIRCH, air, members=16, seed=5)

        np.testing.assert_array_equal(again.mc_db, birch.mc_db)

    def test_until_ends_it(self, air, birch):
        short = forecast(BIRCH, air, members=16, seed=5, until=date(2026, 5, 31))

        assert short.dates[-1] == date(2026, 5, 31)
        np.testing.assert_allclose(short.mc_db, birch.mc_db[:61], atol=1e-6)

    def test_one_air_for_all_members(self):
        still = weather.constant_air(20.0, 50.0, START, 30)
        made = forecast(BIRCH, still, members=8, seed=1)

        assert made.mc_db.shape == (31, 8)
        assert np.all(made.mc_db[-1] < made.mc_db[0])

    def test_air_may_begin_earlier(self, air):
        """The same hours are used, wherever the weather was begun."""
        late = replace(BIRCH, stacked_on=date(2026, 5, 1))
        cut = weather.HourlyAir(
            date(2026, 5, 1),
            *(
                getattr(air, name)[24 * 30 :]
                for name in ("air_c", "vapour_pa", "wind_m_s", "sun_w_m2", "rain_mm")
            ),
        )
        until = date(2026, 6, 10)

        whole = forecast(late, air, members=8, seed=5, until=until)
        part = forecast(late, cut, members=8, seed=5, until=until)

        np.testing.assert_array_equal(whole.mc_db, part.mc_db)


class TestMembers:
    def test_shared_draws_are_shared_by_the_species_only(self):
        oak = wood.get_species("quercus_rubra")
        one = draw(OAK, oak, 64, 1, "1")
        two = draw(OAK, oak, 64, 1, "2")
        birch = draw(BIRCH, wood.get_species("betula_papyrifera"), 64, 1, "1")

        np.testing.assert_array_equal(one.log_k_d_shared, two.log_k_d_shared)
        assert not np.allclose(one.start_db, two.start_db)
        assert abs(np.corrcoef(one.log_k_d_shared, birch.log_k_d_shared)[0, 1]) < 0.4
        # Half of the variance of ln k_D is the species' (0.25 and 0.25), the rest the stack's.
        assert np.corrcoef(one.log_k_d, two.log_k_d)[0, 1] == pytest.approx(0.5, abs=0.2)

    def test_member_j_is_the_same_in_a_larger_ensemble(self):
        oak = wood.get_species("quercus_rubra")

        np.testing.assert_array_equal(
            draw(OAK, oak, 10, 1, "s").log_phi, draw(OAK, oak, 90, 1, "s").log_phi[:10]
        )

    def test_spread_is_what_the_table_says(self):
        """k_D +-35 %, exposure +-50 %, size +-10 %; green moisture as the species table has it."""
        birch = wood.get_species("betula_papyrifera")
        drawn = draw(BIRCH, birch, 512, 3, "s")

        assert drawn.log_k_d.std() == pytest.approx(0.354, rel=0.1)
        assert drawn.log_phi.std() == pytest.approx(0.45, rel=0.1)
        assert drawn.log_size.std() == pytest.approx(0.10, rel=0.1)
        assert drawn.start_db.mean() == pytest.approx(birch.green_mc_db, rel=0.03)
        assert drawn.start_db.std() == pytest.approx(birch.green_mc_db_sd, rel=0.12)

    def test_a_given_start_narrows_it(self):
        birch = wood.get_species("betula_papyrifera")
        known = draw(replace(BIRCH, start_mc_db=0.6), birch, 128, 3, "s")

        assert known.start_db.mean() == pytest.approx(0.6, abs=0.01)
        assert known.start_db.std() < 0.06

    def test_a_wider_name_has_a_wider_spread(self):
        named = draw(OAK, wood.get_species("quercus_rubra"), 256, 3, "s")
        group = draw(OAK, wood.find_species("red oak group"), 256, 3, "s")

        assert group.log_k_d.std() > 1.2 * named.log_k_d.std()


class TestReady:
    def test_first_days_and_odds_as_the_contract_says(self):
        """p10, p50, p90: first day on which the share has been at or below it; odds: on the day itself."""
        rows = [[0.40, 0.40, 0.40, 0.40]] * 7
        rows += [[0.19, 0.30, 0.30, 0.30]]
        rows += [[0.25, 0.20, 0.30, 0.30]] * 6
        rows += [[0.25, 0.25, 0.19, 0.30]]
        ready = made_up(rows).ready(0.20)

        assert ready.p10 == START + timedelta(days=7)
        assert ready.p50 == START + timedelta(days=8)
        assert ready.p90 is None
        assert ready.odds == (
            (START, 0.0),
            (START + timedelta(days=7), 0.25),
            (START + timedelta(days=14), 0.25),
        )

    def test_ready_day_by_member(self):
        made = made_up([[0.30, 0.30], [0.20, 0.30], [0.25, 0.30]])

        assert made.ready_day(0.20).tolist() == [1, -1]

    def test_agrees_with_counting(self, birch):
        """Against plain loops over members and days."""
        ready = birch.ready(0.22)
        limit = 0.22 / 0.78
        firsts = sorted(
            next((i for i in range(201) if birch.mc_db[i, j] <= limit), 10**6) for j in range(birch.members)
        )

        assert (ready.p50 - START).days == firsts[7]
        assert (ready.p10 - START).days == firsts[1]
        for day, odds in ready.odds[::5]:
            row = birch.mc_db[(day - START).days]
            assert odds == sum(m <= limit for m in row) / 16

    def test_a_target_must_be_a_moisture_of_firewood(self, birch):
        with pytest.raises(InputError) as caught:
            birch.ready(20.0)
        assert caught.value.field == "target_moisture_wet"

    def test_horizon_warning(self, birch):
        assert horizon_warning(birch, 0.30) is None
        assert "2026-10-18" in str(horizon_warning(birch, 0.06))


class TestMix:
    def test_mean_of_each_member_by_dry_mass(self, birch, oak):
        whole = mix([(3.0, birch), (1.0, oak)])

        np.testing.assert_allclose(whole.mc_db, 0.75 * birch.mc_db + 0.25 * oak.mc_db, rtol=1e-5)
        assert [share for share, _ in whole.parts] == [0.75, 0.25]
        assert whole.slowest() is oak
        assert set(map(str, birch.warnings)) <= set(map(str, whole.warnings))

    def test_one_part_is_itself(self, birch):
        assert mix([(0.4, birch)]) is birch
        assert birch.slowest() is birch

    @pytest.mark.parametrize("share", [0.0, -1.0, float("nan")])
    def test_shares_must_be_positive(self, birch, oak, share):
        with pytest.raises(InputError) as caught:
            mix([(1.0, birch), (share, oak)])
        assert caught.value.field == "shares"

    def test_parts_must_be_alike(self, birch, air):
        other = forecast(OAK, air, members=8, seed=5)
        with pytest.raises(InputError):
            mix([(1.0, birch), (1.0, other)])
        with pytest.raises(InputError):
            mix([])


class TestRefusals:
    @pytest.mark.parametrize(
        ("field", "change"),
        [
            ("form", {"form": "chips"}),
            ("rows", {"rows": 0}),
            ("ground", {"ground": "mud"}),
            ("cover", {"cover": "tarp"}),
            ("exposure", {"exposure": "breezy"}),
            ("length", {"length_m": -0.4}),
            ("length", {"length_m": 41.0}),
            ("thickness", {"thickness_m": 0.0}),
            ("thickness", {"thickness_m": float("nan")}),
            ("width", {"width_m": 12.0}),
            ("start_moisture", {"start_mc_db": 45.0}),
        ],
    )
    def test_pieces_that_make_no_sense(self, field, change):
        with pytest.raises(InputError) as caught:
            replace(BIRCH, **change)
        assert caught.value.field == field

    @pytest.mark.parametrize("until", [date(2026, 4, 1), date(2025, 1, 1)])
    def test_an_end_before_the_beginning(self, air, until):
        with pytest.raises(InputError) as caught:
            forecast(BIRCH, air, members=8, until=until)
        assert caught.value.field == "until"

    def test_air_that_does_not_reach(self, air):
        with pytest.raises(InputError) as caught:
            forecast(BIRCH, air, members=8, until=date(2027, 4, 1))
        assert caught.value.field == "air"
        with pytest.raises(InputError):
            forecast(replace(BIRCH, stacked_on=date(2026, 3, 1)), air, members=8)

    @pytest.mark.parametrize("members", [0, -5, 17, 100000])
    def test_members_out_of_reason_or_without_weather(self, air, members):
        with pytest.raises(InputError) as caught:
            forecast(BIRCH, air, members=members)
        assert caught.value.field == "members"


class TestWarnings:
    def said(self, air, **change):
        made = forecast(replace(BIRCH, **change), air, members=8, until=date(2026, 4, 10))
        return " ".join(str(text) for text in made.warnings)

    def test_thickness_outside_what_was_fitted(self, air):
        assert "30 cm thick" in self.said(air, thickness_m=0.30)
        assert "cm thick" not in self.said(air)

    def test_poorly_known_cases_say_so(self, air):
        assert "group" in self.said(air, species_id=wood.find_species("red oak group").id)
        assert "not named yet" in self.said(air, species_id=wood.UNNAMED_HARDWOOD.id)
        assert "wet wood" in self.said(air, species_id="populus_tremuloides")
        assert "bark" in self.said(air, form="round")
        assert "Rain" in self.said(air, cover="none")
        assert "oven" in self.said(air)
        assert "oven" not in self.said(air, start_mc_db=0.7)


class TestClasses:
    def test_every_name_has_a_class(self):
        for species in (*wood.all_species(), *wood.all_groups(), wood.UNNAMED):
            klass = wood_class(species)
            assert not (klass.oak and klass.wet_wood)

    @pytest.mark.parametrize(
        ("name", "oak", "wet", "soft"),
        [
            ("Quercus alba", True, False, False),
            ("red oak group", True, False, False),
            ("Populus tremuloides", False, True, False),
            ("Picea glauca", False, False, True),
            ("Acer saccharum", False, False, False),
        ],
    )
    def test_some_classes(self, name, oak, wet, soft):
        klass = wood_class(wood.find_species(name))

        assert (klass.oak, klass.wet_wood > 0.0, klass.softwood) == (oak, wet, soft)

    def test_cover_exposure_and_form_matter_the_right_way(self, air):
        def left(**change):
            return forecast(replace(BIRCH, **change), air, members=8, seed=5, until=date(2026, 5, 15)).p50[-1]

        assert left(exposure="windy") < left() < left(exposure="sheltered")
        assert left(cover="none") > left()
        assert left() < left(form="half", thickness_m=0.14) < left(form="round", thickness_m=0.14)
        assert left(form="round", thickness_m=0.14) == left(form="log", thickness_m=0.14)
        assert left() < left(rows=4) < left(rows=4, ground="soil")
        assert left(bark=False) < left()
