"""The table of the air channel's values with their ranges, and the array that the step reads.

Marks as in the plant's table: `CP` is common practice of the trade, "ours" a free choice for an
invented packing shed at a market garden: 150 m3, block walls, a light roof, 8 m2 of air collector
on its south wall. Values marked "live" may change during a run. Filter and damper sit next to the
fan.
"""

import numpy as np

from ..table import Parameter, filled
from .figures import duct_pa, film_factor
from .properties import AIR_J_PER_KG_K, REFERENCE_C, density_kg_per_m3
from .state import ABSORBER_NODES

TABLE: list[Parameter] = []


def _row(name, unit, default, low, high, meaning, whole=False):
    TABLE.append(Parameter(name, unit, default, low, high, meaning, whole))
    return len(TABLE) - 1


AIR_HEATER_BUILT = _row("air_heater_built", "0 or 1", 0.0, 0.0, 1.0, "whether there is one", True)

# Collector: glazed, black absorber with air behind it (CP); ISO 9806 on gross area and mean air
# temperature, at one flow of air.
AIR_COLLECTOR_AREA_M2 = _row("air_collector_area_m2", "m2", 8.0, 0.1, 200.0, "gross area (ours)")
AIR_COLLECTOR_ETA0 = _row("air_collector_eta0", "1", 0.68, 0.0, 1.0, "efficiency without loss, at the test's flow (CP)")
AIR_COLLECTOR_A1_W_PER_M2_K = _row("air_collector_a1_w_per_m2_k", "W/m2 K", 4.8, 0.0, 20.0, "linear loss, same (CP)")
AIR_COLLECTOR_A2_W_PER_M2_K2 = _row("air_collector_a2_w_per_m2_k2", "W/m2 K2", 0.012, 0.0, 0.2, "quadratic loss, same (CP)")
AIR_TEST_KG_PER_H_M2 = _row(
    "air_test_kg_per_h_m2", "kg/h m2", 54.0, 5.0, 300.0, "flow of air in the test of the curve (CP 30 to 100)"
)
AIR_FILM_W_PER_M2_K = _row("air_film_w_per_m2_k", "W/m2 K", 25.0, 2.0, 200.0, "absorber to air at that flow (CP)")
AIR_FILM_REST_W_PER_M2_K = _row("air_film_rest_w_per_m2_k", "W/m2 K", 4.0, 0.5, 50.0, "the same in laminar flow (Nu 5 on 30 mm)")
AIR_FILM_EXPONENT = _row("air_film_exponent", "1", 0.8, 0.0, 1.0, "film against flow (turbulent duct, Dittus and Boelter)")
AIR_COLLECTOR_B0 = _row("air_collector_b0", "1", 0.10, 0.0, 0.5, "incidence modifier coefficient (ASHRAE 93 form, CP)")
AIR_COLLECTOR_SKY_W_PER_M2_K = _row(
    "air_collector_sky_w_per_m2_k", "W/m2 K", 1.0, 0.0, 5.0, "night loss for a kelvin of sky depression (as the water's)"
)
AIR_COLLECTOR_HEAT_J_PER_M2_K = _row(
    "air_collector_heat_j_per_m2_k", "J/m2 K", 8000.0, 1000.0, 60000.0, "capacity of absorber, cover and inner box (CP)"
)
AIR_COLLECTOR_SLOPE_DEG = _row("air_collector_slope_deg", "deg", 75.0, 0.0, 90.0, "slope from horizontal (ours)")
AIR_COLLECTOR_AZIMUTH_DEG = _row("air_collector_azimuth_deg", "deg", 180.0, 0.0, 360.0, "bearing, 180 is south (ours)")
AIR_COLLECTOR_DROP_PA = _row("air_collector_drop_pa", "Pa", 40.0, 0.0, 500.0, "pressure drop at the test's flow (CP)")
AIR_COLLECTOR_RISE_M = _row("air_collector_rise_m", "m", 1.8, 0.0, 10.0, "height of its outlet above its inlet (ours)")

# Duct, filter, damper.
AIR_SUPPLY_RISE_M = _row(
    "air_supply_rise_m", "m", 0.3, -10.0, 10.0, "opening in the room above the collector's outlet; below 0 on a roof (ours)"
)
AIR_DUCT_M = _row("air_duct_m", "m", 8.0, 0.0, 100.0, "both ducts together (ours)")
AIR_DUCT_BORE_M = _row("air_duct_bore_m", "m", 0.18, 0.05, 1.0, "inner diameter (ours)")
AIR_DUCT_FITTINGS = _row("air_duct_fittings", "1", 6.0, 0.0, 100.0, "loss coefficients of bends, grilles and open damper (CP)")
AIR_DUCT_OUTDOOR_M = _row("air_duct_outdoor_m", "m", 1.5, 0.0, 100.0, "warm duct in outdoor air (ours)")
AIR_DUCT_LOSS_W_PER_M_K = _row("air_duct_loss_w_per_m_k", "W/m K", 0.9, 0.0, 10.0, "30 mm of mineral wool around 180 mm (CP)")
AIR_FILTER_PA = _row("air_filter_pa", "Pa", 25.0, 0.0, 500.0, "clean filter at the collector's test flow (CP)")
AIR_FILTER_DIRT = _row("air_filter_dirt", "1", 1.0, 1.0, 100.0, "live; drop of the filter against a clean one")
AIR_DAMPER_OPENING_PA = _row("air_damper_opening_pa", "Pa", 5.0, 0.0, 200.0, "pressure that opens the backdraught damper (CP)")
AIR_DAMPER_LEAK = _row(
    "air_damper_leak", "1", 0.02, 0.0, 1.0, "live; flow of the shut damper against an open duct; 0 is tight, 1 is none (CP)"
)
AIR_LEAK_SHARE = _row(
    "air_leak_share", "1", 0.04, 0.0, 0.5, "live; air that collector and duct lose or gain, of what the fan moves (CP)"
)

# Fan.
AIR_FAN_SHUT_PA = _row("air_fan_shut_pa", "Pa", 250.0, 5.0, 2000.0, "pressure at full speed against a shut duct (CP)")
AIR_FAN_FREE_M3_PER_H = _row("air_fan_free_m3_per_h", "m3/h", 700.0, 10.0, 20000.0, "flow against no pressure (CP)")
AIR_FAN_W = _row("air_fan_w", "W", 80.0, 0.0, 5000.0, "electrical power at that flow, without the next (CP)")
AIR_FAN_STANDING_W = _row("air_fan_standing_w", "W", 2.0, 0.0, 100.0, "what its electronics take at any speed (CP)")
AIR_FAN_HEAT_SHARE = _row("air_fan_heat_share", "1", 1.0, 0.0, 1.0, "part of its power that warms the air (motor in the stream)")
AIR_FAN_DRAWS = _row("air_fan_draws", "0 or 1", 0.0, 0.0, 1.0, "1: sits behind the collector, 0: before it, and pushes", True)

# Room: air and what is light in it; masonry. The ground counts for a cellar.
ROOM_VOLUME_M3 = _row("room_volume_m3", "m3", 150.0, 5.0, 5000.0, "air in the room (ours)")
ROOM_HEAT_J_PER_K = _row("room_heat_j_per_k", "J/K", 1.2e6, 1e4, 1e9, "air, crates, benches, inner boards (ours)")
MASONRY_HEAT_J_PER_K = _row("masonry_heat_j_per_k", "J/K", 2.5e7, 1e4, 1e10, "block walls and slab, as far as a day reaches (ours)")
ROOM_MASONRY_W_PER_K = _row("room_masonry_w_per_k", "W/K", 500.0, 0.0, 1e5, "room air to masonry, 4 W/m2 K (CP)")
ROOM_DIRECT_W_PER_K = _row("room_direct_w_per_k", "W/K", 50.0, 0.0, 1e4, "room air to outdoors: windows, doors, light roof (ours)")
MASONRY_AMBIENT_W_PER_K = _row("masonry_ambient_w_per_k", "W/K", 60.0, 0.0, 1e4, "masonry to outdoors (ours)")
MASONRY_GROUND_W_PER_K = _row("masonry_ground_w_per_k", "W/K", 15.0, 0.0, 1e4, "masonry to the ground (ours)")
ROOM_VENTILATION_PER_H = _row("room_ventilation_per_h", "1/h", 0.4, 0.0, 20.0, "live; air changes with outdoors (CP 0.3 to 1)")
BACKUP_SET_C = _row("backup_set_c", "C", 8.0, -20.0, 35.0, "live; set point of the backup heating (ours)")
BACKUP_W = _row("backup_w", "W", 0.0, 0.0, 1e5, "its full power; 0 is none (ours)")
BACKUP_EFFICIENCY = _row("backup_efficiency", "1", 0.9, 0.1, 5.0, "heat against fuel or current (CP)")

# Sensors, place, numerics.
AIR_COLLECTOR_SENSOR_S = _row("air_collector_sensor_s", "s", 40.0, 0.0, 3600.0, "lag of air_collector, a bare element in air (CP)")
ROOM_SENSOR_S = _row("room_sensor_s", "s", 600.0, 0.0, 3600.0, "lag of room, in a case on the wall (CP)")
AIR_ALTITUDE_M = _row("air_altitude_m", "m", 270.0, -400.0, 4500.0, "above sea level (as the plant's)")
AIR_STEP_S = _row("air_step_s", "s", 10.0, 0.05, 60.0, "longest inner step; shorter ones follow from capacities")

PARAMETER_COUNT = len(TABLE)

# Derived values, in the same array after the table.
(
    AIR_KG_PER_M3,
    TEST_KG_PER_S,
    TEST_PA,  # resistances at the test's flow, filter clean, and the fall of the fan's pressure
    LAMINAR_SHARE,  # the filter's part of it
    FREE_KG_PER_S,
    ABSORBER_LIGHT,
    ABSORBER_A1,
    ABSORBER_A2,
    ABSORBER_NODE_J_PER_K,
    DUCT_W_PER_K,
    VENTILATION_W_PER_K_H,  # for one air change an hour
    LONGEST_STEP_S,
) = range(PARAMETER_COUNT, PARAMETER_COUNT + 12)
VALUES_COUNT = PARAMETER_COUNT + 12

# A stagnating absorber is at most this much warmer than the air (ours, for the step only).
HOTTEST_K = 250.0
# A film factor below this is a mistake in the curve or the film (ours).
LEAST_FACTOR = 0.2
# Part of a node's difference that a step may take away (ours).
STEP_SHARE = 0.5


def air_values(overrides):
    """Return the air channel's values, checked one by one and together, with all derived values.

    Args: `overrides` (dict of parameter name to number; names left out keep their default).
    Returns: float64 array of `VALUES_COUNT`. Raises: ValueError with one line that says which
    value, what it was and what is allowed. Source: table above; equations in the components.
    """
    return with_derived(filled(TABLE, overrides))


def with_derived(numbers):
    """Return the array of `VALUES_COUNT` for the numbers of the table. Raises: as air_values."""
    values = np.zeros(VALUES_COUNT)
    values[:PARAMETER_COUNT] = numbers
    if values[AIR_FILM_REST_W_PER_M2_K] > values[AIR_FILM_W_PER_M2_K]:
        _refuse(values, AIR_FILM_REST_W_PER_M2_K, "allowed up to air_film_w_per_m2_k")
    _derive(values)
    return values


def _refuse(values, index, why):
    raise ValueError(f"plant value {TABLE[index].name} = {values[index]:g}: {why}")


def plane(values):
    """Slope (deg), bearing (deg) and b0 of the air collector. Args: `values`. Source: table."""
    return values[[AIR_COLLECTOR_SLOPE_DEG, AIR_COLLECTOR_AZIMUTH_DEG, AIR_COLLECTOR_B0]]


def plane_values(values):
    """Return the plant values (dict) that give weather.table the air collector's plane.

    Args: `values` (from air_values). Source: ours; a drive table holds one plane.
    """
    return {
        "collector_slope_deg": values[AIR_COLLECTOR_SLOPE_DEG],
        "collector_azimuth_deg": values[AIR_COLLECTOR_AZIMUTH_DEG],
        "collector_b0": values[AIR_COLLECTOR_B0],
    }


def _derive(values):
    density = values[AIR_KG_PER_M3] = density_kg_per_m3(REFERENCE_C, values[AIR_ALTITUDE_M])
    area_m2 = values[AIR_COLLECTOR_AREA_M2]
    values[TEST_KG_PER_S] = values[AIR_TEST_KG_PER_H_M2] * area_m2 / 3600.0
    values[FREE_KG_PER_S] = values[AIR_FAN_FREE_M3_PER_H] / 3600.0 * density
    _derive_resistance(values, density)
    curve = values[[AIR_COLLECTOR_ETA0, AIR_COLLECTOR_A1_W_PER_M2_K, AIR_COLLECTOR_A2_W_PER_M2_K2]]
    factor = film_factor(*curve, values[AIR_FILM_W_PER_M2_K])
    if factor < LEAST_FACTOR:
        _refuse(values, AIR_FILM_W_PER_M2_K, "too little for the loss that the curve has")
    values[ABSORBER_LIGHT : ABSORBER_A2 + 1] = curve / factor
    values[ABSORBER_NODE_J_PER_K] = values[AIR_COLLECTOR_HEAT_J_PER_M2_K] * area_m2 / ABSORBER_NODES
    values[DUCT_W_PER_K] = values[AIR_DUCT_LOSS_W_PER_M_K] * values[AIR_DUCT_OUTDOOR_M]
    values[VENTILATION_W_PER_K_H] = values[ROOM_VOLUME_M3] * density * AIR_J_PER_KG_K / 3600.0
    values[LONGEST_STEP_S] = _longest_step_s(values)


def _derive_resistance(values, density):
    flow = values[TEST_KG_PER_S]
    duct = duct_pa(flow / density, *values[[AIR_DUCT_BORE_M, AIR_DUCT_M, AIR_DUCT_FITTINGS]], density)
    fall = values[AIR_FAN_SHUT_PA] * (flow / values[FREE_KG_PER_S]) ** 2
    values[TEST_PA] = duct + fall + values[AIR_COLLECTOR_DROP_PA] + values[AIR_FILTER_PA]
    values[LAMINAR_SHARE] = values[AIR_FILTER_PA] / values[TEST_PA]


def _longest_step_s(values):
    share = max(values[FREE_KG_PER_S] / values[TEST_KG_PER_S], 1.0)
    film = values[AIR_FILM_W_PER_M2_K] * share ** values[AIR_FILM_EXPONENT]
    absorber = values[ABSORBER_A1] + 2.0 * values[ABSORBER_A2] * HOTTEST_K + film
    outdoors = values[ROOM_DIRECT_W_PER_K] + values[VENTILATION_W_PER_K_H] * TABLE[ROOM_VENTILATION_PER_H].high
    inner, passing = values[ROOM_MASONRY_W_PER_K], values[FREE_KG_PER_S] * AIR_J_PER_KG_K
    # The backup's full power over its band of a kelvin is a conductance too.
    room = outdoors + inner + passing + values[BACKUP_W]
    masonry = inner + values[MASONRY_AMBIENT_W_PER_K] + values[MASONRY_GROUND_W_PER_K]
    longest = (
        values[AIR_COLLECTOR_HEAT_J_PER_M2_K] / absorber,
        values[ROOM_HEAT_J_PER_K] / room,
        values[MASONRY_HEAT_J_PER_K] / max(masonry, 1e-9),
    )
    return min(values[AIR_STEP_S], STEP_SHARE * min(longest))
