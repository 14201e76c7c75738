"""Draw profiles: sums to the last watt-hour, and exact volumes at any step."""

import numpy as np
import pytest
from twinloop_sim.demand.profiles import PROFILE_L, PROFILE_M, PROFILES, Draw, daily_kwh
from twinloop_sim.demand.table import Variation, draw_litres, draw_table
from twinloop_sim.thermal.fluids import water_j_per_l_k

from ..shared import refused


def test_profile_sums():
    # source: Reg. (EU) 812/2013 Annex VII Table 3: M 5.845, L 11.655 kWh (PAGE); 23 and 24 draws
    # (CALC)
    assert sum(draw.heat_wh for draw in PROFILE_M) == 5845
    assert sum(draw.heat_wh for draw in PROFILE_L) == 11655
    assert (len(PROFILE_M), len(PROFILE_L)) == (23, 24)
    assert set(PROFILES) == {"M", "L"}


def test_draws_stand_in_order_of_the_clock():
    for profile in PROFILES.values():
        minutes = [draw.minute for draw in profile]
        assert minutes == sorted(set(minutes))
        assert 0 <= minutes[0] <= minutes[-1] < 24 * 60


def test_litres_of_a_day():
    # source: M is 167.6 L at 40 C from 10 C with 4186 J/L K (CALC); the model's water holds 1.3 %
    # less by litre
    litres = sum(draw_litres(draw, 1.0, 10.0, 40.0) for draw in PROFILE_M)
    assert litres * water_j_per_l_k() / 4186.0 == pytest.approx(167.6, abs=0.1)


@pytest.mark.parametrize("step_s", [1.0, 5.0, 7.5, 60.0, 3600.0])
def test_volume_is_kept_however_draws_lie_to_the_steps(step_s):
    flow = draw_table(PROFILE_L, 2, step_s, 10.0)
    litres = flow.sum() * step_s / 60.0
    # source: heat over what a litre carries from 10 to 45 C (CALC)
    assert litres == pytest.approx(2 * 11655 * 3600.0 / (water_j_per_l_k() * 35.0), rel=1e-12)
    assert (flow >= 0.0).all()
    assert flow.max() <= 16.0


def test_a_draw_begins_at_its_minute_with_its_flow():
    flow = draw_table(PROFILE_M, 1, 5.0, 10.0)
    shower = (7 * 60 + 5) * 12
    assert flow[shower - 1] == 0.0
    assert flow[shower] == 6.0
    assert flow[: 7 * 720].sum() == 0.0
    # source: 1.4 kWh at 6 L/min lasts 5.8 min (CALC)
    assert np.count_nonzero(flow[shower : shower + 120]) == pytest.approx(5.81 * 12, abs=1.0)


def test_scale_makes_draws_longer_not_stronger():
    once, twice = draw_table(PROFILE_M, 1, 5.0, 10.0), draw_table(PROFILE_M, 1, 5.0, 10.0, scale=2.0)
    assert twice.sum() == pytest.approx(2.0 * once.sum())
    assert twice.max() == once.max() == 6.0
    assert daily_kwh(PROFILE_M) == 5.845
    assert draw_table(PROFILE_M, 1, 5.0, 10.0, scale=0.0).sum() == 0.0


def test_warmer_mains_need_more_litres_for_the_same_heat():
    cold = np.full(2 * 17280, 10.0)
    cold[17280:] = 20.0
    flow = draw_table(PROFILE_M, 2, 5.0, cold).reshape(2, -1).sum(axis=1)
    assert flow[1] / flow[0] == pytest.approx(35.0 / 25.0)


def test_nobody_draws_on_an_absent_day():
    flow = draw_table(PROFILE_M, 4, 5.0, 10.0, absent_days=[1, 2]).reshape(4, -1).sum(axis=1)
    assert flow[1] == flow[2] == 0.0
    assert flow[0] == flow[3] > 0.0


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"days": 0}, "days = 0"),
        ({"step_s": 7.0}, "step_s = 7"),
        ({"step_s": 0.0}, "step_s = 0"),
        ({"scale": -1.0}, "scale = -1"),
        ({"scale": 60.0}, "past midnight"),
        ({"cold_main_c": 46.0}, "delivery_c = 45: must be above the cold main's 46 C"),
    ],
)
def test_a_wrong_call_is_refused_in_one_line(changed, named):
    call = {"profile": PROFILE_M, "days": 1, "step_s": 5.0, "cold_main_c": 10.0, **changed}
    with refused(named):
        draw_table(**call)


VARIED = Variation(seed=5, heat_percent=30.0, shift_min=20.0)


def test_varied_days_differ_keep_their_mean_and_come_from_the_seed():
    call = {"profile": PROFILE_M, "step_s": 5.0, "cold_main_c": 10.0}
    plain = draw_table(days=200, **call).reshape(200, -1).sum(axis=1)
    varied = draw_table(days=200, variation=VARIED, **call).reshape(200, -1).sum(axis=1)
    assert np.ptp(plain) < 1e-9
    # source: 23 lognormal factors of 30 %, weighted with their draws' heat: 11 % from day to day,
    # 0.8 % on the mean of 200 (CALC)
    assert varied.std() / varied.mean() == pytest.approx(0.11, abs=0.02)
    assert varied.mean() == pytest.approx(plain.mean(), rel=0.02)
    again = draw_table(days=200, variation=VARIED, **call).reshape(200, -1).sum(axis=1)
    other = draw_table(days=200, variation=Variation(6, 30.0, 20.0), **call).reshape(200, -1).sum(axis=1)
    assert np.array_equal(varied, again)
    assert not np.array_equal(varied, other)


def test_a_day_of_a_run_is_the_same_wherever_the_table_begins():
    call = {"profile": PROFILE_L, "step_s": 5.0, "cold_main_c": 10.0, "variation": VARIED, "absent_days": (3,)}
    whole = draw_table(days=6, **call)
    assert np.array_equal(whole[3 * 17280 :], draw_table(days=3, skip_days=3, **call))
    assert whole[3 * 17280 : 4 * 17280].sum() == 0.0


def test_a_draw_that_would_pass_midnight_begins_earlier():
    late = (Draw(23 * 60 + 58, 1400, 6.0, 40.0, None),)
    with pytest.raises(ValueError, match="the draw at 23:58 would last past midnight"):
        draw_table(late, 1, 5.0, 10.0)
    varied = draw_table(late, 1, 5.0, 10.0, variation=Variation(1, 0.0, 1.0))
    assert varied.sum() * 5.0 / 60.0 == pytest.approx(draw_litres(late[0], 1.0, 10.0, 45.0))
