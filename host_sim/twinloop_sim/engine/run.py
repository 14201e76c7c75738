"""One run of a scenario, plant and firmware in lock step, interpreted or compiled."""

from __future__ import annotations

import calendar
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import twinloop
from twinloop.control import reasons as why
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control import station
from twinloop.loop import Loop
from twinloop.store import probe_rows

from .. import checkers, trace
from ..checkers.allowance import Allowance
from ..demand.table import draw_table
from ..scenarios import LONG_DAYS, LONG_TRACE_S, Scenario
from ..thermal import parameters as p
from ..thermal import state as th
from ..thermal.storage import initial_plant, stored_heat
from ..weather.clear import clear_days
from ..weather.files import named_weather
from ..weather.plane import on_plane
from ..weather.table import drive_table
from . import block

DAY_S = 86400
# Typical years have no 29 February.
COMMON_YEAR = 1990
FROST_REFUSALS = (why.COLD_SLUG_REFUSED, why.COLD_SLUG_SERIES)
CHIP_STEPS_PER_K = s.SENSOR_ROWS.column("chip_steps_per_k")


class SimPort:
    """The simulated plant as a port of the firmware's loop, with a simulated clock."""

    name = "simulation"
    interpreter = "cpython"
    folder = str(Path(twinloop.__file__).parent)
    start_cause = 1

    def __init__(self, period_ms: int):
        self.period_ms = period_ms
        self.now_ms = 0
        self.command = np.zeros(s.OUTPUTS, dtype=np.int64)
        self.sense = None

    def ticks_ms(self) -> int:
        return self.now_ms

    def ticks_diff(self, later: int, earlier: int) -> int:
        """This clock does not wrap."""
        return later - earlier

    def read_sensors(self, inputs) -> None:
        self.sense(inputs)

    def drive(self, output: int, on: int) -> None:
        self.command[output] = on

    def fit(self, sensor: int, rom: bytes, offset_mk: int) -> None:
        """Simulated sensors are already known."""

    def renew(self) -> None:
        """Leases never expire here; the virtual board covers them."""

    def safe(self) -> None:
        self.command[:] = 0

    def woke_by_watchdog(self) -> bool:
        """A run begins with power-on."""
        return False

    def on_bench(self) -> bool:
        """The simulated station is in service."""
        return False


class SimStore:
    """The scenario's settings in place of flash."""

    sequence = 0
    failing = 0
    defaulted = ()

    def __init__(self, values):
        self.values = values

    def load_settings(self, into) -> int:
        for code in range(cfg.SETTINGS):
            into[code] = int(self.values[code])
        return 0

    def in_service(self) -> bool:
        return True

    def load_probes(self):
        """No chip is known, and none is needed."""
        return probe_rows()

    def finish_restore(self) -> bool:
        """No restore is under way."""
        return True

    def load_meter(self, state) -> None:
        """A run begins with a new meter."""

    def take_planned(self) -> bool:
        return False

    def resets(self) -> bytes:
        return b"\0\0"

    def save_resets(self, count: int, moved: int) -> None:
        """Nothing outlives a run."""


@dataclass
class Month:
    """One calendar month of a run, or the simulated part of it: joules, counts and hours."""

    name: str
    days: int
    flux: np.ndarray
    tank_change_j: float
    loop_change_j: float
    starts: np.ndarray
    run_s: np.ndarray
    stagnation_h: float
    irradiation_j_per_m2: float


@dataclass
class Outcome:
    """The result of a run: rows of the trace, fluxes and stored heat in joules, last state.

    `rows` holds every `row_every`-th control step. `lowest` and `highest` (one value per column,
    NaN where never known), `found`, `stagnation_h` and `frost_refused_h` (the sun refused for
    frost) come from all steps. `state` is the firmware's.
    """

    scenario: Scenario
    rows: np.ndarray
    flux: np.ndarray
    tank_change_j: float
    loop_change_j: float
    state: np.ndarray
    wall_s: float
    row_every: int = 1
    steps: int = 0
    stagnation_h: float = 0.0
    frost_refused_h: float = 0.0
    lowest: np.ndarray | None = None
    highest: np.ndarray | None = None
    months: list[Month] = field(default_factory=list)
    found: list[dict] = field(default_factory=list)
    allowance: Allowance = field(default_factory=Allowance)


@dataclass(frozen=True)
class Part:
    """Days of a run that are in memory at the same time."""

    name: str
    first_day: int
    days: int


def parts_of(scenario: Scenario) -> list[Part]:
    """The run cut into calendar months; a run no longer than a month stays whole."""
    names = list(calendar.month_name)
    # A whole year at 5 s in memory would be 2.4 GB.
    if scenario.days <= LONG_DAYS:
        return [Part(names[scenario.start[0]], 0, scenario.days)]
    parts, (month, day), done = [], scenario.start, 0
    while done < scenario.days:
        days = min(calendar.monthrange(COMMON_YEAR, month)[1] - day + 1, scenario.days - done)
        parts.append(Part(names[month], done, days))
        done, month, day = done + days, month % 12 + 1, 1
    return parts


class Setup:
    """Plant, weather, chips and the firmware's arrays of a run; the next part overwrites `rows`."""

    def __init__(self, scenario: Scenario):
        self.scenario = scenario
        self.values = scenario.plant
        self.weather = scenario_weather(scenario)
        self.plane = on_plane(self.weather, self.values)
        self.parts = parts_of(scenario)
        # One array for the rows of all parts, as large as the largest.
        self.room = np.zeros((max(part.days for part in self.parts) * DAY_S // scenario.step_s, trace.WIDTH))
        self.load(self.parts[0])
        self.plant = initial_plant(
            self.values, self.drive[0, th.DRIVE_AMBIENT_C], scenario.start_tank_low_c, scenario.start_tank_high_c
        )
        self.flux = np.zeros(th.FLUX_COUNT)
        self.chips = np.array([[0.0] * s.SENSORS, CHIP_STEPS_PER_K])
        self.felt_c = np.zeros(s.SENSORS)
        self.command = np.zeros(s.OUTPUTS, dtype=np.int64)
        self.dt_ms = scenario.step_s * 1000

    def rig(self, state: np.ndarray, settings: np.ndarray, inputs: np.ndarray) -> block.Rig:
        """This plant with these arrays of a firmware."""
        return block.Rig(self.plant, self.values, self.flux, self.chips, self.felt_c, self.command, state, settings, inputs)

    def load(self, part: Part) -> None:
        """Make weather, draws and row times of a part."""
        scenario = self.scenario
        # Free the last part's weather before making the next.
        self.drive = None
        drive = drive_table(
            self.weather,
            self.values,
            scenario.start,
            part.days,
            scenario.step_s,
            plane=self.plane,
            skip_days=part.first_day,
            cloud_seed=scenario.cloud_seed,
        )
        drive[:, th.DRIVE_DRAW_L_PER_MIN] = draw_table(
            scenario.profile,
            part.days,
            scenario.step_s,
            drive[:, th.DRIVE_COLD_MAIN_C],
            scale=scenario.draw_scale,
            delivery_c=scenario.plant[p.HEATER_SET_C],
            absent_days=scenario.absent_days,
            skip_days=part.first_day,
            variation=scenario.variation,
        )
        self.drive = drive
        self.rows = self.room[: len(drive)]
        self.rows[:, 0] = part.first_day * DAY_S + np.arange(len(drive)) * scenario.step_s


def scenario_weather(scenario: Scenario):
    """The weather that a scenario names, or cloudless days of its own place."""
    if scenario.clear_sky is not None:
        return clear_days(start=scenario.start, days=scenario.days, **scenario.clear_sky)
    return named_weather(scenario.weather)


class CompiledRunner:
    """The control files through numba, in one compiled loop with the plant."""

    def __init__(self, setup: Setup, control_folder=None):
        from .compiled import compiled_block

        self.setup = setup
        self.run_block = compiled_block(control_folder)
        self.state = np.zeros(s.STATE, dtype=np.int32)
        self.settings = np.array(setup.scenario.settings, dtype=np.int32)
        self.inputs = np.zeros(s.INPUTS, dtype=np.int32)
        station.wake(self.state, self.settings, self.inputs)
        self.rig = setup.rig(self.state, self.settings, self.inputs)

    def run(self, where: slice) -> None:
        """Run these steps of the part that is loaded."""
        self.run_block(self.rig, self.setup.drive[where], self.setup.dt_ms, self.setup.rows[where])


class InterpretedRunner:
    """The firmware's own loop, as a board runs it."""

    def __init__(self, setup: Setup):
        from .compiled import keep_compiled, plant_step

        keep_compiled(block.sense, block.note_row)
        self.advance = plant_step()
        self.setup = setup
        self.port = SimPort(setup.dt_ms)
        settings = np.array(setup.scenario.settings, dtype=np.int32)

        def sense(inputs):
            view = np.frombuffer(inputs, dtype=np.int32)
            block.sense(setup.plant, setup.values, setup.chips, setup.felt_c, settings, view)

        self.port.sense = sense
        self.loop = Loop(self.port, SimStore(setup.scenario.settings))
        self.state = np.frombuffer(self.loop.state, dtype=np.int32)

    def run(self, where: slice) -> None:
        """Run these steps of the loaded part."""
        setup, port = self.setup, self.port
        for k in range(where.start, where.stop):
            self.loop.step_now(setup.dt_ms)
            block.note_row(setup.plant, setup.values, setup.drive[k], self.state, setup.flux, setup.rows[k])
            self.advance(setup.plant, setup.values, setup.drive[k], port.command, setup.flux, setup.dt_ms / 1000.0)
            port.now_ms += setup.dt_ms


def run_part(setup: Setup, runner, part: Part, progress) -> Outcome:
    """Run a part; returns its outcome with all rows, checked."""
    begin_flux, begin_j = setup.flux.copy(), stored_heat(setup.plant, setup.values)
    starts, run_s = (runner.state[first : first + s.OUTPUTS].copy() for first in (s.STARTS, s.ON_S))
    step_s = setup.scenario.step_s
    a_day = DAY_S // step_s
    for day in range(part.days):
        runner.run(slice(day * a_day, (day + 1) * a_day))
        progress((part.first_day + day + 1) * a_day, setup.scenario.days * a_day)
    end_j = stored_heat(setup.plant, setup.values)
    outcome = Outcome(
        setup.scenario,
        setup.rows,
        setup.flux - begin_flux,
        end_j[0] - begin_j[0],
        end_j[1] - begin_j[1],
        runner.state.copy(),
        0.0,
        steps=len(setup.rows),
    )
    outcome.stagnation_h = checkers.stagnation.hours(outcome)
    outcome.frost_refused_h = float(np.isin(setup.rows[:, trace.REASON], FROST_REFUSALS).sum()) * step_s / 3600.0
    outcome.lowest, outcome.highest = np.fmin.reduce(setup.rows), np.fmax.reduce(setup.rows)
    outcome.found = checkers.check_all(outcome)
    month = Month(
        part.name,
        part.days,
        outcome.flux,
        outcome.tank_change_j,
        outcome.loop_change_j,
        runner.state[s.STARTS : s.STARTS + s.OUTPUTS] - starts,
        runner.state[s.ON_S : s.ON_S + s.OUTPUTS] - run_s,
        outcome.stagnation_h,
        float(setup.drive[:, th.DRIVE_TILTED_W_PER_M2].sum()) * step_s,
    )
    outcome.months = [month]
    return outcome


def joined(parts: list[Outcome]) -> Outcome:
    """The outcome of a run from the outcomes of its parts, in order."""
    last = parts[-1]
    return Outcome(
        last.scenario,
        np.concatenate([part.rows for part in parts]),
        sum((part.flux for part in parts[1:]), parts[0].flux.copy()),
        sum(part.tank_change_j for part in parts),
        sum(part.loop_change_j for part in parts),
        last.state,
        0.0,
        steps=sum(part.steps for part in parts),
        stagnation_h=sum(part.stagnation_h for part in parts),
        frost_refused_h=sum(part.frost_refused_h for part in parts),
        lowest=np.fmin.reduce([part.lowest for part in parts]),
        highest=np.fmax.reduce([part.highest for part in parts]),
        months=[month for part in parts for month in part.months],
        found=checkers.merged([part.found for part in parts]),
    )


def every(rows: np.ndarray, count: int, step_s: int) -> np.ndarray:
    """A view of each `count`-th row, counted from the start of the run, not of the part."""
    return rows[-int(rows[0, 0]) // step_s % count :: count]


def run(
    scenario: Scenario, compiled: bool = True, progress=lambda done, steps: None, control_folder=None, write_rows=None
) -> Outcome:
    """Run a scenario to its end; returns its Outcome, with the findings of the checkers.

    `progress` is called with steps done and total, `write_rows` with the rows of the trace, part by
    part. With `write_rows`, a run over months keeps only one row per LONG_TRACE_S, so that it needs
    no more memory than one month.
    """
    begin = time.perf_counter()
    setup = Setup(scenario)
    runner = CompiledRunner(setup, control_folder) if compiled else InterpretedRunner(setup)
    row_every = keep_every = scenario.trace_step_s // scenario.step_s
    if write_rows is not None and len(setup.parts) > 1:
        keep_every = max(row_every, LONG_TRACE_S // scenario.step_s)
    done = []
    for part in setup.parts:
        if part.first_day:
            setup.load(part)
        done.append(run_part(setup, runner, part, progress))
        if write_rows is not None:
            write_rows(every(setup.rows, row_every, scenario.step_s))
        # The next part overwrites these rows; a run in one piece may keep them.
        if keep_every > 1 or len(setup.parts) > 1:
            done[-1].rows = every(setup.rows, keep_every, scenario.step_s).copy()
    outcome = done[0] if len(done) == 1 else joined(done)
    outcome.row_every = keep_every
    outcome.wall_s = time.perf_counter() - begin
    return outcome
