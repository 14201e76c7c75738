"""What may break, how, and how often: one named row a fault, and the budget.

The budget
----------
1. An episode has one to three faults (`AT_ONCE`), each either transient, for a time within its row's range, or persistent to the
   end of the safety phase. In the recovery phase there is none.
2. `BEYOND` names pairs that a controller with these sensors cannot survive by itself; they are not drawn together. In each of them
   a mechanical device stays in charge: manual-reset cut-out on tank pump and dump supply, relief valves, expansion vessels.
3. `UNPROTECTED` names single faults against which an invariant does not hold without a sensor or switch that the station does not
   have. They are drawn, every other invariant is judged, and that one is not while the fault lasts and shortly after.
4. A sensor that reads low by a bounded amount and shows it nowhere (`sensor_offset`, `sensor_drift`, `pocket_slipped`) hides just
   that amount: the checkers allow it on top of their limit, no more.
5. Collector and tank_low exchanged since the wires were joined is found within ten minutes of pumping at night. Tank_low and
   tank_high exchanged is shown by the alarm as soon as the tank is stratified by 5 K; the limits look at the hotter one anyway.
"""

from __future__ import annotations

from collections.abc import Callable

from twinloop.control import settings as cfg
from twinloop.control import state as s

from .faults import EVERY_SENSOR, TANK_SENSORS, Fault

# A plate stays cold, and a tank hot, for a while after a fault that nobody could do anything about.
AFTERMATH_S = 1800.0

HIDDEN = {
    "sensor_stuck",
    "sensor_offset",
    "sensor_drift",
    "pocket_slipped",
    "swapped_tank",
    "swapped_collector_tank",
    "sensor_noise",
}
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
NOT_HOME = {"valve_relay_welded", "valve_stuck", "valve_leaks"}
HELD_OPEN = {"collector_relay_welded", "tank_relay_welded", "tank_check_leaks", *NOT_HOME}


def hits(fault: Fault) -> tuple[str, ...]:
    """The sensors of a fault."""
    if fault.name == "swapped_tank":
        return TANK_SENSORS
    if fault.name == "bus_silent":
        return EVERY_SENSOR[s.TANK_LOW :]
    if fault.name == "swapped_collector_tank":
        return ("collector", "tank_low")
    return (fault.target,)


def on_tank(fault: Fault, names: set[str]) -> bool:
    """Whether a fault is one of these and hits a tank sensor."""
    return fault.name in names and any(sensor in TANK_SENSORS for sensor in hits(fault))


def both_tank_sensors_wrong(one: Fault, other: Fault, case) -> bool:
    """One tank sensor lies, and the other lies too or is lost."""
    return on_tank(one, HIDDEN) and on_tank(other, HIDDEN | LOST)


def both_glycol_sensors_wrong(one: Fault, other: Fault, case) -> bool:
    """The collector's sensor lies, and loop_supply lies too or is lost."""
    lies = one.name in HIDDEN and "collector" in hits(one)
    return lies and other.name in HIDDEN | LOST and "loop_supply" in hits(other)


def two_held_open(one: Fault, other: Fault, case) -> bool:
    """Two faults that both hold a way open between sun, or night, and tank."""
    return one.name in HELD_OPEN and other.name in HELD_OPEN


def held_open_and_lie(one: Fault, other: Fault, case) -> bool:
    """A way is held open, and a sensor that could tell of it lies or is lost."""
    told = one.name in HIDDEN | LOST and any(name in ("tank_low", "tank_high", "exchanger", "collector") for name in hits(one))
    return told and other.name in HELD_OPEN


def nobody_home_in_frost(one: Fault, other: Fault, case) -> bool:
    """No power for the tank pump while buoyancy brings frosty glycol into the exchanger."""
    dark = {"power_cut", "reset_storm", "watchdog_reset", "tank_relay_off", "tank_pump_dead"}
    return one.name in dark and other.name in {"roof_check_leaks", "collector_relay_welded"}


# Pairs that are not drawn together: the test on (one, other, case), and why.
BEYOND: tuple[tuple[Callable, str], ...] = (
    (
        both_tank_sensors_wrong,
        "a tank sensor that lies is contradicted by the other one only; the cut-out on the tank pump stays in charge",
    ),
    (
        both_glycol_sensors_wrong,
        "a collector sensor that lies is contradicted by loop_supply only; relief valve and cut-out stay in charge",
    ),
    (
        two_held_open,
        "two actuators that hold the same way open leave no relay to shut it; cut-out and relief valves stay in charge",
    ),
    (held_open_and_lie, "an actuator that holds a way open is known from temperatures only; the cut-out stays in charge"),
    (
        nobody_home_in_frost,
        "frost in the exchanger is fought with the tank pump only; with the pump or its power gone nothing is left",
    ),
)


def leads_through(case) -> bool:
    """Whether glycol meets the exchanger on its only way."""
    return case.topology() != "bypass"


def ice_valve_not_home(fault: Fault, case) -> bool:
    """The way round the exchanger leads through it."""
    return fault.name in NOT_HOME and case.topology() == "bypass" and not (fault.name == "valve_stuck" and fault.size == 0.0)


def ice_welded(fault: Fault, case) -> bool:
    """A collector pump that nobody can stop, and no way round."""
    return fault.name == "collector_relay_welded" and leads_through(case)


def ice_unseen(fault: Fault, case) -> bool:
    """Night circulation through the exchanger without a sensor on its plates."""
    return fault.name == "roof_check_leaks" and leads_through(case) and not case.setting(cfg.EXCHANGER_FITTED)


def tank_high_stuck_unseen(fault: Fault, case) -> bool:
    """A stuck tank_high is told from the heat that passes it, which needs loop_supply."""
    return fault.name == "sensor_stuck" and fault.target == "tank_high" and not case.setting(cfg.LOOP_SUPPLY_FITTED)


# Checker, the test on (fault, case), and why that invariant is not judged then.
UNPROTECTED: tuple[tuple[str, Callable, str], ...] = (
    (
        "exchanger_ice",
        ice_valve_not_home,
        "a dump valve that is not where it was told to be: not protected without end switches on it",
    ),
    (
        "exchanger_ice",
        ice_welded,
        "a welded collector pump without a way round the exchanger: not protected without a second relay",
    ),
    ("exchanger_ice", ice_unseen, "night circulation through a leaking check valve: not protected without the exchanger sensor"),
    ("tank_node", tank_high_stuck_unseen, "tank_high stuck at its value: not protected without loop_supply"),
)


def beyond(faults: tuple[Fault, ...], case) -> str:
    """Why this combination is not drawn, empty when it is."""
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
