"""Recipe "An output": a sixth that moves, is safe in a fault, takes its turn, and has a pin."""

import ast
from array import array

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import station
from twinloop_hil.board import image
from twinloop_hil.client import Client, SerialTransport
from twinloop_hil.firmware_files import boot_text
from twinloop_hil.sequences import common, relay_script
from twinloop_hil.virtual.board import NoInterpreterError, VirtualBoard
from twinloop_sim import scenarios, trace
from twinloop_sim.engine import run as engine


def test_it_is_the_sixth_and_a_mover():
    assert s.OUTPUT_NAMES[s.STIRRER] == "stirrer"
    assert (s.OUTPUTS, s.MOVERS) == (6, 5)
    assert s.MOVING == (s.COLLECTOR_PUMP, s.TANK_PUMP, s.DUMP_VALVE_POWER, s.AIR_FAN, s.STIRRER)


def core():
    """State, settings and inputs of a station that has just woken."""
    arrays = [array("i", [0] * size) for size in (s.STATE, cfg.SETTINGS, s.INPUTS)]
    cfg.load_defaults(arrays[1])
    station.wake(*arrays)
    return arrays


def test_it_runs_in_the_simulation():
    """With the tank pump, as it is written in the sequence; the trace has its column."""
    scenario = scenarios.load("frosty-morning")
    outcome = engine.run(scenario)
    stirs, pumps = (outcome.rows[:, trace.COMMANDS + output] for output in (s.STIRRER, s.TANK_PUMP))
    assert pumps.sum() > 1000
    assert (stirs >= pumps).all()
    assert "stirrer" in trace.COLUMNS


def test_safe_in_a_fault():
    """On while charging; off once the collector's wire is broken."""
    script = [
        *common.LONG_CHARGING,
        ["expect", {"stirrer": 1}],
        ["break", "collector", "CAUSE_OPEN"],
        ["becomes", 5000, 20000, {"duty": "fault_stop", "stirrer": 0}],
    ]
    run = relay_script.Run(relay_script_core(), common.sequence("stirrer", script))
    run.run()
    assert run.failures == []


def relay_script_core():
    """The control modules, as a sequence wants them."""
    import importlib
    from types import SimpleNamespace

    from twinloop_sim.engine.compiled import CONTROL

    return SimpleNamespace(**{name: importlib.import_module(f"twinloop.control.{name}") for name in CONTROL})


def test_it_takes_its_turn():
    """Unmoved for exercise_after it is exercised, like every other mover."""
    state, settings, inputs = core()
    inputs[s.IN_DT_MS] = 1000
    for sensor, value_mc in ((s.COLLECTOR, 15000), (s.TANK_LOW, 20000), (s.TANK_HIGH, 25000), (s.LOOP_SUPPLY, 15000)):
        inputs[s.IN_RAW_MC + sensor] = value_mc
    for sensor in (s.LOOP_RETURN, s.OUTDOOR, s.TAP, s.EXCHANGER):
        inputs[s.IN_RAW_MC + sensor] = 15000
    for _ in range(300):
        station.step(state, settings, inputs)
    state[s.LOOP_LOWEST_MC] = state[s.LOOP_SEEN_MC] = 15000
    state[s.LOOP_KNOWN], state[s.UNMOVED_S + s.MOVING.index(s.STIRRER)] = 1, settings[cfg.EXERCISE_AFTER]
    on = 0
    for _ in range(30):
        station.step(state, settings, inputs)
        state[s.LOOP_LOWEST_MC] = 15000
        on += state[s.COMMAND + s.STIRRER]
    assert 8 <= on <= 12


def test_let_go_by_the_guard():
    state, settings, inputs = core()
    inputs[s.IN_DT_MS] = 1000
    state[s.COMMAND + s.STIRRER] = 1
    state[s.GUARD_HOLD_MS] = 60000
    station.guard.gate(state, settings, inputs)
    assert state[s.COMMAND + s.STIRRER] == 0


def test_its_pin_is_safe_from_the_start_and_follows():
    """boot.py has its pin; on the virtual board the pin is driven and seen."""
    assert "(10, 1)" in boot_text("virtual")
    try:
        board = VirtualBoard()
    except NoInterpreterError as fault:
        pytest.skip(str(fault))
    try:
        with Client(SerialTransport(board.port)) as client:
            client.relay(s.STIRRER, 1)
            assert board.relays() == (0, 0, 0, 0, 0, 1)
            client.release()
            assert board.relays() == (0, 0, 0, 0, 0, 0)
    finally:
        board.close()


def test_a_board_without_its_pin_is_refused():
    """One line says which outputs want a pin."""
    with pytest.raises(ValueError, match="RELAYS: 4 rows; allowed 6, in the order collector_pump, .*, stirrer"):
        image.build("esp32")
    assert image.build("pico").size > 0


def test_the_six_pins_differ():
    """The recipe's own data: no pin twice."""
    (rows,) = [line for line in boot_text("virtual").split("\n") if line.startswith("RELAYS = ")]
    pins = [pin for pin, _ in ast.literal_eval(rows.removeprefix("RELAYS = "))]
    assert len(set(pins)) == s.OUTPUTS
