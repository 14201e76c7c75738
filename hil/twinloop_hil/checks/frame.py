"""The frame of every check: its result, the bench, and the station with injected readings."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib.util import find_spec

from twinloop.control import state as s

from ..client import Client, LinkError, RefusedError, named_settings
from ..readings import row
from .operator import Operator

# Injected readings move by this much per step where a threshold is measured: its resolution.
FINE_MC = 100
# Elsewhere they move as fast as is credible for a tank sensor.
COARSE_MC = 2000
STEP_MS = 5000
MILD_MC = row(25000, tank_low=30000, tank_high=35000, outdoor=20000, tap=30000)
STEPS_TOP = 5000
# How long a restarted board may be away from its port: some leave the bus.
RESTART_TOP_S = 20.0
# What a check may need, and how to tell that a bench has it.
VIRTUAL = "the virtual board"
WIRE = "a read-back wire (READ_BACK in the board file)"
SOMEBODY = "somebody at the terminal"
SIMULATION = 'the simulation (pip install "twinloop[sim]")'
NEEDS = {
    VIRTUAL: lambda bench: bench.board is not None,
    WIRE: lambda bench: bench.client.facts["read_back"] == 1,
    SOMEBODY: lambda bench: bench.operator.present,
    SIMULATION: lambda bench: all(find_spec(name) for name in ("numpy", "numba", "pvlib", "CoolProp")),
}


class NotFittedError(RuntimeError):
    """The check is not possible here; the text says what is missing."""


@dataclass
class Result:
    """One measurement. `outcome` is pass, fail or skipped; the limits are inclusive."""

    group: str
    name: str
    outcome: str
    measured: float | None
    unit: str
    low: float | None
    high: float | None
    detail: str
    # For the plot: rows of simulated seconds, readings by sensor in millidegrees, commands.
    curve: list = field(default_factory=list)
    # Where the board switched during a slow ramp: simulated seconds, sensor, millidegrees.
    marks: list = field(default_factory=list)
    wall_s: float = 0.0

    def document(self) -> dict:
        return {key: value for key, value in vars(self).items() if key not in ("curve", "marks", "wall_s")}


@dataclass
class Check:
    """A named measurement: `measure(bench)` returns (measured, low, high, detail)."""

    name: str
    what: str
    unit: str
    seconds: float
    measure: Callable
    needs: str = ""  # one of NEEDS
    moves: bool = False  # real relays: mains must be off
    takes: str = ""  # how long, where `seconds` are not the same on every board
    group: str = ""

    def missing(self, bench: Bench) -> str:
        """What this bench lacks for the check; empty when nothing."""
        if self.needs and not NEEDS[self.needs](bench):
            return f"needs {self.needs}"
        if self.moves and bench.board is None and not bench.operator.mains_off():
            return "moves relays: confirm that mains is off (--mains-off, or yes at the terminal)"
        return ""

    def run(self, bench: Bench) -> Result:
        measured, low, high, detail = self.measure(bench)
        outcome = "pass" if low <= measured <= high else "fail"
        return Result(self.group, self.name, outcome, round(measured, 3), self.unit, low, high, detail)

    def failed(self, detail: str) -> Result:
        """The result when nothing could be measured."""
        return Result(self.group, self.name, "fail", None, self.unit, None, None, detail)

    def skipped(self, detail: str) -> Result:
        """The result when the check is not made."""
        return Result(self.group, self.name, "skipped", None, self.unit, None, None, detail)


class Station:
    """The station behind the link, in lock step; readings (millidegrees) move at credible rates."""

    def __init__(self, bench: Bench):
        self.client = bench.client
        self.settings = bench.settings
        self.curve, self.marks = bench.curve, bench.marks
        self.time_ms = 0
        self.plates_follow = True
        self.mc = dict(zip(s.SENSOR_NAMES, MILD_MC, strict=True))
        self.cause = dict.fromkeys(s.SENSOR_NAMES, s.CAUSE_NONE)
        self.commands, self.duty, self.reason, self.wait = (0,) * s.OUTPUTS, s.IDLE, 0, 0
        self.client.release()
        self.client.inject(list(self.mc.values()), list(self.cause.values()), lease_ms=10000)

    @classmethod
    def settled(cls, bench: Bench) -> Station:
        """A station at rest."""
        station = cls(bench)
        station.settle()
        return station

    @classmethod
    def charging(cls, bench: Bench) -> Station:
        """A station that is charging, with both pumps on."""
        station = cls.settled(bench)
        station.charge()
        return station

    @classmethod
    def with_full_tank(cls, bench: Bench) -> Station:
        """A station at rest with a full tank, the collector just below the dump threshold."""
        station = cls.settled(bench)
        station.fill_tank()
        return station

    def follow(self) -> None:
        """Set plates and return as they follow from the glycol and the valve in a healthy plant."""
        supply, tank = self.mc["loop_supply"], self.mc["tank_low"]
        charging = self.on(s.DUMP_VALVE_POWER) and self.pumping()
        if self.plates_follow:
            self.mc["exchanger"] = max(supply - (supply - tank) // 4, 10000) if charging else max(tank, 10000)
        self.mc["loop_return"] = supply - 7 * (supply - tank) // 10 if charging else supply - 10000

    def step(self, dt_ms: int = STEP_MS) -> None:
        self.follow()
        answer = self.client.advance(dt_ms, list(self.mc.values()), list(self.cause.values()))
        self.commands, self.duty, self.reason, self.wait = answer
        self.time_ms += dt_ms
        self.curve.append((self.time_ms / 1000.0, dict(self.mc), self.commands))

    def on(self, output: int) -> bool:
        """Whether an output is commanded on."""
        return self.commands[output] == 1

    def pumping(self) -> bool:
        """Whether the collector pump is commanded on."""
        return self.on(s.COLLECTOR_PUMP)

    def until(self, reached: Callable[[], bool], what: str, dt_ms: int = STEP_MS) -> int:
        """Step until a condition holds; returns simulated ms. TimeoutError names the condition."""
        for count in range(STEPS_TOP):
            if reached():
                return count * dt_ms
            self.step(dt_ms)
        raise TimeoutError(f"waited {STEPS_TOP * dt_ms // 1000} s of station time for {what}")

    def ramp(self, sensor: str, target_mc: int, by_mc: int = COARSE_MC, stop: Callable[[], bool] = lambda: False) -> bool:
        """Move one reading to a target, step by step. Returns True if `stop` ended it early."""
        while self.mc[sensor] != target_mc:
            gap = target_mc - self.mc[sensor]
            self.mc[sensor] += max(-by_mc, min(by_mc, gap))
            self.step()
            if stop():
                return True
        return False

    def ramp_until(self, sensor: str, by_mc: int, stop: Callable[[], bool], what: str) -> int:
        """Move one reading step by step until `stop`; returns it. TimeoutError after 60 K."""
        for _ in range(abs(60000 // by_mc)):
            self.mc[sensor] += by_mc
            self.step()
            if stop():
                self.marks.append((self.time_ms / 1000.0, sensor, self.mc[sensor]))
                return self.mc[sensor]
        raise TimeoutError(f"moved {sensor} by 60 K, waiting for {what}")

    def settle(self) -> None:
        """Reach a warm loop at rest: sensors trusted, valve home, loop flushed, pumps rested."""
        tank = self.mc["tank_low"]
        self.ramp("collector", tank + self.settings["start_difference"] + 20000)
        self.ramp("loop_supply", self.mc["collector"] - 3000)
        self.until(lambda: self.duty == s.CHARGING and self.pumping(), "charging")
        self.rest()

    def rest(self) -> None:
        """Let the collector cool until nothing runs, then wait for the minimum rest."""
        self.ramp("collector", self.mc["tank_low"])
        self.ramp("loop_supply", self.mc["tank_low"])
        self.until(lambda: not any(self.commands) and self.duty == s.IDLE, "idle")
        for _ in range(self.settings["minimum_rest"] // STEP_MS + 30):
            self.step()

    def wait_out(self, setting: str, dt_ms: int = STEP_MS) -> None:
        """Step until the time of a setting is over."""
        for _ in range(self.settings[setting] // dt_ms + 1):
            self.step(dt_ms)

    def charge(self) -> None:
        """Go from rest to charging with both pumps on."""
        self.ramp("collector", self.mc["tank_low"] + self.settings["start_difference"] + 5000)
        self.ramp("loop_supply", self.mc["collector"] - 2000)
        self.until(lambda: self.pumping() and self.on(s.TANK_PUMP), "both pumps while charging")

    def fill_tank(self) -> None:
        """Reach a full tank with the pumps off and the collector just below the dump threshold."""
        full = self.settings["tank_full_low"]
        self.ramp("tank_high", min(full + 2000, self.settings["tank_limit"] - 500))
        self.ramp("tank_low", full)
        self.ramp("collector", self.settings["dump_collector_start"] - 2000)
        self.ramp("loop_supply", full)
        self.until(lambda: not any(self.commands), "a full tank with every pump off")


class Bench:
    """A board under test: its client, its settings, and the virtual board if it is one."""

    def __init__(self, port: str, client: Client, board, operator: Operator | None = None):
        self.port = port
        self.client = client
        self.board = board
        self.operator = operator or Operator(present=False)
        self.days = 1
        self.real_time = False
        self.curve: list = []
        self.marks: list = []
        self.clicks: dict = {}
        self.broken = ""
        self.values = client.settings()[0]
        self.settings = named_settings(self.values)

    def reconnect(self) -> None:
        """Open a new session, after a restart of the board or of the host's end."""
        transport = type(self.client.transport)
        self.client.close()
        self.client = Client(transport(self.board.port if self.board is not None else self.port))

    def take_recording(self) -> tuple[list, list]:
        """Curve and marks of the last check, as in a Result."""
        recording = self.curve, self.marks
        self.curve, self.marks = [], []
        return recording

    def restart(self) -> float:
        """Restart by a power cut or a second at the prompt; returns the seconds this took."""
        begin = time.monotonic()
        if self.board is not None:
            self.board.power_cut()
            self.reconnect()
            return time.monotonic() - begin
        self.client.call("prompt", 1)
        self.client.close()
        # Let the prompt's second pass: an earlier answer would come from before the restart.
        time.sleep(2.0)
        while True:
            try:
                self.client = Client(type(self.client.transport)(self.port))
                return time.monotonic() - begin
            except (LinkError, RefusedError):
                if time.monotonic() - begin > RESTART_TOP_S:
                    raise

    def restore_settings(self) -> None:
        """Restore the settings that the board came with."""
        self.client.hold_settings(self.values)

    def wait(self, reached: Callable[[], bool], timeout_s: float, what: str) -> float:
        """Seconds of real time until a condition holds. TimeoutError names the condition."""
        begin = time.monotonic()
        while not reached():
            if time.monotonic() - begin > timeout_s:
                raise TimeoutError(f"waited {timeout_s:g} s for {what}")
            time.sleep(0.002)
        return time.monotonic() - begin


def kelvin(mk: float) -> float:
    """K or C from millikelvin or millidegrees."""
    return mk / 1000.0
