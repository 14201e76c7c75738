"""What every board must do for a host: run with --station=sim (default), virtual, or a port."""

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.link import calls
from twinloop_hil.client import RefusedError


def test_it_identifies_itself(station_bench):
    facts = station_bench.client.facts
    assert facts["protocol"] == calls.PROTOCOL
    assert tuple(facts["sensors"]) == s.SENSOR_NAMES
    assert tuple(facts["outputs"]) == s.OUTPUT_NAMES
    assert facts["state"] == "bench"


def test_it_starts_cold_and_moves_no_relay_at_first(station):
    station.step()
    assert not any(station.commands)
    assert station.duty == s.FAULT_STOP


def test_it_charges_in_the_sun_and_stops_without_a_difference(station):
    """8 K to start, 3 K to stop. source: common practice, and the design page's defaults"""
    station.settle()
    station.charge()
    assert station.pumping() and station.on(s.TANK_PUMP) and station.duty == s.CHARGING
    station.rest()
    assert not any(station.commands)


def test_a_broken_collector_sensor_stops_every_pump(station):
    station.settle()
    station.charge()
    station.cause["collector"] = s.CAUSE_OPEN
    station.until(lambda: not any(station.commands[output] for output in s.MOVING), "every output off")
    assert station.duty == s.FAULT_STOP


def test_no_step_is_repeated_or_skipped(station):
    client = station.client
    client.call("advance", client.step_number + 1, 1000, list(station.mc.values()), [])
    for number in (client.step_number + 1, client.step_number + 3):
        with pytest.raises(RefusedError, match="next step"):
            client.call("advance", number, 1000, list(station.mc.values()), [])


def test_settings_that_break_a_rule_are_refused_as_a_whole(station, station_bench):
    before = station.client.settings()
    with pytest.raises(RefusedError, match="rule"):
        station.client.change_settings({cfg.START_DIFFERENCE: 4000, cfg.STOP_DIFFERENCE: 3500})
    assert station.client.settings() == before


def test_settings_are_restored(station, station_bench):
    station.client.change_settings({cfg.START_DIFFERENCE: 9000})
    station_bench.restore_settings()
    assert station.client.settings()[0][cfg.START_DIFFERENCE] == station_bench.values[cfg.START_DIFFERENCE]


def test_a_single_relay_is_refused_during_an_injection(station):
    with pytest.raises(RefusedError, match="release first"):
        station.client.relay(s.ALARM, 1)
