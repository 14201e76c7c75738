"""Sensors that go and come back, injected as a driver would report them."""

from __future__ import annotations

from twinloop.control import state as s

from .frame import Check, Station

SECOND_MS = 1000
# The readings believe a sensor again at the third value in a row that agrees.
BELIEVED_AFTER_S = 3.0


def measure_collector_lost(bench):
    """Charging, and the collector's wire breaks: how long the pumps go on."""
    station = Station(bench)
    station.settle()
    station.charge()
    station.cause["collector"] = s.CAUSE_OPEN
    passed = station.until(lambda: not any(station.commands), "every output off", SECOND_MS)
    age_s = station.settings["collector_age"] / 1000.0
    return passed / 1000.0, 0.0, age_s + 1.0, "from the broken wire to every output off"


def measure_collector_restored(bench):
    """The wire is mended: how long until the station works again."""
    station = Station(bench)
    station.settle()
    station.charge()
    station.cause["collector"] = s.CAUSE_OPEN
    station.until(lambda: station.duty == s.FAULT_STOP, "fault_stop", SECOND_MS)
    station.cause["collector"] = s.CAUSE_NONE
    passed = station.until(lambda: station.duty != s.FAULT_STOP, "the end of fault_stop", SECOND_MS)
    return passed / 1000.0, 1.0, BELIEVED_AFTER_S, "from the mended wire to the end of fault_stop"


def measure_tank_lost(bench):
    """Charging, and both tank sensors go: how long heat is still brought in."""
    station = Station(bench)
    station.settle()
    station.charge()
    station.cause["tank_low"] = station.cause["tank_high"] = s.CAUSE_SILENT
    passed = station.until(lambda: station.duty != s.CHARGING and not station.pumping(), "the end of charging", SECOND_MS)
    age_s = station.settings["tank_age"] / 1000.0
    return passed / 1000.0, 0.0, age_s + 1.0, "from two silent tank sensors to the end of charging"


CHECKS = (
    Check("collector-lost", "charging, and the collector sensor opens", "s", 1, measure_collector_lost),
    Check("collector-restored", "the collector sensor comes back", "s", 1, measure_collector_restored),
    Check("tank-sensors-lost", "charging, and both tank sensors fall silent", "s", 1, measure_tank_lost),
)
