"""Plant and firmware in lock step: one run of a scenario, interpreted or compiled, with the same trace either way."""

from __future__ import annotations

import time
from array import array
from dataclasses import dataclass, field

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import station
from twinloop.loop import Loop
from twinloop.store import probe_rows

from . import block, checkers, trace
from .checkers.allowance import Allowance
from .demand.table import draw_table
from .scenarios import Scenario
from .thermal import parameters as p
from .thermal import state as th
from .thermal.plant import advance
from .thermal.storage import initial_plant, stored_heat
from .weather.files import greensboro, read_weather
from .weather.table import drive_table

DAY_S = 86400
KWH_J = 3.6e6
# Steps a kelvin of each sensor's chip: 12-bit DS18B20s have 16, the Pt1000 of the collector about 32 (0.031 K).
# source: DS18B20 datasheet, table 1; MAX31865 with a 4 kOhm reference, computed.
CHIP_STEPS_PER_K = (32.0, 16.0, 16.0, 16.0, 16.0, 16.0, 16.0, 16.0)


class SimPort:
    """The simulation as a port of the firmware's loop: sensors from the plant, relays to it, a clock that is told."""

    name = "simulation"
    interpreter = "cpython"
    folder = ""
    start_cause = 1

    def __init__(self, period_ms: int):
        self.period_ms = period_ms
        self.now_ms = 0
        self.command = np.zeros(s.OUTPUTS, dtype=np.int64)
        self.sense = None

    def ticks_ms(self) -> int:
        """Simulated time."""
        return self.now_ms

    def ticks_diff(self, later: int, earlier: int) -> int:
        """This clock does not wrap."""
        return later - earlier

    def read_sensors(self, inputs) -> None:
        """Chips of the simulated plant."""
        self.sense(inputs)

    def drive(self, output: int, on: int) -> None:
        """A relay of the simulated plant."""
        self.command[output] = on

    def fit(self, sensor: int, rom: bytes, offset_mk: int) -> None:
        """Simulated sensors need no telling apart."""

    def renew(self) -> None:
        """Nobody takes a lease away here; the virtual board shows that part."""

    def safe(self) -> None:
        """All relays off."""
        self.command[:] = 0

    def woke_by_watchdog(self) -> bool:
        """A run begins with power-on."""
        return False

    def on_bench(self) -> bool:
        """The simulated station is in service."""
        return False


class SimStore:
    """Settings of the scenario in the place of flash."""

    sequence = 0

    def __init__(self, values):
        self.values = values

    def load_settings(self, into) -> int:
        """The scenario's settings."""
        for code in range(cfg.SETTINGS):
            into[code] = int(self.values[code])
        return 0

    def in_service(self) -> bool:
        """A simulated station is in service."""
        return True

    def load_probes(self):
        """No chip is known, none is needed."""
        return probe_rows()

    def resets(self) -> int:
        """None yet."""
        return 0

    def save_resets(self, count: int) -> None:
        """Nothing outlives a run."""


@dataclass
class Outcome:
    """What a run left behind: rows of the trace, fluxes and stores in joules, the firmware's last state."""

    scenario: Scenario
    rows: np.ndarray
    flux: np.ndarray
    tank_change_j: float
    loop_change_j: float
    state: np.ndarray
    wall_s: float
    found: list[dict] = field(default_factory=list)
    allowance: Allowance = field(default_factory=Allowance)


class Setup:
    """Everything a run works on, made once: plant, weather, draws, chips, and the firmware's arrays."""

    def __init__(self, scenario: Scenario):
        self.scenario = scenario
        self.values = scenario.plant
        self.drive = make_drive(scenario)
        self.plant = initial_plant(
            self.values, self.drive[0, th.DRIVE_AMBIENT_C], scenario.start_tank_low_c, scenario.start_tank_high_c
        )
        self.flux = np.zeros(th.FLUX_COUNT)
        self.chips = np.array([[0.0] * s.SENSORS, CHIP_STEPS_PER_K])
        self.felt_c = np.zeros(s.SENSORS)
        self.facts = np.zeros(th.TRUTH_COUNT)
        self.command = np.zeros(s.OUTPUTS, dtype=np.int64)
        self.dt_ms = scenario.step_s * 1000
        self.rows = np.zeros((len(self.drive), trace.WIDTH))
        self.rows[:, 0] = np.arange(len(self.drive)) * scenario.step_s


def make_drive(scenario: Scenario) -> np.ndarray:
    """Weather and draws of a scenario, one row a control step."""
    weather = greensboro() if scenario.weather == "greensboro" else read_weather(scenario.weather)
    drive = drive_table(weather, scenario.plant, scenario.start, scenario.days, scenario.step_s)
    drive[:, th.DRIVE_DRAW_L_PER_MIN] = draw_table(
        scenario.profile,
        scenario.days,
        scenario.step_s,
        drive[:, th.DRIVE_COLD_MAIN_C],
        scale=scenario.draw_scale,
        delivery_c=scenario.plant[p.HEATER_SET_C],
        absent_days=scenario.absent_days,
    )
    return drive


def blocks(steps: int, step_s: int):
    """Slices of a day each, so that long runs can show progress."""
    per_day = DAY_S // step_s
    for begin in range(0, steps, per_day):
        yield slice(begin, min(begin + per_day, steps))


def run_compiled(setup: Setup, progress, control_folder=None) -> np.ndarray:
    """Run with the compiled control files; returns the firmware's last state."""
    from .compiled import compiled_block

    run_block = compiled_block(control_folder)
    state = np.zeros(s.STATE, dtype=np.int32)
    settings = np.array(setup.scenario.settings, dtype=np.int32)
    inputs = np.zeros(s.INPUTS, dtype=np.int32)
    station.wake(state, settings, inputs)
    for part in blocks(len(setup.drive), setup.scenario.step_s):
        run_block(
            setup.plant,
            setup.values,
            setup.drive[part],
            setup.flux,
            setup.chips,
            setup.felt_c,
            setup.facts,
            setup.command,
            state,
            settings,
            inputs,
            setup.dt_ms,
            setup.rows[part],
        )
        progress(part.stop, len(setup.drive))
    return state


def run_interpreted(setup: Setup, progress, sense=None) -> np.ndarray:
    """Run through the firmware's own loop, as a board does; returns the firmware's last state.

    Args: `sense` (puts other chips' readings into the firmware's inputs; None for those of block.py).
    """
    port = SimPort(setup.dt_ms)
    settings = np.array(setup.scenario.settings, dtype=np.int32)

    def own_sense(inputs):
        block.sense(setup.plant, setup.values, setup.chips, setup.felt_c, settings, np.frombuffer(inputs, dtype=np.int32))

    port.sense = sense or own_sense
    loop = Loop(port, SimStore(setup.scenario.settings))
    state = np.frombuffer(loop.state, dtype=np.int32)
    for part in blocks(len(setup.drive), setup.scenario.step_s):
        for k in range(part.start, part.stop):
            loop.step_now(setup.dt_ms)
            block.note_row(setup.plant, setup.values, setup.drive[k], state, setup.facts, setup.rows[k])
            advance(setup.plant, setup.values, setup.drive[k], port.command, setup.flux, setup.dt_ms / 1000.0)
            port.now_ms += setup.dt_ms
        progress(part.stop, len(setup.drive))
    return state.copy()


def run(scenario: Scenario, compiled: bool = True, progress=lambda done, steps: None, control_folder=None) -> Outcome:
    """Run a scenario to its end.

    Args: `compiled` (through numba, or the interpreted reference), `progress` (called with steps done and in all), `control_folder`
    (other control files to compile, for tests). Returns: Outcome, with what the checkers found.
    """
    begin = time.perf_counter()
    setup = Setup(scenario)
    before = stored_heat(setup.plant, setup.values)
    state = run_compiled(setup, progress, control_folder) if compiled else run_interpreted(setup, progress)
    after = stored_heat(setup.plant, setup.values)
    outcome = Outcome(
        scenario, setup.rows, setup.flux, after[0] - before[0], after[1] - before[1], state, time.perf_counter() - begin
    )
    outcome.found = checkers.check_all(outcome)
    return outcome


def settings_array(values: dict[int, int]) -> array:
    """Settings with defaults but for the given codes."""
    settings = array("i", [0] * cfg.SETTINGS)
    cfg.load_defaults(settings)
    for code, value in values.items():
        settings[code] = value
    return settings
