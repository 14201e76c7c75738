"""The plant table: every row is sane, every refusal is one line that names the value."""

import numpy as np
import pytest
from twinloop_sim.thermal import parameters as p
from twinloop_sim.thermal.storage import initial_plant, plant_size, stored_heat

from ..shared import refused


def test_each_row_has_its_index_constant_and_a_default_in_range():
    for index, row in enumerate(p.TABLE):
        assert index in p.SENSOR_LAGS or getattr(p, row.name.upper()) == index
        assert row.low <= row.default <= row.high
        assert row.meaning
    assert len({row.name for row in p.TABLE}) == p.PARAMETER_COUNT


def test_values_stand_in_table_order_and_overrides_take_effect():
    values = p.plant_values({"collector_area_m2": 4.0})
    assert values.dtype == np.float64
    assert len(values) == p.VALUES_COUNT
    assert values[p.COLLECTOR_AREA_M2] == 4.0
    assert values[p.TANK_VOLUME_L] == p.TABLE[p.TANK_VOLUME_L].default
    assert np.isfinite(values).all()


@pytest.mark.parametrize(
    ("overrides", "named"),
    [
        ({"collector_area_m2": -3.0}, "collector_area_m2 = -3.0: allowed 0 to 200 m2"),
        ({"collector_flow_l_per_min": 0.0}, "collector_flow_l_per_min = 0.0: allowed 0.2 to 100 L/min"),
        ({"tank_ua_w_per_k": -1.0}, "tank_ua_w_per_k = -1.0"),
        ({"tank_ua_w_per_k": float("nan")}, "tank_ua_w_per_k = nan"),
        ({"tank_nodes": 7.5}, "tank_nodes = 7.5: allowed 2 to 64, whole numbers only"),
        ({"tank_volume_l": "much"}, "tank_volume_l = much"),
        ({"collector_aera_m2": 3.0}, "'collector_aera_m2' is not known, did you mean collector_area_m2?"),
        ({"tank_upper_port_m": 1.8}, "tank_upper_port_m = 1.8: allowed 0 to tank_height_m = 1.6 m"),
        ({"tank_high_sensor_m": 1.7}, "tank_high_sensor_m = 1.7"),
        ({"tank_low_port_m": 1.3}, "tank_low_port_m = 1.3: allowed only below tank_upper_port_m"),
        ({"tank_low_sensor_m": 1.4}, "tank_low_sensor_m = 1.4"),
        ({"heater_power_min_w": 30000.0}, "heater_power_min_w = 30000"),
        ({"radiator_rest_w_per_k": 500.0}, "radiator_rest_w_per_k = 500"),
        ({"loop_pressure_kpa": 10.0, "collector_height_m": 20.0}, "loop_pressure_kpa = 10"),
        ({"collector_flow_l_per_min": 90.0, "pipe_content_l_per_m": 0.02, "pipe_wall_j_per_m_k": 0.0}, "too fast"),
    ],
)
def test_a_wrong_value_is_refused_in_one_line_that_names_it(overrides, named):
    with refused(named):
        p.plant_values(overrides)


def test_a_station_at_rest_has_its_parts_where_they_stand():
    values = p.plant_values({"tank_nodes": 20})
    plant = initial_plant(values, -5.0, 20.0, 58.0)
    assert len(plant) == plant_size(values)
    tank_j, loop_j = stored_heat(plant, values)
    # source: mean of a straight line times volume and the water's capacity (CALC)
    assert tank_j == pytest.approx(39.0 * 400.0 * values[p.WATER_J_PER_L_K], rel=1e-12)
    assert stored_heat(plant + 1.0, values)[1] > loop_j
    with pytest.raises(ValueError, match="tank_low_c = 60"):
        initial_plant(values, 10.0, 60.0, 40.0)
