"""The fault budget: which faults may come together, and which invariants they excuse.

1. An episode has one to three faults (`draw_faults.AT_ONCE`). Each is transient, for a time within
   its row's range, or persistent to the end of the safety phase. The recovery phase has none.
2. `BEYOND` names pairs that no controller with these sensors survives on its own; they are not
   drawn together. In each, a mechanical device stays in charge: the manual-reset cut-out on tank
   pump and dump supply, relief valves, expansion vessels. Faults of the plant are shown by the
   reference rule on the truth, faults of sensors by the same rule on the readings.
3. `UNPROTECTED` names single faults against which one invariant does not hold, because the station
   lacks a sensor or switch. They are drawn and every other invariant is judged. That one is excused
   during the fault and shortly after.
4. A sensor that reads low by a bounded amount without showing it (`sensor_offset`, `sensor_drift`,
   `sensor_far_off`, `sensor_strapped`, `pocket_out`, `pocket_slipped`) hides that amount and no
   more: the checkers add it to their limit.
5. Collector and tank_low swapped in the wiring is found within ten minutes of pumping at night.
   Tank_low and tank_high swapped raises the alarm as soon as the tank is stratified by 5 K; the
   limits use the hotter of the two anyway.
6. What the judges over days leave out (`needs_rest`, `blind_to_steam`, `blind_to_frost`,
   `nameable`, `SWITCHED`): excuses.py carries it out, and what the design forbids (`forbidden`).
"""

from __future__ import annotations

from collections.abc import Callable

from twinloop.control import settings as cfg
from twinloop.control import state as s

from ..thermal import parameters as p
from .block import ADDED, SWAPPED
from .faults import EVERY_SENSOR, PEOPLE, POWER, SENSOR, TANK_SENSORS, Fault

# A plate stays cold, and a tank hot, for a while after a fault that nobody could prevent.
AFTERMATH_S = 1800.0
# Water as cold as the shipped exchanger_frost.
ICE_COLD_C = 4.0

# Readings that may be wrong by any amount, and by a part of what is there, or 15 K, at most. Small
# offsets, noise and slow pockets are neither: the station has to live with them.
UNBOUNDED = {"sensor_stuck", "pocket_out", "swapped_tank", "swapped_collector_tank", "swapped_others"}
LIES = {"sensor_far_off", "sensor_strapped", "sensor_drift", *UNBOUNDED}
LOST = {
    "bus_silent",
    "sensor_open",
    "sensor_short",
    "sensor_silent",
    "sensor_power_on",
    "sensor_all_zero",
    "sensor_crc",
    "sensor_spikes",
}
# What adds kelvins to a reading for as long as it lasts: one beyond a limit is as good as true.
READS_HIGH = {"sensor_offset", "sensor_far_off", "sensor_drift"}
NOT_HOME = {"valve_relay_welded", "valve_stuck", "valve_leaks"}
HELD_OPEN = {"collector_relay_welded", "tank_relay_welded", "tank_check_leaks", *NOT_HOME}


def hits(fault: Fault) -> tuple[str, ...]:
    if fault.name == "swapped_tank":
        return TANK_SENSORS
    if fault.name == "bus_silent":
        return EVERY_SENSOR[s.TANK_LOW :]
    if fault.name == "swapped_others":
        return (fault.target, EVERY_SENSOR[int(fault.size)])
    if fault.name == "swapped_collector_tank":
        return ("collector", "tank_low")
    return (fault.target,)


def on_tank(fault: Fault, names: set[str]) -> bool:
    """Whether a fault has one of these names and hits a tank sensor."""
    return fault.name in names and any(sensor in TANK_SENSORS for sensor in hits(fault))


def both_tank_sensors_wrong(one: Fault, other: Fault, case) -> bool:
    """Whether one tank sensor may read anything while the other lies or is lost."""
    return on_tank(one, UNBOUNDED) and on_tank(other, LIES | LOST)


def both_glycol_sensors_wrong(one: Fault, other: Fault, case) -> bool:
    """Whether the collector's sensor lies while loop_supply lies or is lost."""
    lies = one.name in LIES and "collector" in hits(one)
    return lies and other.name in LIES | LOST and "loop_supply" in hits(other)


def two_held_open(one: Fault, other: Fault, case) -> bool:
    """Whether both faults hold a path open between the tank and sun or night."""
    return one.name in HELD_OPEN and other.name in HELD_OPEN


def nobody_home_in_frost(one: Fault, other: Fault, case) -> bool:
    """Whether the tank pump has no power while frosty glycol gets into the exchanger."""
    dark = {"power_cut", "reset_storm", "watchdog_reset", "power_flickers", "supply_sags", "tank_relay_off", "tank_pump_dead"}
    return leads_through(case) and one.name in dark and other.name in {"roof_check_leaks", "collector_relay_welded"}


# Pairs that are not drawn together: a test of (one, other, case), and why. Each is shown by a run
# in tests/host_sim/storm/test_budget.py in which the reference rule fails as well.
BEYOND: tuple[tuple[Callable, str], ...] = (
    (both_tank_sensors_wrong, "only the other tank sensor contradicts one that lies; the cut-out on the tank pump stays in charge"),
    (
        both_glycol_sensors_wrong,
        "only loop_supply contradicts a collector sensor that lies; relief valve and cut-out stay in charge",
    ),
    (two_held_open, "two actuators hold the same path open and no relay can close it; cut-out and relief valves stay in charge"),
    (nobody_home_in_frost, "only the tank pump protects the exchanger from frost; without the pump or its power nothing does"),
)


def leads_through(case) -> bool:
    """Whether all glycol passes the exchanger."""
    return case.topology() != "bypass"


def ice_valve_not_home(fault: Fault, case) -> bool:
    """Whether the bypass depends on a valve that is not where it should be."""
    return fault.name in NOT_HOME and case.topology() == "bypass" and not (fault.name == "valve_stuck" and fault.size == 0.0)


def ice_welded(fault: Fault, case) -> bool:
    """Whether the collector pump cannot be stopped and there is no bypass."""
    return fault.name == "collector_relay_welded" and leads_through(case)


def ice_unseen(fault: Fault, case) -> bool:
    """Whether glycol circulates at night through an exchanger without a sensor."""
    return fault.name == "roof_check_leaks" and leads_through(case) and not case.setting(cfg.EXCHANGER_FITTED)


def ice_cold_main(fault: Fault, case) -> bool:
    """Whether glycol circulates at night through an exchanger that only ice-cold water can warm."""
    values = p.plant_values(case.plant)
    coldest_c = values[p.COLD_MAIN_MEAN_C] - values[p.COLD_MAIN_SWING_K]
    return fault.name == "roof_check_leaks" and leads_through(case) and coldest_c < ICE_COLD_C


def tank_high_stuck_unseen(fault: Fault, case) -> bool:
    """Whether tank_high sticks without loop_supply, which would show the heat passing it."""
    return fault.name == "sensor_stuck" and fault.target == "tank_high" and not case.setting(cfg.LOOP_SUPPLY_FITTED)


def hot_unseen(fault: Fault, case) -> bool:
    """Whether the collector's sensor lies without loop_supply, the only other sight of its heat."""
    return fault.name in LIES and "collector" in hits(fault) and not case.setting(cfg.LOOP_SUPPLY_FITTED)


def cooled_unseen(fault: Fault, case) -> bool:
    """Whether a radiator in series cools the glycol, and no sensor sees it enter the exchanger."""
    return radiator_shares(fault, case) and not case.setting(cfg.EXCHANGER_FITTED)


def cool_elsewhere(fault: Fault, case) -> bool:
    """Whether the collector's sensor reads the air, or another place that the sun does not warm.

    Standing glycol tells no other sensor. A trial run at noon would, but through a collector that
    may be full of steam by then; and no pump runs beside a collector that may be above its limit.
    """
    return "collector" in hits(fault) and fault.name in {"pocket_out", "swapped_others"}


def heat_unseen(fault: Fault, case) -> bool:
    """Whether charging brings nothing, or less, and no sensor behind the exchanger shows it."""
    valve = {"valve_stuck", "valve_relay_off", "valve_leaks"}
    brings_less = {"tank_pump_dead", "tank_relay_off", "tank_flow_low", "exchanger_fouled", *valve}
    return fault.name in brings_less and not case.setting(cfg.LOOP_RETURN_FITTED) and not case.setting(cfg.EXCHANGER_FITTED)


def radiator_shares(fault: Fault, case) -> bool:
    """Whether the valve leaves a radiator in series in the way, which takes a part of the heat.

    A tank colder than the air gets enough of it to look like one whose water flows fast. In cold
    air a leak takes half of it, and what still arrives is cooled well.
    """
    away = fault.name in {"valve_relay_off", "valve_leaks"} or fault.name == "valve_stuck" and fault.size < 1.0
    return away and case.topology() == "series"


def valve_shares(fault: Fault, case) -> bool:
    """Whether a crossover valve sticks on its way: a part of the glycol passes by the exchanger.

    The rest brings less heat with as good a face: the glycol leaves even colder.
    """
    half = fault.name == "valve_stuck" and 0.0 < fault.size < 1.0
    return half and case.topology() == "bypass" and case.setting(cfg.DUMP_CROSSOVER) == cfg.OPEN


def full_unseen(fault: Fault, case) -> bool:
    """Whether a tank sensor reads high: a tank that looks full is not heated, which would show it.

    A bottom that reads no hotter than the top looks like a mixed tank.
    """
    return fault.row.kind == ADDED and fault.target in TANK_SENSORS and fault.size > 0.0


# The sky keeps a dark collector this much colder than the air, or not, and two sensors err.
AIR_LOW_K = 5.0


def air_low_unseen(fault: Fault, case) -> bool:
    """Whether the air reads a little low, and all glycol passes plates without a sensor.

    Near frost no tank is warm enough to dare it, and no collector contradicts the air by so little.
    """
    low = fault.row.kind == ADDED and fault.target == "outdoor" and -AIR_LOW_K <= fault.size < 0.0
    return low and leads_through(case) and not case.setting(cfg.EXCHANGER_FITTED)


def room_unseen(fault: Fault, case) -> bool:
    """Whether the room's sensor, the only one there, may read anything."""
    return fault.name in UNBOUNDED and "room" in hits(fault)


def swap_unseen(fault: Fault, case) -> bool:
    """Whether collector and tank_low are exchanged without a sensor that contradicts them."""
    swapped = fault.row.kind == SWAPPED and {"collector", "tank_low"} <= set(hits(fault))
    return swapped and not (case.setting(cfg.LOOP_SUPPLY_FITTED) and case.setting(cfg.OUTDOOR_FITTED))


def taken_unseen(fault: Fault, case) -> bool:
    """Whether tank_low shows another place, and no sensor sees glycol leave hotter than it arrives.

    Room and air look like a cold bottom. Hours of charging that do not warm it contradict a room,
    but one that falls off in the evening costs the heat of these hours.
    """
    elsewhere = "tank_low" in hits(fault) and fault.name in {"pocket_out", "swapped_others"}
    return elsewhere and not case.setting(cfg.LOOP_RETURN_FITTED) and not case.setting(cfg.EXCHANGER_FITTED)


# Checker, a test of (fault, case), and why that invariant is excused then; shown as the pairs are.
UNPROTECTED: tuple[tuple[str, Callable, str], ...] = (
    ("exchanger_ice", ice_valve_not_home, "a dump valve that is not where it was told to be: not protected without end switches"),
    ("exchanger_ice", ice_welded, "a welded collector pump without a bypass: not protected without a second relay"),
    ("exchanger_ice", ice_unseen, "night circulation through a leaking check valve: not protected without the exchanger sensor"),
    ("exchanger_ice", ice_cold_main, "the same where the main brings water below 4 C: a tank pump cannot warm plates with it"),
    ("tank_node", tank_high_stuck_unseen, "tank_high stuck at its value: not protected without loop_supply"),
    ("tank_inlet", hot_unseen, "a collector that reads low: water hotter than 95 C is not seen coming without loop_supply"),
    ("silence", cool_elsewhere, "a collector sensor that fell off reads like a day without sun"),
    ("silence", heat_unseen, "heat that does not reach the tank: not noticed without loop_return and exchanger"),
    ("silence", radiator_shares, "the part of the heat that a radiator in series takes: plates beside a cold tank do not show it"),
    ("silence", valve_shares, "the part of the flow that a crossover valve leads past the exchanger: the rest is cooled well"),
    ("silence", full_unseen, "a tank sensor that reads high shows a full tank: only glycol that heats it contradicts it"),
    (
        "silence",
        air_low_unseen,
        "air that reads a little low looks like frost: not noticed without exchanger where there is no bypass",
    ),
    ("carried_out", taken_unseen, "a tank_low that shows another place: glycol that it calls warm may be colder than the tank"),
    ("carried_out", swap_unseen, "collector and tank_low exchanged: not noticed without loop_supply and outdoor"),
    ("carried_out", hot_unseen, "a collector that reads high charges by night: not noticed without loop_supply"),
    ("room_over", room_unseen, "a room sensor that stays at its value, or shows another place: no other knows how warm it is"),
    ("carried_out", cooled_unseen, "glycol that a radiator in series cools below the tank: not noticed without exchanger"),
)


# Sensor faults that go on telling, roughly or most of the time, what is there.
BOUNDED = {"sensor_offset", "sensor_far_off", "sensor_strapped", "sensor_drift", "pocket_slipped", *LOST}
UNSTEADY = {"sensor_noise", "sensor_spikes"}
# What people and plant do without anybody having to stop.
HARMLESS = {
    "long_absence",
    "tank_emptied",
    "settings_changed",
    "radiator_covered",
    "tank_check_leaks",
    "exchanger_fouled",
    "mixing_valve_off",
}


# Start upon start: the station rests for hours.
RESTARTS = {"reset_storm", "power_flickers", "supply_sags"}


def needs_rest(fault: Fault, case) -> bool:
    """Whether a fault forbids to collect heat: no proof that it is safe, or that there is any."""
    if fault.row.group != SENSOR:
        return fault.name not in HARMLESS
    if fault.name in UNSTEADY or set(hits(fault)) <= {"tap", "loop_return"}:
        return False
    if fault.target == "outdoor" and leads_through(case) or fault.target == "exchanger" and fault.name not in LOST:
        return True
    return fault.target not in ("loop_supply", "outdoor", "exchanger") or fault.name not in BOUNDED


def blocks(fault: Fault, case) -> bool:
    """Whether a valve lets nothing through to the radiator.

    It sticks at the exchanger, or on its way, where nothing passes.
    """
    if fault.name == "valve_relay_welded":
        return True
    on_its_way = 0.0 < fault.size < 1.0 and case.setting(cfg.DUMP_CROSSOVER) == cfg.CLOSED
    return fault.name == "valve_stuck" and (fault.size == 1.0 or on_its_way)


def blind_to_steam(fault: Fault, case) -> bool:
    """Whether a fault takes away the only sight of the collector, all flow, or the control.

    Or a tank sensor shows another place: read as a tank over its limit, glycol may not move at all.
    """
    if blocks(fault, case):
        return True
    if fault.name in RESTARTS or fault.name == "swapped_others" and on_tank(fault, {fault.name}):
        return True
    unseen = {"sensor_stuck", "pocket_out", *(LOST - {"sensor_spikes"})}
    return "collector" in hits(fault) and (fault.name in unseen or fault.row.kind == SWAPPED)


# With less margin than this above ice, no collector says at night how cold a radiator is by day.
NEAR_FROST_C = 16.0


def blind_to_frost(fault: Fault, case) -> bool:
    """Whether a fault takes away the air, which may have filled a radiator in series with frost."""
    return case.topology() == "series" and "outdoor" in hits(fault) and fault.name in LOST | LIES


# What changes the use of hot water, and with it the heat that a station can bring.
USE = {"mixing_valve_off"}
# Somebody, or the supply, switches the relays.
SWITCHED = {"hands", "purged"}


def nameable(fault: Fault) -> bool:
    """Whether a fault is one of the station, which has to speak about it."""
    return fault.row.group not in (PEOPLE, POWER) and fault.name not in USE


def beyond(faults: tuple[Fault, ...], case) -> str:
    """Why this combination is not drawn; empty when it may be."""
    for one in faults:
        for other in faults:
            if one is other:
                continue
            if one.name == other.name and one.target == other.target:
                return "the same fault twice"
            for test, why in BEYOND:
                if test(one, other, case):
                    return why
    return ""
