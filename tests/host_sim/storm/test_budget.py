"""Every exclusion of the budget is shown by a run in which the reference rule fails as well."""

import copy
from dataclasses import replace

import pytest
from twinloop.control import state as s
from twinloop_sim import checkers, trace
from twinloop_sim.storm import budget, excuses, lives
from twinloop_sim.storm import campaign as storm
from twinloop_sim.storm import run as storm_run
from twinloop_sim.storm.draw import Case
from twinloop_sim.storm.faults import DAY, Fault
from twinloop_sim.thermal import state as th
from twinloop_sim.thermal.air.presets import room

from ..shared import lived

TRUTH, READINGS = "reference", "readings"
SERIES = {"dump_topology": 1.0}
BIG = {"collector_area_m2": 12.0, "collector_content_l": 6.0, "tank_volume_l": 200.0}
SLOW = {**BIG, "collector_flow_l_per_min": 1.5, "tank_flow_l_per_min": 1.5, "exchanger_ua_w_per_k": 2000.0}
HOT = {"tank_limit": 85000, "tank_full_low": 85000, "charge_limit_reset": 5000, "collector_flow": 1500, "tank_pump_delay": 300000}
SUMMER = Case(seed=7, weather="desert", start=(6, 20), days=2, recovery_s=0, daily_kwh=0.5, tank=(40.0, 60.0))
WINTER = Case(seed=7, weather="steppe", start=(1, 15), days=1, recovery_s=0, daily_kwh=0.5, tank=(20.0, 40.0))
# Cold clear days with room in the tank.
CLEAR = replace(SUMMER, weather="greensboro", start=(1, 27), daily_kwh=3.0, tank=(45.0, 55.0))


def always(name, target, size=1.0):
    return Fault(name, target, size, 0.0, 2 * DAY)


def from_morning(name, target, size=0.0):
    """A fault after the start, which names its own reasons."""
    return Fault(name, target, size, DAY / 4, 2 * DAY)


CHECK_LEAKS = always("roof_check_leaks", "roof_check_valve_leak", 0.3)
WELDED = always("collector_relay_welded", "collector_pump")
# What breaks, what the reference rule goes by, and the case; by the test of the budget.
NO_SIGHT = {"loop_return_fitted": 0, "exchanger_fitted": 0}
# A light shed that the sun of a morning warms above what its people want.
HEATED = {**room("packing-shed"), "air_heater_built": 1.0, "air_collector_area_m2": 16.0}
SHED = replace(SUMMER, weather="greensboro", start=(4, 10), plant=HEATED, settings={"air_heater": 1, "room_maximum": 18000})
FALLEN = from_morning("pocket_out", "tank_low", 0.03)
SHOWN = {
    budget.room_unseen: ("room_over", READINGS, replace(SHED, faults=(from_morning("sensor_stuck", "room"),))),
    budget.both_tank_sensors_wrong: (
        "tank_node",
        READINGS,
        replace(SUMMER, plant=BIG, faults=(always("sensor_stuck", "tank_low"), always("sensor_stuck", "tank_high"))),
    ),
    budget.both_glycol_sensors_wrong: (
        "tank_inlet",
        READINGS,
        replace(
            SUMMER,
            plant=SLOW,
            settings=HOT,
            faults=(always("sensor_far_off", "collector", -15.0), always("sensor_open", "loop_supply")),
        ),
    ),
    budget.two_held_open: (
        "tank_node",
        TRUTH,
        replace(
            SUMMER,
            plant={**BIG, "dump_topology": 2.0},
            settings={"dump_topology": 2},
            faults=(always("tank_relay_welded", "tank_pump"), WELDED),
        ),
    ),
    budget.nobody_home_in_frost: (
        "exchanger_ice",
        TRUTH,
        replace(WINTER, plant=SERIES, settings={"dump_topology": 1}, faults=(CHECK_LEAKS, always("power_cut", "board"))),
    ),
    budget.ice_valve_not_home: (
        "exchanger_ice",
        READINGS,
        replace(
            WINTER, weather="greensboro", days=2, ambient_shift_k=-10.0, faults=(always("valve_relay_welded", "dump_valve_power"),)
        ),
    ),
    budget.ice_welded: ("exchanger_ice", TRUTH, replace(WINTER, plant=SERIES, settings={"dump_topology": 1}, faults=(WELDED,))),
    budget.ice_unseen: (
        "exchanger_ice",
        READINGS,
        replace(WINTER, plant=SERIES, settings={"dump_topology": 1, "exchanger_fitted": 0}, faults=(CHECK_LEAKS,)),
    ),
    budget.ice_cold_main: (
        "exchanger_ice",
        TRUTH,
        replace(
            WINTER,
            daily_kwh=12.0,
            tank=(3.0, 20.0),
            plant={**SERIES, "cold_main_mean_c": 4.5, "cold_main_swing_k": 4.0},
            settings={"dump_topology": 1},
            faults=(CHECK_LEAKS,),
        ),
    ),
    budget.tank_high_stuck_unseen: (
        "tank_node",
        READINGS,
        replace(
            SUMMER,
            plant={**BIG, "tank_volume_l": 400.0, "tank_flow_l_per_min": 1.5, "exchanger_ua_w_per_k": 2000.0},
            tank=(20.0, 55.0),
            settings={"tank_limit": 60000, "tank_full_low": 60000, "charge_limit_reset": 5000, "loop_supply_fitted": 0},
            faults=(always("sensor_stuck", "tank_high"),),
        ),
    ),
    budget.hot_unseen: (
        "tank_inlet",
        READINGS,
        replace(
            SUMMER, plant=SLOW, settings={**HOT, "loop_supply_fitted": 0}, faults=(always("sensor_far_off", "collector", -15.0),)
        ),
    ),
    budget.cool_elsewhere: ("silence", READINGS, replace(CLEAR, faults=(from_morning("pocket_out", "collector"),))),
    budget.heat_unseen: (
        "silence",
        READINGS,
        replace(
            CLEAR,
            settings={"loop_return_fitted": 0, "exchanger_fitted": 0},
            faults=(from_morning("valve_relay_off", "dump_valve_power"),),
        ),
    ),
    # A tank colder than the air, to which the radiator loses but a part.
    budget.radiator_shares: (
        "silence",
        READINGS,
        replace(
            CLEAR,
            start=(5, 12),
            tank=(8.0, 15.0),
            plant={**SERIES, "tank_volume_l": 500.0, "collector_area_m2": 6.6, "collector_content_l": 3.3},
            settings={"dump_topology": 1, "exchanger_fitted": 0},
            faults=(from_morning("valve_relay_off", "dump_valve_power"),),
        ),
    ),
    # As cold a tank, to which half of the glycol brings little more than half.
    budget.valve_shares: (
        "silence",
        READINGS,
        replace(
            CLEAR,
            start=(5, 12),
            tank=(10.0, 20.0),
            plant={"dump_crossover_open": 1.0},
            settings={"dump_crossover": 1},
            faults=(from_morning("valve_stuck", "dump_valve", 0.5),),
        ),
    ),
    budget.full_unseen: (
        "silence",
        READINGS,
        replace(
            CLEAR, start=(6, 22), daily_kwh=1.0, tank=(58.0, 62.0), faults=(from_morning("sensor_far_off", "tank_high", 12.0),)
        ),
    ),
    budget.air_low_unseen: (
        "silence",
        READINGS,
        replace(
            CLEAR,
            start=(12, 15),
            tank=(15.0, 25.0),
            plant=SERIES,
            settings={"dump_topology": 1, "exchanger_fitted": 0},
            faults=(from_morning("sensor_far_off", "outdoor", -5.0),),
        ),
    ),
    budget.taken_unseen: (
        "carried_out",
        READINGS,
        replace(CLEAR, settings=NO_SIGHT, faults=(replace(FALLEN, begin_s=17 * 3600.0),)),
    ),
    budget.cooled_unseen: (
        "carried_out",
        READINGS,
        replace(
            CLEAR,
            start=(5, 12),
            plant={**SERIES, "collector_area_m2": 6.6, "collector_content_l": 3.3},
            settings={"dump_topology": 1, "exchanger_fitted": 0},
            faults=(from_morning("valve_relay_off", "dump_valve_power"),),
        ),
    ),
    budget.swap_unseen: (
        "carried_out",
        READINGS,
        replace(
            CLEAR,
            settings={"loop_supply_fitted": 0, "outdoor_fitted": 0},
            faults=(always("swapped_collector_tank", "collector"),),
        ),
    ),
}

# The same, by a valve that leaks a tenth to a radiator in cold air, by wires and by days.
LEAKS = (from_morning("valve_leaks", "dump_seat_leak", 0.1),)
AIR = (replace(from_morning("swapped_others", "tank_low", float(s.OUTDOOR)), begin_s=15.5 * 3600),)
OTHERS = (
    (
        budget.room_unseen,
        (
            "room_over",
            READINGS,
            replace(SHED, start=(4, 2), faults=(from_morning("swapped_others", "room", float(s.OUTDOOR)),)),
        ),
    ),
    (
        budget.hot_unseen,
        (
            "carried_out",
            READINGS,
            replace(CLEAR, settings={"loop_supply_fitted": 0}, faults=(from_morning("sensor_far_off", "collector", 12.0),)),
        ),
    ),
    (budget.heat_unseen, ("silence", READINGS, replace(CLEAR, settings=NO_SIGHT, faults=LEAKS))),
    (
        budget.radiator_shares,
        ("silence", READINGS, replace(CLEAR, start=(3, 28), plant=SERIES, settings={"dump_topology": 1}, faults=LEAKS)),
    ),
    (budget.taken_unseen, ("carried_out", READINGS, replace(CLEAR, start=(4, 24), settings=NO_SIGHT, faults=AIR))),
    (
        budget.full_unseen,
        (
            "silence",
            READINGS,
            replace(
                CLEAR,
                start=(6, 22),
                days=3,
                daily_kwh=5.0,
                tank=(56.0, 66.0),
                settings={"tank_full_reset": 18500},
                faults=(from_morning("sensor_far_off", "tank_low", 8.0),),
            ),
        ),
    ),
)


# A frosty morning with a sun that heats the collector to the dump threshold beside a full tank.
FROSTY = replace(
    WINTER,
    weather="greensboro",
    start=(1, 27),
    ambient_shift_k=-12.0,
    tank=(66.0, 70.0),
    plant={**SERIES, "collector_a1_w_per_m2_k": 1.0, "radiator_content_l": 4.0},
    settings={"dump_topology": 1, "exchanger_fitted": 0},
    faults=(always("sensor_open", "outdoor"),),
)
# Where there is no way to the radiator.
BLOCKED = (
    always("valve_stuck", "dump_valve", 0.5),
    always("valve_stuck", "dump_valve"),
    always("valve_relay_welded", "dump_valve_power"),
)


@pytest.fixture(scope="module")
def run_block():
    return storm.block_of()


def broken(episode, rows, run_block, judge):
    """Whether these rows of the episode break the rule of a judge."""
    other = copy.copy(episode)
    other.rows = rows
    return storm_run.judge(other, run_block, (judge,)) != []


def test_every_exclusion_is_shown():
    assert {test for test, _ in budget.BEYOND} | {test for _, test, _ in budget.UNPROTECTED} == set(SHOWN)


@pytest.mark.parametrize(("test", "shown"), [*SHOWN.items(), *OTHERS], ids=lambda one: getattr(one, "__name__", ""))
def test_the_reference_rule_fails_as_well(test, shown, run_block, monkeypatch):
    """Both break the same rule; the station does not without the faults."""
    name, eyes, case = shown
    faults = case.faults
    assert test(*faults, case) or test(*reversed(faults), case)
    monkeypatch.setattr(excuses, "UNPROTECTED", ())
    judge = next(checker for checker in checkers.STORM if name == checker.NAME)
    episode = lived(run_block, case)
    beside = lives.Beside(episode, run_block)
    assert broken(episode, episode.rows, run_block, judge)
    assert broken(episode, getattr(beside, eyes), run_block, judge)
    assert not broken(episode, beside.sound, run_block, judge)


@pytest.mark.parametrize(("judge", "start"), ((checkers.storm.carried_out, (1, 27)), (checkers.storm.silence, (12, 15))))
def test_a_tank_low_that_fell_off_in_the_morning_is_found_by_the_evening(judge, start, run_block, monkeypatch):
    """Hours of charging do not warm it; the reference rule on the readings drains the tank."""
    monkeypatch.setattr(excuses, "UNPROTECTED", ())
    case = replace(CLEAR, start=start, days=3, daily_kwh=1.0, settings=NO_SIGHT, faults=(FALLEN,))
    episode = lived(run_block, case)
    assert not broken(episode, episode.rows, run_block, judge)
    assert broken(episode, lives.Beside(episode, run_block).readings, run_block, judge)


@pytest.mark.parametrize("fault", (FROSTY.faults[0], always("pocket_out", "outdoor", 0.05)), ids=lambda fault: fault.name)
def test_without_the_air_the_readings_freeze_the_exchanger_in_series(fault, run_block):
    """So the station may let the collector boil, unless the nights are mild."""
    assert budget.blind_to_frost(fault, FROSTY)
    assert not budget.blind_to_frost(fault, replace(FROSTY, settings={}))
    episode = lived(run_block, replace(FROSTY, faults=(fault,)))
    beside = lives.Beside(episode, run_block)
    assert not broken(episode, episode.rows, run_block, checkers.exchanger_ice)
    assert broken(episode, beside.readings, run_block, checkers.exchanger_ice)


@pytest.mark.parametrize("fault", BLOCKED, ids=lambda fault: f"{fault.name}, {fault.size}")
def test_without_a_way_to_the_radiator_it_boils_whoever_decides(fault, run_block):
    case = replace(SUMMER, plant={"dump_topology": 1.0}, settings={"dump_topology": 1}, faults=(fault,))
    assert budget.blocks(fault, case)
    assert budget.blocks(fault, replace(case, settings={"dump_topology": 1, "dump_crossover": 1})) == (fault.size == 1.0)
    assert not budget.blocks(always("valve_stuck", "dump_valve", 0.0), case)
    episode = lived(run_block, case)
    beside = lives.Beside(episode, run_block)
    collector = trace.TRUE_SENSORS + s.COLLECTOR
    assert min(episode.rows[:, collector].max(), beside.reference[:, collector].max()) > 120.0 > beside.sound[:, collector].max()


def test_a_valve_that_sticks_at_its_end_lets_glycol_pass(run_block):
    """It moves no further, not even by a rounding."""
    case = replace(SUMMER, plant={"dump_topology": 1.0}, settings={"dump_topology": 1})
    episode = lived(run_block, replace(case, faults=(always("valve_stuck", "dump_valve"),)))
    assert episode.plant[th.VALVE_POSITION] == 1.0


@pytest.mark.parametrize(
    ("name", "size", "settings", "unseen"),
    [
        ("sensor_far_off", -5.0, {}, True),
        ("sensor_far_off", -5.1, {}, False),
        ("sensor_far_off", 5.0, {}, False),
        ("sensor_stuck", -5.0, {}, False),
        ("sensor_far_off", -5.0, {"exchanger_fitted": 1}, False),
        ("sensor_far_off", -5.0, {"dump_topology": 0}, False),
    ],
)
def test_only_a_little_is_excused(name, size, settings, unseen):
    """A collector at night contradicts more, and plates with a sensor tell."""
    case = replace(CLEAR, settings={"dump_topology": 1, "exchanger_fitted": 0, **settings})
    case = replace(case, plant={"dump_topology": float(case.settings["dump_topology"])})
    assert budget.air_low_unseen(always(name, "outdoor", size), case) == unseen
