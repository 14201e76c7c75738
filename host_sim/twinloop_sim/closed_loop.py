"""The closed loop through pins and chips: the simulated plant behind the virtual board.

The board runs its own files, drivers and loop on MicroPython, on a clock that the host moves. The
plant reads the board's pins. The plain simulation runs beside it on what these chips make of the
same temperatures (`ChipReader`), so both see the same sensor errors and must come to the same
duties. Run as a module, it compares two days.
"""

from __future__ import annotations

import copy
import math
import sys
import time
from dataclasses import dataclass

import numpy as np
from twinloop.control import state as s
from twinloop.drivers.ds18b20 import RAW_HIGHEST, RAW_LOWEST, raw_mc
from twinloop.drivers.max31865 import CYCLE_EVERY, ratio_mc
from twinloop_hil.checks.mirror import outcome, readings
from twinloop_hil.client import Client, SerialTransport
from twinloop_hil.virtual.board import VirtualBoard
from twinloop_hil.virtual.files.slots import SLOT_FED

from . import scenarios, trace
from .engine import run as engine
from .thermal.sensors import read_sensors

STEP_TIMEOUT_S = 10.0
LOOK_S = 0.0001
LEASE_MS = 30000
MORNING_S = 8 * 3600.0
# Starts close enough to its end that the board's clock wraps in the first hour.
CLOCK_START_MS = (1 << 30) - 1_000_000


def felt_mc(plant, values, felt_c) -> list[int]:
    """Temperatures at the sensors in whole millidegrees, to be put behind the chips."""
    read_sensors(plant, values, felt_c)
    return [math.floor(1000.0 * felt + 0.5) for felt in felt_c]


class ChipReader:
    """What the board's chips and drivers make of temperatures, step by step.

    A DS18B20 has no value in the first step after power-on. A MAX31865 has none in the first two
    steps, nor in the step after each fault cycle. source: the data sheets, and the register-level
    chips in virtual_chips.py; a test holds the two together.
    """

    def __init__(self):
        self.step = -1

    def read(self, values_mc: list[int], inputs) -> None:
        """Put raw values and causes of the next step into the firmware's inputs."""
        self.step += 1
        inputs[s.IN_FLOW_CAUSE] = s.CAUSE_SILENT
        for sensor in range(s.SENSORS):
            cause = self.collector_cause() if sensor == s.COLLECTOR else self.bus_cause()
            inputs[s.IN_RAW_CAUSE + sensor] = cause
            if cause == s.CAUSE_NONE:
                inputs[s.IN_RAW_MC + sensor] = (
                    pt1000_mc(values_mc[sensor]) if sensor == s.COLLECTOR else ds18b20_mc(values_mc[sensor])
                )

    def collector_cause(self) -> int:
        """Set up in step 0, read from step 2; a fault cycle replaces every 60th conversion."""
        if self.step == 0:
            return s.CAUSE_POWER_ON
        return s.CAUSE_NOT_READY if self.step % CYCLE_EVERY == 1 else s.CAUSE_NONE

    def bus_cause(self) -> int:
        """A conversion starts in the first step, so there is no value yet."""
        return s.CAUSE_NOT_READY if self.step == 0 else s.CAUSE_NONE


def pt1000_mc(value_mc: int) -> int:
    """A Pt1000 at 4 kOhm, to a code of 1/32768 and back by the driver. source: IEC 60751."""
    celsius = value_mc / 1000
    relative = 1 + 3.9083e-3 * celsius - 5.775e-7 * celsius**2
    if celsius < 0:
        relative -= 4.183e-12 * (celsius - 100) * celsius**3
    return ratio_mc(8 * math.floor(relative / 4 * 32768 + 0.5))


def ds18b20_mc(value_mc: int) -> int:
    """A DS18B20: rounded to a sixteenth, and back. source: DS18B20 data sheet, table 1."""
    return raw_mc(max(RAW_LOWEST, min(RAW_HIGHEST, math.floor(value_mc * 16 / 1000 + 0.5))))


def plain(scenario) -> np.ndarray:
    """The plain simulation, interpreted, on what the chips read; returns the rows of its trace."""
    setup = engine.Setup(scenario)
    reader = ChipReader()
    runner = engine.InterpretedRunner(setup)
    runner.port.sense = lambda inputs: reader.read(felt_mc(setup.plant, setup.values, setup.felt_c), inputs)
    runner.run(slice(0, len(setup.drive)))
    return setup.rows


class PlantBehind:
    """The plant behind a virtual board that runs by itself: it begins at MORNING_S of day one."""

    def __init__(self, scenario: str | None = None):
        from .engine.compiled import plant_step

        self.advance = plant_step()
        self.setup = engine.Setup(scenarios.load(scenarios.DEFAULT if scenario is None else scenario))
        self.time_s = 0.0
        self.move(MORNING_S, (0,) * s.OUTPUTS)

    def move(self, passed_s: float, relays) -> list[int]:
        """The temperatures at the sensors, in millidegrees, after this time with these relays.

        After its last day the weather begins anew.
        """
        setup = self.setup
        setup.command[:] = relays
        step_s = setup.scenario.step_s
        while passed_s > 0.0:
            dt_s = min(passed_s, float(step_s))
            row = int(self.time_s / step_s) % len(setup.drive)
            self.advance(setup.plant, setup.values, setup.drive[row], setup.command, setup.flux, dt_s)
            self.time_s += dt_s
            passed_s -= dt_s
        return felt_mc(setup.plant, setup.values, setup.felt_c)

    def time_text(self) -> str:
        """Day and time of the plant."""
        day, rest_s = divmod(int(self.time_s), engine.DAY_S)
        return f"day {day + 1}, {rest_s // 3600:02d}:{rest_s % 3600 // 60:02d}"


class LockStep:
    """A virtual board whose clock is moved one firmware step at a time."""

    def __init__(self, board: VirtualBoard):
        self.board = board
        self.now_ms = CLOCK_START_MS

    def settle(self, values) -> None:
        """Store the settings, then restart, so that the storing leaves no trace in the state."""
        self.board.tell_time(self.now_ms)
        with Client(SerialTransport(self.board.port)) as client:
            client.hold_settings(values)
        self.board.power_cut()
        with Client(SerialTransport(self.board.port)):
            pass

    def step(self, values_mc: list[int], dt_ms: int) -> tuple[int, ...]:
        """Set temperatures, move the clock, and return the relays after the board's step."""
        fed = self.board.peek(SLOT_FED)
        self.board.set_sensors(values_mc)
        self.now_ms += dt_ms
        self.board.tell_time(self.now_ms)
        deadline = time.monotonic() + STEP_TIMEOUT_S
        while self.board.peek(SLOT_FED) == fed:
            if time.monotonic() > deadline:
                raise TimeoutError(f"waited {STEP_TIMEOUT_S:g} s for a step of the board")
            time.sleep(LOOK_S)
        return self.board.relays()


def through_chips(scenario, board: VirtualBoard) -> np.ndarray:
    """The same run with the board in the loop; returns relays at the pins, (steps, OUTPUTS)."""
    from .engine.compiled import plant_step

    setup, advance = engine.Setup(scenario), plant_step()
    lock = LockStep(board)
    lock.settle(scenario.settings)
    relays = np.zeros((len(setup.drive), s.OUTPUTS), dtype=np.int64)
    for k in range(len(setup.drive)):
        values_mc = felt_mc(setup.plant, setup.values, setup.felt_c)
        relays[k] = lock.step(values_mc, setup.dt_ms)
        advance(setup.plant, setup.values, setup.drive[k], relays[k], setup.flux, setup.dt_ms / 1000.0)
    return relays


@dataclass
class Compared:
    """Steps of two runs, those with other relays, the first, hours per duty, seconds taken."""

    steps: int
    differences: int
    first_difference: int | None
    duty_hours: dict[str, float]
    wall_s: float


def hours_of(duty_steps, step_s: int) -> dict[str, float]:
    """Hours of each duty that there was, from its number of steps."""
    hours = [round(float(steps) * step_s / 3600, 2) for steps in duty_steps]
    return {name: value for name, value in zip(s.DUTY_NAMES, hours, strict=False) if value}


def compare(scenario, micropython: str | None = None) -> Compared:
    """Run a scenario both ways and compare the relays."""
    begin = time.perf_counter()
    rows = plain(scenario)
    with VirtualBoard(micropython, held=True) as board:
        relays = through_chips(scenario, board)
    differ = np.flatnonzero((rows[:, trace.COMMANDS : trace.COMMANDS + s.OUTPUTS] != relays).any(axis=1))
    first = int(differ[0]) if len(differ) else None
    hours = hours_of(np.bincount(rows[:, trace.DUTY].astype(int)), scenario.step_s)
    return Compared(len(rows), len(differ), first, hours, time.perf_counter() - begin)


class MirroredRunner(engine.InterpretedRunner):
    """The interpreted run with a board beside it that decides on the same inputs.

    The plant follows the board. `differences` counts the steps in which the firmware here decided
    otherwise; `first` is the first of them.
    """

    def __init__(self, setup: engine.Setup, client: Client, show, real_time: bool):
        super().__init__(setup)
        self.client, self.show, self.real_time = client, show, real_time
        self.differences, self.first, self.step = 0, None, 0
        self.begin = time.monotonic()
        self.port.drive = lambda output, on: None
        client.release()

    def run(self, where: slice) -> None:
        """Run these steps of the loaded part."""
        for k in range(where.start, where.stop):
            # Here the firmware senses and decides too, but the plant follows the commands that the
            # board gave for the same inputs.
            self.pace()
            self.ask_board()
            super().run(slice(k, k + 1))
            self.compare()
            self.step += 1

    def pace(self) -> None:
        """In real time, wait until the step is due."""
        if self.real_time and self.step:
            with self.client.injecting():
                time.sleep(max(0.0, self.begin + self.step * self.setup.dt_ms / 1000.0 - time.monotonic()))

    def ask_board(self) -> None:
        """Have the board decide on the present readings."""
        inputs = self.loop.inputs
        self.port.read_sensors(inputs)
        values_mc, causes, flow = readings(inputs)
        if self.step == 0:
            self.client.inject(values_mc, causes, lease_ms=LEASE_MS)
        self.answer = self.client.advance(self.setup.dt_ms, values_mc, causes, flow)
        self.port.command[:] = self.answer[0]
        self.show(self.step * self.setup.dt_ms / 1000.0, self.setup.scenario.days, self.answer[1], values_mc)

    def compare(self) -> None:
        """Compare commands, duty, reason and wait reason with the board's."""
        if self.answer != outcome(self.loop.state):
            self.differences += 1
            self.first = self.step if self.first is None else self.first


def compile_plant(setup: engine.Setup) -> None:
    """Compile what a step of the plant needs, or read it from the cache, by a step of a copy.

    This takes seconds: longer than a lease on a busy computer.
    """
    spare = copy.copy(setup)
    spare.plant, spare.flux, spare.felt_c = setup.plant.copy(), setup.flux.copy(), setup.felt_c.copy()
    engine.InterpretedRunner(spare).run(slice(0, 1))


def over_link(scenario, client: Client, show=lambda *_: None, real_time: bool = False) -> Compared:
    """Run a scenario over the link on a bench board that already has its settings.

    `show` is called with simulated seconds, days, the duty and the readings in millidegrees. Raises
    LinkError when the board goes away.
    """
    begin = time.perf_counter()
    setup = engine.Setup(scenario)
    compile_plant(setup)
    runner = MirroredRunner(setup, client, show, real_time)
    duty_steps = np.zeros(len(s.DUTY_NAMES))
    for part in setup.parts:
        if part.first_day:
            # Making the weather of a month may take longer than the lease.
            with client.injecting():
                setup.load(part)
        runner.run(slice(0, len(setup.drive)))
        duty_steps += np.bincount(setup.rows[:, trace.DUTY].astype(int), minlength=len(duty_steps))
    client.release()
    hours = hours_of(duty_steps, scenario.step_s)
    return Compared(runner.step, runner.differences, runner.first, hours, time.perf_counter() - begin)


def two_days(step_s: int = 5):
    scenario = scenarios.load(scenarios.DEFAULT)
    scenario.days = 2
    scenario.step_s = step_s
    return scenario


def main() -> int:
    """Compare two days at 5 s a step; returns 0 when every relay agreed in every step."""
    found = compare(two_days())
    print(f"{found.steps} steps, {found.differences} with other relays, first at {found.first_difference}; {found.duty_hours}")
    print(f"{found.wall_s:.1f} s")
    return 1 if found.differences else 0


if __name__ == "__main__":
    sys.exit(main())
