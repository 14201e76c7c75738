"""Sensors: they answer, agree with a handheld thermometer, and are lost and restored in time."""

from __future__ import annotations

from contextlib import suppress
from itertools import cycle

from twinloop.control import state as s
from twinloop.control.readings import FITTED_BY

from ..virtual.files.slots import FAULT_CRC, FAULT_GONE, FAULT_NONE, FAULT_OPEN, FAULT_POWER
from .frame import SOMEBODY, VIRTUAL, Check, NotFittedError, Station

SECOND_MS = 1000
# A sensor is trusted again at the third consecutive value that agrees.
BELIEVED_AFTER_S = 3.0
# What a driver may report. source: state.py
DRIVER_CAUSES = (
    s.CAUSE_OPEN,
    s.CAUSE_SHORT,
    s.CAUSE_SILENT,
    s.CAUSE_CRC,
    s.CAUSE_POWER_ON,
    s.CAUSE_ALL_ZERO,
    s.CAUSE_CHIP,
)
# Two good thermometers in the same glass of water agree within this (common practice).
HANDHELD_K = 1.0


def measure_collector_lost(bench):
    station = Station.charging(bench)
    station.cause["collector"] = s.CAUSE_OPEN
    passed = station.until(lambda: not any(station.commands), "every output off", SECOND_MS)
    age_s = station.settings["collector_age"] / 1000.0
    return passed / 1000.0, 0.0, age_s + 1.0, "from the broken wire to every output off"


def measure_collector_restored(bench):
    station = Station.charging(bench)
    station.cause["collector"] = s.CAUSE_OPEN
    station.until(lambda: station.duty == s.FAULT_STOP, "fault_stop", SECOND_MS)
    station.cause["collector"] = s.CAUSE_NONE
    passed = station.until(lambda: station.duty != s.FAULT_STOP, "the end of fault_stop", SECOND_MS)
    return passed / 1000.0, 1.0, BELIEVED_AFTER_S, "from the repaired wire to the end of fault_stop"


def measure_tank_lost(bench):
    station = Station.charging(bench)
    station.cause["tank_low"] = station.cause["tank_high"] = s.CAUSE_SILENT
    passed = station.until(lambda: station.duty != s.CHARGING and not station.pumping(), "the end of charging", SECOND_MS)
    age_s = station.settings["tank_age"] / 1000.0
    return passed / 1000.0, 0.0, age_s + 1.0, "from two silent tank sensors to the end of charging"


def silent_sensors(bench) -> list[str]:
    """The board's fitted sensors that have no value now."""
    facts = bench.client.status()
    return [name for name, status in zip(s.SENSOR_NAMES, facts["status"], strict=True) if status == s.LOST]


def measure_answer(bench):
    bench.client.release()
    # After a cold start no value is trusted until it agrees with its neighbours.
    with suppress(TimeoutError):
        bench.wait(lambda: not silent_sensors(bench), bench.client.facts["period_ms"] / 100.0, "every sensor")
    silent = silent_sensors(bench)
    if len(silent) == sum(status != s.ABSENT for status in bench.client.status()["status"]):
        raise NotFittedError("needs connected sensors: none answers")
    return len(silent), 0, 0, "fitted sensors without a value" + (": " + ", ".join(silent) if silent else "")


def measure_handheld(bench):
    bench.client.release()
    differences = {}
    for sensor, name in enumerate(s.SENSOR_NAMES):
        facts = bench.client.status()
        if facts["status"][sensor] > s.HELD:
            continue
        told = bench.operator.number(
            f"{name} reads {facts['mc'][sensor] / 1000:.1f} C. What does the handheld thermometer beside it read, in C?"
        )
        if told is not None:
            differences[name] = bench.client.status()["mc"][sensor] / 1000.0 - told
    if not differences:
        raise NotFittedError("needs a handheld thermometer at one sensor at least")
    worst = max(differences, key=lambda name: abs(differences[name]))
    return differences[worst], -HANDHELD_K, HANDHELD_K, f"{worst} less handheld, the largest of {len(differences)} differences"


def measure_causes(bench):
    wrong = []
    for cause in DRIVER_CAUSES:
        station = Station(bench)
        for _ in range(4):
            station.step(SECOND_MS)
        for name in s.SENSOR_NAMES:
            station.cause[name] = cause
        station.step(SECOND_MS)
        told = bench.client.status()["cause"]
        station.step(station.settings["tank_age"])
        station.step(SECOND_MS)
        status = bench.client.status()["status"]
        fitted = [sensor for sensor in range(s.SENSORS) if status[sensor] != s.ABSENT]
        wrong += [s.SENSOR_NAMES[sensor] for sensor in fitted if told[sensor] != cause or status[sensor] != s.LOST]
        if any(station.commands[output] for output in s.MOVING):
            wrong.append("a relay is on")
    detail = f"of {len(DRIVER_CAUSES) * s.SENSORS} injected faults not reported by their cause or not lost in time"
    return len(wrong), 0, 0, " ".join([detail, *wrong[:3]])


def quiet_sensors(bench, fitted: list[int]) -> list[str]:
    """Those of these sensors whose reading has no cause now."""
    causes = bench.client.status()["cause"]
    return [s.SENSOR_NAMES[sensor] for sensor in fitted if not causes[sensor]]


def measure_chips(bench):
    named = {s.COLLECTOR: FAULT_OPEN, s.LOOP_SUPPLY: FAULT_POWER}
    others = cycle((FAULT_GONE, FAULT_CRC))
    bench.client.release()
    fitted = [sensor for sensor, by in enumerate(FITTED_BY) if by == s.ALWAYS or bench.values[by]]
    for sensor in fitted:
        bench.board.set_fault(sensor, named[sensor] if sensor in named else next(others))
    try:
        bench.wait(lambda: not quiet_sensors(bench, fitted), 6.0, "a cause for every sensor")
    except TimeoutError:
        quiet = quiet_sensors(bench, fitted)
        return len(quiet), 0, 0, "faults in chips and cables not noticed: " + ", ".join(quiet)
    finally:
        for sensor in fitted:
            bench.board.set_fault(sensor, FAULT_NONE)
    bench.wait(lambda: not silent_sensors(bench), 20.0, "every sensor to recover from its fault")
    return 0, 0, 0, f"of {len(fitted)} faults in chips and cables not noticed; all sensors have recovered"


CHECKS = (
    Check("sensors-answer", "every fitted sensor of the board has a value", "sensors", 2, measure_answer),
    Check("handheld", "each sensor agrees with a handheld thermometer", "K", 60, measure_handheld, SOMEBODY),
    Check("injected-faults", "every fault that a driver can report, in every sensor", "wrong", 1, measure_causes),
    Check("chip-faults", "faults in the chip or cable of every sensor", "wrong", 10, measure_chips, VIRTUAL),
    Check("collector-lost", "the collector sensor opens while charging", "s", 1, measure_collector_lost),
    Check("collector-restored", "the collector sensor recovers", "s", 1, measure_collector_restored),
    Check("tank-sensors-lost", "both tank sensors fall silent while charging", "s", 1, measure_tank_lost),
)
