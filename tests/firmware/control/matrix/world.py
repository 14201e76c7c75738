"""One station of bare core, with readings set by hand and a dump valve that takes its time."""

from array import array

from . import table

# Slow things are driven in longer steps, so that thousands of combinations take seconds.
LONG_MS = 20000
# Flowing glycol warms the plates from here on, by this much.
WARM_MC = 20000
WARMER_MC = 2000
BELIEVED_STEPS = 3
LETTERS = {"C": "COLLECTOR_PUMP", "T": "TANK_PUMP", "V": "DUMP_VALVE_POWER"}


class MismatchError(Exception):
    """The station does not do what the table says."""


class World:
    """One station of bare core, with readings set by hand."""

    # What looks at every step before it is taken.
    watcher = None

    def __init__(self, core, topology, settings):
        self.core = core
        self.s = core.state
        self.state = array("i", [0] * core.state.STATE)
        self.settings = array("i", [0] * core.settings.SETTINGS)
        self.inputs = array("i", [0] * core.state.INPUTS)
        core.settings.load_defaults(self.settings)
        self.set("DUMP_TOPOLOGY", table.TOPOLOGIES.index(topology))
        self.set("FLOW_SENSOR", core.settings.FLOW_SWITCH)
        # Turns long enough to see.
        self.set("EXERCISE_FOR", 60000)
        for name, value in settings.items():
            self.set(name, value)
        self.judged_by = ["collector", "outdoor"] if self.setting("OUTDOOR_FITTED") else ["collector"]
        self.frost_mc, self.travel_ms = self.setting("EXCHANGER_FROST"), self.setting("DUMP_TRAVEL")
        self.has_valve, self.open = topology != "none", self.setting("DUMP_CROSSOVER") == core.settings.OPEN
        if core.settings.broken_rule(self.settings) != core.settings.RULE_OK:
            raise MismatchError(f"{topology}: these settings are not accepted")
        # 0 never, 1 with the pump, 2 always.
        self.flows = 1
        self.plates_mc = 0
        self.time_ms = 0
        # The valve itself: 0 at the radiator, dump_travel at the exchanger. Whether glycol stands
        # in the radiator, how long it has passed the valve on its way, how long it may be frosty.
        self.valve_ms = 0
        self.stands = True
        self.passing_steps = 0
        self.frosty_steps = 0

    def set(self, setting, value):
        self.settings[getattr(self.core.settings, setting)] = value

    def copy(self):
        """A station that goes on from here."""
        other = object.__new__(World)
        other.__dict__.update(self.__dict__)
        other.state, other.inputs = array("i", self.state), array("i", self.inputs)
        other.settings = array("i", self.settings)
        return other

    def read(self, readings):
        """Set raw readings by name, in C."""
        for name, value in readings.items():
            self.inputs[self.s.IN_RAW_MC + table.SENSORS.index(name)] = value * 1000
            if name == "exchanger":
                self.plates_mc = value * 1000

    def read_at_least(self, readings):
        self.read({name: value for name, value in readings.items() if self.raw(name) < value})

    def raw(self, name):
        return self.inputs[self.s.IN_RAW_MC + table.SENSORS.index(name)] // 1000

    def weather(self, name):
        self.read(dict(zip(table.SENSORS, (*table.WEATHER[name], *table.AIR), strict=True)))

    def lose(self, sensors):
        for name in sensors:
            self.inputs[self.s.IN_RAW_CAUSE + table.SENSORS.index(name)] = self.s.CAUSE_OPEN

    def mend(self, sensor):
        self.inputs[self.s.IN_RAW_CAUSE + table.SENSORS.index(sensor)] = self.s.CAUSE_NONE

    def broken(self, sensor):
        return self.inputs[self.s.IN_RAW_CAUSE + table.SENSORS.index(sensor)] != self.s.CAUSE_NONE

    def put(self, inputs):
        """Set inputs by name."""
        for name, value in inputs.items():
            if name == "IN_FLOW_ML_PER_MIN":
                self.flows = value
            else:
                self.inputs[getattr(self.s, name)] = value

    def wake(self):
        self.core.station.wake(self.state, self.settings, self.inputs)

    def on(self):
        """The outputs of the water side that are on, as letters."""
        return "".join(letter for letter, name in LETTERS.items() if self.state[getattr(self.s, name + "_ON")])

    def fan_on(self):
        """Whether the air heater's fan is on."""
        return self.state[self.s.AIR_FAN_ON] != 0

    def setting(self, name):
        return self.settings[getattr(self.core.settings, name)]

    def frosty(self):
        """Whether glycol outdoors may be frosty, by readings as they are."""
        return any(self.broken(sensor) or self.raw(sensor) * 1000 < self.frost_mc for sensor in self.judged_by)

    def move_valve(self, dt_ms):
        """The valve goes where it was sent."""
        way = dt_ms if self.state[self.s.DUMP_VALVE_POWER_ON] else -dt_ms
        self.valve_ms = max(0, min(self.valve_ms + way, self.travel_ms))

    def judge_valve(self):
        """No glycol moves while the valve does, if its crossover is closed or the glycol frosty.

        A jump into frost is believed at its third reading. That a valve was sent through frost is
        known in the next step.
        """
        self.frosty_steps = self.frosty_steps + 1 if self.open and self.frosty() else 0
        end_ms = self.travel_ms if self.state[self.s.DUMP_VALVE_POWER_ON] else 0
        pumps = self.state[self.s.COLLECTOR_PUMP_ON]
        passes = self.valve_ms != end_ms and pumps and self.has_valve
        self.passing_steps = self.passing_steps + 1 if passes else 0
        leaves = self.valve_ms in (0, self.travel_ms)
        slug = self.stands and self.frosty_steps > BELIEVED_STEPS and not leaves
        if leaves:
            self.stands = self.valve_ms > 0 or not pumps
        if passes and (slug or not self.open):
            raise MismatchError("glycol moves while the valve does")

    def step(self, dt_ms):
        self.move_valve(dt_ms)
        self.inputs[self.s.IN_FLOW_ML_PER_MIN] = (self.flows + self.state[self.s.COLLECTOR_PUMP_ON]) // 2
        # Plates take up the water's warmth while it moves.
        warmer = WARMER_MC if self.state[self.s.TANK_PUMP_ON] and self.plates_mc >= WARM_MC else 0
        self.inputs[self.s.IN_RAW_MC + self.s.EXCHANGER] = self.plates_mc + warmer
        self.inputs[self.s.IN_DT_MS] = dt_ms
        if self.watcher:
            self.watcher(self)
        self.core.station.step(self.state, self.settings, self.inputs)
        self.time_ms += dt_ms
        if self.state[self.s.GUARD_ACTIONS] != 0:
            raise MismatchError("the guard had to act")
        self.judge_valve()

    def run(self, seconds, dt_ms=LONG_MS):
        for _ in range(-(-seconds * 1000 // dt_ms)):
            self.step(dt_ms)

    def found(self):
        """Duty, reason and outputs, in words."""
        fan = ", the fan on" if self.fan_on() else ""
        return f"{self.s.DUTY_NAMES[self.state[self.s.DUTY]]}, {self.reason()}, {self.on() or 'all off'}{fan}"

    def reason(self):
        names = vars(self.core.reasons).items()
        return next((name for name, code in names if name.isupper() and code == self.state[self.s.REASON]), "?")

    def decided(self, claim):
        """Whether duty and reason are the claim's."""
        duty = self.s.DUTY_NAMES[self.state[self.s.DUTY]]
        return duty == claim.duty and (not claim.reason or self.state[self.s.REASON] == getattr(self.core.reasons, claim.reason))
