"""Winter without a bypass: heat from January, and no ice on any plate, whatever fails.

The pipes have twelve nodes: three smear a cold slug by several kelvin.
"""

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_sim import scenarios, trace
from twinloop_sim.checkers.storm import relay_operations
from twinloop_sim.document import heat_kwh, solar_fraction
from twinloop_sim.engine.compiled import compiled_block
from twinloop_sim.engine.run import run
from twinloop_sim.storm import run as storm
from twinloop_sim.storm.draw import DAY_S, Case
from twinloop_sim.storm.faults import Fault

PLATE = trace.COLUMNS.index("true_exchanger_plate")
PUMP = trace.COMMANDS + s.COLLECTOR_PUMP
SHARP = {"pipe_nodes": 12.0, "glycol_mass_percent": 45.0}
# The coldest days of the typical January: nights of -9 to -13 C, and sun.
START, DAYS = (1, 5), 12
TOPOLOGIES = {"series": cfg.SERIES, "none": cfg.NONE}
each_topology = pytest.mark.parametrize("topology", TOPOLOGIES)


def january(topology, nodes=12):
    """The January of the shipped year."""
    return run(scenarios.load("year", [f"dump_topology={topology}", f"plant.pipe_nodes={nodes}"], {"days": 31}))


@pytest.fixture(scope="module")
def with_bypass():
    """The solar fraction of that January with a bypass."""
    return solar_fraction(heat_kwh(january("bypass")))


@each_topology
def test_january_brings_more_than_half_of_what_a_bypass_brings(topology, with_bypass):
    """source: the requirement, 55 %; before, a fifth and a seventh."""
    outcome = january(topology)
    assert solar_fraction(heat_kwh(outcome)) >= 0.55 * with_bypass
    assert outcome.lowest[PLATE] > 3.0
    # source: a third of a relay's daily share (checkers/storm/relay_operations.py).
    assert outcome.state[s.STARTS + s.COLLECTOR_PUMP] < 31 * relay_operations.A_DAY / 3


def test_three_nodes_hide_how_cold_the_plates_get():
    """source: docs/model.md, the same heat, and the coldest plate 2 K off. A regression lock."""
    sharp, smeared = january("none"), january("none", 3)
    assert solar_fraction(heat_kwh(smeared)) == pytest.approx(solar_fraction(heat_kwh(sharp)), abs=0.005)
    assert smeared.lowest[PLATE] - sharp.lowest[PLATE] == pytest.approx(2.05, abs=0.5)


def coldest_plate_c(topology, faults=(), plant=None):
    """The coldest plate of those days in this plant, under these faults; hours of the pump."""
    number = TOPOLOGIES[topology]
    case = Case(
        seed=1,
        start=START,
        days=DAYS,
        recovery_s=0,
        daily_kwh=9.0,
        tank=(12.0, 40.0),
        cloud_seed=1,
        plant={**SHARP, "dump_topology": float(number), **(plant or {})},
        settings={"dump_topology": number, "glycol_mass_percent": 45},
        faults=faults,
    )
    episode = storm.open_episode(case)
    storm.run_span(compiled_block(source="storm.block", function="run_storm_block"), episode, slice(0, len(episode.rows)))
    return episode.rows[:, PLATE].min(), episode.rows[:, PUMP].sum() * case.step_s / 3600.0


def always(name, target="board", size=1.0):
    """A fault over all of those days."""
    return (Fault(name, target, size, 0.0, DAYS * DAY_S),)


# Each morning at ten, when frosty glycol moves: five minutes without power.
CUTS = tuple(
    Fault("power_cut", "board", 1, day * DAY_S + hour * 3600.0, day * DAY_S + hour * 3600.0 + 300.0)
    for day in range(DAYS)
    for hour in (9.5, 10.2)
)
# The roof's lower half under snow is a cold pipe ahead of the sunny half: 1.5 L, 11 m.
SNOW = {"collector_area_m2": 3.0, "collector_content_l": 1.5, "return_outdoor_m": 17.0}
HARM = {
    "tank pump dead": (always("tank_pump_dead", "tank_pump", 0), {}),
    "tank pump dies in the morning": ((Fault("tank_pump_dead", "tank_pump", 0, 1.4 * DAY_S, DAYS * DAY_S),), {}),
    "tank flow low": (always("tank_flow_low", "tank_flow_l_per_min", 0.2), {}),
    "outdoor reads 8 K high": (always("sensor_far_off", "outdoor", 8.0), {}),
    "outdoor drifts 8 K high": (always("sensor_drift", "outdoor", 8.0), {}),
    "outdoor in the house": (always("swapped_others", "outdoor", s.EXCHANGER), {}),
    "tank sensors exchanged": (always("swapped_tank", "tank_low"), {}),
    "tank_low and the plates exchanged": (always("swapped_others", "tank_low", s.EXCHANGER), {}),
    "tank_high and the plates exchanged": (always("swapped_others", "tank_high", s.EXCHANGER), {}),
    "loop sensors exchanged": (always("swapped_others", "loop_supply", s.LOOP_RETURN), {}),
    "arriving glycol reads 15 K high": (always("sensor_far_off", "loop_supply", 15.0), {}),
    "plates read 5 K high": (always("sensor_far_off", "exchanger", 5.0), {}),
    "the plates' sensor hangs in the room": (always("pocket_out", "exchanger", 0.0), {}),
    "power fails in the middle": (CUTS, {}),
    "snow on half of the roof": ((), SNOW),
    "strong plates": ((), {"exchanger_ua_w_per_k": 1080.0}),
    "long pipes": ((), {"supply_outdoor_m": 15.0, "return_outdoor_m": 15.0}),
}


# Where the exchanger's sensor sits at the plates' other end, what it sees matters.
IN_SERIES = ("tank pump dies in the morning", "plates read 5 K high", "outdoor drifts 8 K high", "power fails in the middle")


@pytest.mark.parametrize(("harm", "topology"), [*((harm, "none") for harm in HARM), *((harm, "series") for harm in IN_SERIES)])
def test_no_plate_comes_near_ice(harm, topology):
    """source: the requirement, 1 C on nights of -12 C."""
    plate_c, _ = coldest_plate_c(topology, *HARM[harm])
    assert plate_c > 1.0


@each_topology
def test_they_pump_glycol_on_those_days(topology):
    """Negative of the above: an idle station keeps its plates warm as well."""
    assert coldest_plate_c(topology)[1] > 10.0
