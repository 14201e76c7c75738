"""A recording: settings and inputs of many short lives that reach every duty, from a seed.

A block is the settings and STEPS_A_BLOCK rows of inputs, all int32. Readings drift at credible
rates with the weather; jumps, faults, hands and upkeep come in between.
"""

import hashlib
import random
from array import array
from typing import NamedTuple

from twinloop.control import readings
from twinloop.control import settings as cfg
from twinloop.control import state as s

STEPS_A_BLOCK = 500
DIGEST = 4
SEED = 20260511
SETTINGS_CHANGED = 8
MOVERS_MASK = sum(1 << output for output in s.MOVING)
# Low and high in C of collector, tank_low, tank_high, loop_supply, loop_return, outdoor, tap,
# exchanger, air_collector, room.
WEATHERS = {
    "mild": ((12, 24), (20, 40), (25, 45), (15, 25), (15, 25), (10, 24), (15, 45), (15, 25), (12, 30), (15, 24)),
    "sun": ((45, 88), (15, 45), (25, 60), (35, 80), (25, 50), (10, 30), (20, 50), (30, 70), (20, 75), (12, 28)),
    "full": ((70, 118), (62, 90), (70, 95), (65, 110), (50, 90), (10, 35), (30, 60), (50, 90), (30, 90), (15, 30)),
    "steam": ((95, 200), (30, 80), (40, 85), (60, 130), (50, 100), (15, 40), (30, 60), (50, 90), (40, 110), (15, 35)),
    "clear night": ((5, 14), (58, 80), (65, 85), (5, 60), (5, 20), (6, 15), (30, 50), (10, 50), (0, 15), (10, 22)),
    "frost": ((-25, 3), (8, 45), (10, 55), (-10, 25), (-10, 25), (-25, 3), (10, 45), (-2, 12), (-20, 30), (2, 20)),
    "anything": (
        (-60, 250),
        (-30, 120),
        (-30, 120),
        (-60, 170),
        (-60, 170),
        (-60, 70),
        (-30, 120),
        (-60, 170),
        (-60, 210),
        (-30, 70),
    ),
}
# A day in this order leads through most duties; other blocks draw their weather.
DAY = ("sun", "sun", "sun", "full", "steam", "full", "clear night", "mild", "mild", "mild")
STEP_TIMES_MS = ((5000,), (60000,), (60000,), (1000, 5000), (1, 333, 1000, 5000, 20000, 60000, 100000))
# For the small integers: times of a broken clock, raw values at the ends of what the link accepts.
EXTREME_TIMES_MS = (-(1 << 30), 0, 1, 59999, 60000, (1 << 30) - 1)
EXTREME_MC = (-(1 << 30), (1 << 30) - 1)


class Recorded(NamedTuple):
    """A recording, four bytes of hash per step, steps by duty, and all reasons seen."""

    inputs: bytes
    digests: bytes
    duties: list
    reasons: set


def accepted_settings(draw):
    """A valid set: some settings at an end of their range, or anywhere in it."""
    settings = array("i", [0] * cfg.SETTINGS)
    while True:
        cfg.load_defaults(settings)
        for code in draw.sample(range(cfg.SETTINGS), SETTINGS_CHANGED):
            low, high = cfg.TABLE[code][2:4]
            settings[code] = draw.choice((low, high, draw.randint(low, high)))
        if draw.random() < 0.5:
            settings[cfg.AWAY] = draw.randint(0, 1)
            settings[cfg.EXERCISE_AFTER] = 3600
            settings[cfg.DUMP_TRAVEL] = draw.choice((1000, 20000))
        settings[cfg.AIR_HEATER], settings[cfg.FAN_PLACE] = draw.randint(0, 1), draw.randint(0, 1)
        if cfg.broken_rule(settings) == cfg.RULE_OK:
            return settings


class World:
    """The inputs, step after step.

    `extreme` draws from the ends of what an integer holds too; `credible` keeps raw values in
    range.
    """

    def __init__(self, draw, extreme=False, credible=False):
        self.draw = draw
        self.extreme = extreme
        self.credible = credible
        self.inputs = array("i", [0] * s.INPUTS)
        self.wanted = [0] * s.SENSORS
        self.left = [0] * s.SENSORS
        self.stuck = [0] * s.SENSORS

    def begin(self):
        """Start a block: nothing broken, nothing held."""
        draw = self.draw
        self.order = DAY if draw.random() < 0.5 else [draw.choice(list(WEATHERS)) for _ in range(draw.randint(1, 12))]
        self.times_ms = EXTREME_TIMES_MS if self.extreme and draw.random() < 0.3 else draw.choice(STEP_TIMES_MS)
        self.unrest = draw.choice((0.0, 0.002, 0.02))
        for index in range(s.INPUTS):
            self.inputs[index] = 0
        self.left = [0] * s.SENSORS
        self.stuck = [0] * s.SENSORS
        self.turn(self.order[0])
        for sensor in range(s.SENSORS):
            self.inputs[s.IN_RAW_MC + sensor] = self.wanted[sensor]

    def turn(self, weather):
        """Change the weather: draw where the readings go from here."""
        for sensor, (low, high) in enumerate(WEATHERS[weather]):
            self.wanted[sensor] = self.draw.randint(1000 * low, 1000 * high)

    def drift(self, dt_ms):
        """Move the readings on at credible rates, with flicker of one chip step."""
        inputs = self.inputs
        flicker = self.draw.getrandbits(s.SENSORS)
        for sensor in range(s.SENSORS):
            raw = inputs[s.IN_RAW_MC + sensor]
            if self.stuck[sensor] > 0:
                self.stuck[sensor] -= 1
                continue
            reach = min(readings.FASTEST_MK_PER_MS[sensor] * max(dt_ms, 1), 60000)
            raw += max(-reach, min(self.wanted[sensor] - raw, reach))
            inputs[s.IN_RAW_MC + sensor] = raw + 62 * (flicker >> sensor & 1)

    def mend(self):
        """Let faults of sensors run out."""
        for sensor in range(s.SENSORS):
            if self.left[sensor] > 0:
                self.left[sensor] -= 1
                if self.left[sensor] == 0:
                    self.inputs[s.IN_RAW_CAUSE + sensor] = s.CAUSE_NONE

    def break_sensor(self):
        """Break one sensor, briefly or for long."""
        sensor = self.draw.randrange(s.SENSORS)
        self.inputs[s.IN_RAW_CAUSE + sensor] = self.draw.randint(s.CAUSE_OPEN, s.CAUSE_NOT_READY)
        self.left[sensor] = self.draw.choice((1, 3, 20, 200))

    def jump(self):
        """Make one raw value jump nearby, to a threshold or to an end; it may stick there."""
        sensor = self.draw.randrange(s.SENSORS)
        ends = (readings.LOWEST_MC[sensor], readings.HIGHEST_MC[sensor])
        near = self.inputs[s.IN_RAW_MC + sensor] + self.draw.randint(-60000, 60000)
        edge = self.draw.choice((*ends, *(row[4] for row in cfg.TABLE if row[1] == "mC"))) + self.draw.randint(-1, 1)
        extreme = (*EXTREME_MC, *ends) if self.extreme else ()
        self.inputs[s.IN_RAW_MC + sensor] = self.draw.choice((near, edge, *extreme))
        self.stuck[sensor] = self.draw.choice((0, 0, 0, 40) if not self.extreme else (0, 3, 40))

    def limit(self):
        """Keep every raw value in its sensor's range."""
        for sensor in range(s.SENSORS):
            raw = self.inputs[s.IN_RAW_MC + sensor]
            self.inputs[s.IN_RAW_MC + sensor] = max(readings.LOWEST_MC[sensor], min(raw, readings.HIGHEST_MC[sensor]))

    def meddle(self):
        """Draw hands, upkeep, flow, resets, bad memory."""
        draw, inputs = self.draw, self.inputs
        inputs[s.IN_HAND_MASK] = draw.choice((0, 0, draw.getrandbits(s.OUTPUTS) & MOVERS_MASK))
        inputs[s.IN_HAND_VALUE] = draw.getrandbits(s.OUTPUTS) & MOVERS_MASK
        inputs[s.IN_UPKEEP] = draw.choice((0, 0, 0, 0, s.UPKEEP_MAINTENANCE, s.UPKEEP_PURGE))
        inputs[s.IN_FLOW_ML_PER_MIN] = draw.choice((0, draw.randint(0, 12000), *(EXTREME_MC if self.extreme else ())))
        inputs[s.IN_FLOW_CAUSE] = draw.choice((0, 0, 0, s.CAUSE_SILENT))
        inputs[s.IN_RESETS] = draw.choice((0, 0, 0, 0, 1, 3))
        inputs[s.IN_SETTINGS_LOST] = draw.choice((0, 0, 0, 1))
        inputs[s.IN_MEMORY_BAD] = draw.choice((0, 0, 0, 1))

    def advance(self, number):
        """Draw the inputs of step `number` of this block."""
        draw = self.draw
        dt_ms = draw.choice(self.times_ms)
        self.inputs[s.IN_DT_MS] = dt_ms
        if number % (STEPS_A_BLOCK // len(self.order)) == 0:
            self.turn(self.order[number * len(self.order) // STEPS_A_BLOCK])
        self.drift(dt_ms)
        self.mend()
        if draw.random() < self.unrest:
            draw.choice((self.break_sensor, self.jump, self.meddle))()
        if self.credible:
            self.limit()


def lives(station, blocks, seed, extreme=False, credible=False):
    """Let a station live through `blocks` blocks drawn from the seed.

    `station` is a module with clear_meter, wake and step. Yields (number of the step in its block,
    state, settings, inputs of the step as bytes) after every step.
    """
    draw = random.Random(seed)
    world = World(draw, extreme, credible)
    state = array("i", [0] * s.STATE)
    for _ in range(blocks):
        settings = accepted_settings(draw)
        world.begin()
        station.clear_meter(state, settings, world.inputs)
        station.wake(state, settings, world.inputs)
        for number in range(STEPS_A_BLOCK):
            world.advance(number)
            inputs = world.inputs.tobytes()
            station.step(state, settings, world.inputs)
            yield number, state, settings, inputs


def record(station, blocks, seed, extreme=False):
    """The recording of a station's lives, with digests of what it did."""
    recording, digests = bytearray(), bytearray()
    duties, reasons = [0] * s.DUTIES, set()
    for number, state, settings, inputs in lives(station, blocks, seed, extreme):
        recording += inputs if number else settings.tobytes() + inputs
        digests += hashlib.sha256(state).digest()[:DIGEST]
        duties[state[s.DUTY]] += 1
        reasons |= {state[s.REASON], state[s.WAIT_REASON], state[s.AIR_REASON]}
    return Recorded(bytes(recording), bytes(digests), duties, reasons)
