"""Pulses of frosty glycol in the model's own plates: the table of frost.py leaves them a margin."""

import numpy as np
import pytest
from twinloop.control import frost
from twinloop.control import state as fw
from twinloop_sim.engine.compiled import plant_step
from twinloop_sim.thermal import parameters as p
from twinloop_sim.thermal import state as s
from twinloop_sim.thermal.sensors import plate_coldest_c
from twinloop_sim.thermal.storage import initial_plant

PULSE_S, REST_S = frost.PULSE_MS // 1000, frost.PULSE_REST_MS // 1000


def exchanger(area_m2, ua_w_per_k, **more):
    """An exchanger for this much collector, as home builders have it."""
    return {
        "exchanger_ua_w_per_k": ua_w_per_k,
        "exchanger_rest_w_per_k": 30.0 * area_m2,
        "exchanger_glycol_l": 0.1 * area_m2,
        "exchanger_water_l": 0.1 * area_m2,
        "exchanger_plate_j_per_k": 330.0 * area_m2,
        **more,
    }


# Strong and weak plates, and flows in a bad ratio.
PLANTS = {
    "shipped": {},
    "strong": {"exchanger_ua_w_per_k": 1080.0},
    "weak": {"exchanger_ua_w_per_k": 480.0},
    "little water": {"tank_flow_l_per_min": 2.0},
    "much glycol": {"collector_flow_l_per_min": 6.6},
    "small": exchanger(3.0, 540.0, collector_flow_l_per_min=3.3, tank_flow_l_per_min=1.5),
    "large": exchanger(14.0, 2500.0, collector_flow_l_per_min=9.0, tank_flow_l_per_min=5.6),
}


def coldest_c(water_c, slug_c, pump_s, pulses, **plant):
    """The coldest plate while glycol of `slug_c` comes through, beside water of `water_c`."""
    values = p.plant_values({"dump_topology": p.DUMP_NONE, "pipe_nodes": 12, "tank_volume_l": 5000.0, **plant})
    station = initial_plant(values, slug_c, water_c, water_c)
    station[s.EXCHANGER_GLYCOL_FIRST : s.TANK_FIRST] = water_c
    station[s.COLLECTOR_FIRST : s.SUPPLY_OUTDOOR_FIRST] = 60.0
    drive, flux = np.zeros(s.DRIVE_COUNT), np.zeros(s.FLUX_COUNT)
    drive[s.DRIVE_AMBIENT_C], drive[s.DRIVE_ROOM_C] = slug_c, 18.0
    command, advance = np.zeros(fw.OUTPUTS, dtype=np.int64), plant_step()
    command[fw.TANK_PUMP] = 1
    coldest = water_c
    for second in range(pulses * (pump_s + REST_S)):
        command[fw.COLLECTOR_PUMP] = int(second % (pump_s + REST_S) < pump_s)
        if second % (pump_s + REST_S) == 0:
            # More of the slug stands at the door.
            station[s.SUPPLY_INDOOR_FIRST : s.RADIATOR_FIRST] = slug_c
        advance(station, values, drive, command, flux, 1.0)
        coldest = min(coldest, plate_coldest_c(station, values))
    return coldest


@pytest.mark.parametrize("plant", PLANTS)
@pytest.mark.parametrize("slug_c", [0.0, -5.0, -10.0, -15.0])
def test_the_coldest_water_for_a_pulse_keeps_the_plates_at_a_degree(slug_c, plant):
    """source: the requirement, no exchanger water below 1 C. Twice as warm, it bears two in one."""
    water_c = (frost.NEED_FOOT_MC - frost.NEED_SLOPE * slug_c * 1000.0) / 1000.0
    assert coldest_c(water_c, slug_c, PULSE_S, 3, **PLANTS[plant]) > 1.0
    assert coldest_c(2.0 * water_c, slug_c, 2 * PULSE_S, 3, **PLANTS[plant]) > 1.0


def test_the_same_water_does_not_survive_a_steady_slug():
    """Negative: this is why the glycol comes in pulses. 34 C of water, glycol of -10 C."""
    assert coldest_c(34.0, -10.0, 60, 1) < 0.0
