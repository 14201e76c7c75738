"""The script language of the relay-truth sequences, and the machine that runs it.

A sequence is plain data: {"name", "settings": {name: value}, "script": [[word, ..], ..]}. The
words:

    ["phase", text]                          what the next lines show; a failure names its phase
    ["step_ms", dt_ms]                       length of a step from now on (5000 at the start)
    ["set", {sensor: mc, ..}]                raw values that the driver trusts; the next step
                                             believes them; at most 2 ms pass
    ["jump", {sensor: mc, ..}]               the same, but the next step is the first to read them
    ["break", sensor, cause]                 the driver distrusts the sensor from now on
    ["restore", sensor]                      the driver trusts its raw value again
    ["ramp", sensor, to_mc, mk_per_s, facts] raw value moves; facts must hold after every step
    ["swing", sensor, one_mc, two_mc, ms, facts]  raw value alternates step by step
    ["resets", count]                        watchdog resets that the port has counted
    ["flow", ml_per_min]                     the flow input reads this (silent at the start)
    ["flow_break", cause]                    the flow input is not trusted from now on
    ["hand", {output: 0 or 1, ..}]           somebody holds these outputs by hand, and no others
    ["upkeep", name]                         UPKEEP_NONE, UPKEEP_MAINTENANCE or UPKEEP_PURGE
    ["settings_lost", 0 or 1]                whether the board had to load the defaults
    ["memory_bad", 0 or 1]                   whether the board's flash refuses to be written
    ["reset"]                                the station starts as after a reset
    ["keep", ms, facts]                      time passes; facts must hold after every step
    ["becomes", low_ms, high_ms, facts]      facts begin to hold between low_ms and high_ms from now
    ["expect", facts]                        facts must hold now

A fact is {key: value}: an output's name and 0 or 1; "duty" and its name; "reason", "wait" or "air"
(the fan's reason) and the name of the code; or a name of state.py and a number or another name of
state.py ("COLLECTOR_STATUS": "LOST"). "alarms" is the whole set of alarms, as a list of their names
in alarms.py without the prefix.

Until the script sets the exchanger's plates they read as in a healthy plant: as warm as the
arriving glycol, or as the collector if loop_supply is not fitted, and never colder than the room.
"""

from array import array
from binascii import crc32

STEP_MS = 5000
# The core believes a single reading this close to the last good one.
NOISE_MK = 1000
# Temperature of the room around the plates.
ROOM_MC = 15000
FLICKER_MS = 1500000
# In every script a collector in the sun is warmer than this.
WARM_MC = 25000


class ScriptError(Exception):
    """The sequence itself is wrong, not the core."""


def index_of(control, key):
    """The place of a fact in the state array."""
    names = control.state
    if key in names.OUTPUT_NAMES:
        return names.COMMAND + names.OUTPUT_NAMES.index(key)
    if key == "duty":
        return names.DUTY
    if key == "reason":
        return names.REASON
    if key == "wait":
        return names.WAIT_REASON
    if key == "air":
        return names.AIR_REASON
    if key == "alarms":
        return names.ALARMS
    return getattr(names, key)


def number_of(control, key, value):
    """A fact's value as an integer."""
    if key == "alarms":
        return sum(getattr(control.alarms, "ALARM_" + name) for name in value)
    if not isinstance(value, str):
        return value
    if key == "duty":
        return control.state.DUTY_NAMES.index(value)
    if key in ("reason", "wait", "air"):
        return getattr(control.reasons, value)
    return getattr(control.state, value)


class Run:
    """A sequence on a control core. Results: `failures`, `trace` and `guard_actions`."""

    def __init__(self, control, sequence, after_step=None):
        self.control = control
        self.script = sequence["script"]
        self.after_step = after_step
        self.state = array("i", [0] * control.state.STATE)
        self.settings = array("i", [0] * control.settings.SETTINGS)
        self.inputs = array("i", [0] * control.state.INPUTS)
        self.step_ms = STEP_MS
        self.phase = ""
        self.time_ms = 0
        self.failures = []
        self.trace = []
        self.guard_actions = 0
        self.plates_follow = True
        self.collector_lives = True
        self.same_ms = 0
        self.held_mc = 0
        self.inputs[control.state.IN_FLOW_CAUSE] = control.state.CAUSE_SILENT
        control.settings.load_defaults(self.settings)
        for name, value in sequence["settings"].items():
            self.settings[getattr(control.settings, name.upper())] = value
        if control.settings.broken_rule(self.settings) != control.settings.RULE_OK:
            raise ScriptError(sequence["name"] + ": these settings are not accepted")
        control.station.clear_meter(self.state, self.settings, self.inputs)
        self.word_reset()

    def run(self):
        """Run the whole script, even after failures, so that the trace is always complete."""
        for line in self.script:
            getattr(self, "word_" + line[0])(*line[1:])
        return self

    def sensor(self, name):
        return self.control.state.SENSOR_NAMES.index(name)

    def fail(self, key, wanted, found):
        """Record a failure: phase, time, fact, wanted and found values."""
        self.failures.append([self.phase, self.time_ms, key, wanted, found])

    def decide(self):
        self.control.station.step(self.state, self.settings, self.inputs)

    def step(self):
        """Make a step and trace it."""
        names = self.control.state
        self.inputs[names.IN_DT_MS] = self.step_ms
        if self.plates_follow:
            self.warm_plates()
        if self.collector_lives:
            self.flicker()
        else:
            self.decide()
        self.time_ms += self.step_ms
        self.note()
        # A reset clears the guard's own count, so keep the highest.
        if self.state[names.GUARD_ACTIONS] > self.guard_actions:
            self.guard_actions = self.state[names.GUARD_ACTIONS]
        if self.after_step is not None:
            self.after_step(self)

    def note(self):
        """Trace a step: duty, three reasons, hash of the whole state."""
        names, state = self.control.state, self.state
        wait, air = state[names.WAIT_REASON], state[names.AIR_REASON]
        self.trace.append((state[names.DUTY], state[names.REASON], wait, air, crc32(state)))

    def flicker(self):
        """Make a step with a live collector, whose reading in the sun flickers now and then."""
        place = self.control.state.IN_RAW_MC + self.control.state.COLLECTOR
        self.same_ms = self.same_ms + self.step_ms if self.inputs[place] == self.held_mc else 0
        self.held_mc = self.inputs[place]
        if self.same_ms >= FLICKER_MS and self.held_mc >= WARM_MC:
            self.same_ms = 0
            self.inputs[place] -= 1
        self.decide()
        self.inputs[place] = self.held_mc

    def warm_plates(self):
        """Set the exchanger's reading as in a healthy plant."""
        names = self.control.state
        fitted = self.settings[self.control.settings.LOOP_SUPPLY_FITTED]
        arriving = self.inputs[names.IN_RAW_MC + (names.LOOP_SUPPLY if fitted else names.COLLECTOR)]
        self.inputs[names.IN_RAW_MC + names.EXCHANGER] = max(arriving, ROOM_MC)

    def places(self, facts):
        """The facts as key, place in the state and wanted value: looked up once for many steps."""
        return [(key, index_of(self.control, key), number_of(self.control, key, facts[key])) for key in sorted(facts)]

    def all_hold(self, places):
        """Whether all of them hold now."""
        return all(self.state[place] == wanted for _, place, wanted in places)

    def judge(self, places):
        """Record those that do not hold now."""
        for key, place, wanted in places:
            if self.state[place] != wanted:
                self.fail(key, wanted, self.state[place])

    def word_phase(self, text):
        self.phase = text

    def word_step_ms(self, step_ms):
        self.step_ms = step_ms

    def word_set(self, readings):
        self.word_jump(readings)
        self.settle(readings)

    def settle(self, names):
        """Read twice within 2 ms what has jumped: the next reading is the third to agree."""
        if not any(self.jumps(self.sensor(name)) for name in names):
            return
        step_ms = self.step_ms
        self.step_ms = 1
        self.step()
        self.step()
        self.step_ms = step_ms

    def jumps(self, sensor):
        """Whether a trusted sensor's raw value is more than noise away from its last good one."""
        names = self.control.state
        away = abs(self.inputs[names.IN_RAW_MC + sensor] - self.state[names.VALUE_MC + sensor])
        return names.trusted(self.state, sensor) and away > NOISE_MK

    def word_jump(self, readings):
        if "exchanger" in readings:
            self.plates_follow = False
        for name, value in readings.items():
            self.inputs[self.control.state.IN_RAW_MC + self.sensor(name)] = value
            self.word_restore(name)

    def word_stick(self, name):
        """Let the collector read exactly what the script says from now on, like a stuck sensor."""
        if name != "collector":
            raise ScriptError(name + ": only the collector flickers by itself")
        self.collector_lives = False

    def word_break(self, name, cause):
        self.inputs[self.control.state.IN_RAW_CAUSE + self.sensor(name)] = getattr(self.control.state, cause)

    def word_restore(self, name):
        self.inputs[self.control.state.IN_RAW_CAUSE + self.sensor(name)] = self.control.state.CAUSE_NONE

    def word_ramp(self, name, to_mc, mk_per_s, facts):
        if name == "exchanger":
            self.plates_follow = False
        place = self.control.state.IN_RAW_MC + self.sensor(name)
        stride = max(1, mk_per_s * self.step_ms // 1000)
        wanted = self.places(facts)
        while self.inputs[place] != to_mc:
            left = to_mc - self.inputs[place]
            self.inputs[place] += max(-stride, min(stride, left))
            self.step()
            self.judge(wanted)
        self.settle([name])

    def word_swing(self, name, one_mc, two_mc, span_ms, facts):
        place = self.control.state.IN_RAW_MC + self.sensor(name)
        wanted = self.places(facts)
        for count in range(span_ms // self.step_ms):
            self.inputs[place] = two_mc if count % 2 else one_mc
            self.step()
            self.judge(wanted)

    def word_resets(self, count):
        self.inputs[self.control.state.IN_RESETS] = count

    def word_flow(self, ml_per_min):
        self.inputs[self.control.state.IN_FLOW_ML_PER_MIN] = ml_per_min
        self.inputs[self.control.state.IN_FLOW_CAUSE] = self.control.state.CAUSE_NONE

    def word_flow_break(self, cause):
        self.inputs[self.control.state.IN_FLOW_CAUSE] = getattr(self.control.state, cause)

    def word_hand(self, held):
        names = self.control.state
        mask = value = 0
        for name in held:
            output = names.OUTPUT_NAMES.index(name)
            mask |= 1 << output
            value |= held[name] << output
        self.inputs[names.IN_HAND_MASK] = mask
        self.inputs[names.IN_HAND_VALUE] = value

    def word_upkeep(self, name):
        self.inputs[self.control.state.IN_UPKEEP] = getattr(self.control.state, name)

    def word_settings_lost(self, lost):
        self.inputs[self.control.state.IN_SETTINGS_LOST] = lost

    def word_memory_bad(self, bad):
        self.inputs[self.control.state.IN_MEMORY_BAD] = bad

    def word_reset(self):
        self.control.station.wake(self.state, self.settings, self.inputs)

    def word_keep(self, span_ms, facts):
        if span_ms % self.step_ms:
            raise ScriptError(f"{span_ms} ms are not whole steps of {self.step_ms} ms")
        wanted = self.places(facts)
        for _ in range(span_ms // self.step_ms):
            self.step()
            self.judge(wanted)

    def word_becomes(self, low_ms, high_ms, facts):
        begun = self.time_ms
        wanted = self.places(facts)
        self.step()
        while not self.all_hold(wanted) and self.time_ms - begun < high_ms:
            self.step()
        if not self.all_hold(wanted):
            self.judge(wanted)
        elif self.time_ms - begun < low_ms:
            self.fail("too early", low_ms, self.time_ms - begun)

    def word_expect(self, facts):
        self.judge(self.places(facts))
