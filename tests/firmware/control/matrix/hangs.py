"""What each function of the core may hang on, and a core that minds it.

A test of a function pins it at one station: idle, with a bypass, at home, every sensor read. So
each call that a test makes is repeated on copies in which something else is changed: topology,
duty, hands, purging, an absence, a sensor lost. Unless the table says that the function may hang
on it, answer and state have to come out the same.
"""

import functools
from array import array
from collections import Counter

from . import changes, table

CHANGES = changes.all_changes()
# Calls of a function in one test that are repeated: a test that drives a day says no more.
REPEATED = 50
TANK = "tank_low tank_high"
SENSORS = " ".join(table.SENSORS)
WATER = " ".join(table.WATER_SENSORS)
DUTIES = "charging dumping night_cooling exercise hand"
# Calls many, and each of those is in the table.
ANYTHING = f"topology duty hands purging away {SENSORS}"
# A duty means: whether it is that one. Written from the design, as matrix/facts.py is.
FUNCTIONS = {
    # The fan hangs on no duty, topology, absence or hand of the water side.
    "air": {
        "known latch_air runs_on has_turn own_reason hand_reason reason": "air_collector room",
        "latch_room": "room",
        "too_hot rest_reason": "air_collector",
        "watch_season": "outdoor",
        "draws_back watch_back move_fan": "air_collector room outdoor",
        "stopped": "",
    },
    "alarms": {
        "collect_plant_alarms": f"dumping exchanger {TANK}",
        "collect_station_alarms": "collector",
        "notice": f"night_cooling {SENSORS}",
        "watch_air": "night_cooling collector outdoor",
        "speak": ANYTHING,
        "tracks watch_unbidden": "collector loop_supply",
        "watch_tap": "tap",
        "water_moves": "exchanger loop_supply loop_return",
    },
    "coldloop": {
        "air_mc": "outdoor",
        "count_pumped note_warm": "collector loop_supply loop_return",
        "flush_radiator": "topology outdoor",
        "glycol_sinks": "topology charging loop_supply loop_return",
        "leaves_frosty": "exchanger loop_supply loop_return",
        "know_loop rise judge_air": "topology collector outdoor",
        "fold_lowest": "",
        "fold_outdoor": "outdoor",
        "at_station_mc": "loop_supply loop_return",
        "pipes_mc": "topology collector outdoor tank_high tap",
        "track_loop": ANYTHING,
        "sun_arrived": "charging loop_supply",
    },
    "collect": {
        "collect": ANYTHING,
        "collect_faults": "collector outdoor",
        "collect_given_up turn_due": "",
        "collect_hands": "hands purging",
        "collect_plant": f"topology charging collector outdoor exchanger {TANK}",
        "collect_sun": "charging collector",
    },
    "diagnosis": {
        "astray": "exchanger loop_supply",
        "bar_dump give_up_flow forget_flow_fault flow_seen watch_flow far_limit_ms": "",
        "forget_dump_fault": f"collector exchanger {TANK}",
        "dump_heats": f"exchanger {TANK}",
        "dump_overheats": "exchanger",
        "dump_works": "collector outdoor loop_supply loop_return",
        "should_warm": f"collector loop_supply {TANK}",
        "effect_permille left_mc": "topology collector loop_supply loop_return exchanger",
        "far": "charging collector loop_supply",
        "looks_swapped": f"collector outdoor {TANK}",
        "waits_for_heat": "charging exchanger loop_supply",
        "watch": ANYTHING,
        "watch_apart": "topology charging collector loop_supply",
        "watch_dump": f"topology dumping collector outdoor loop_supply loop_return exchanger {TANK}",
        "watch_exchanger": "topology charging collector loop_supply loop_return exchanger tank_high",
        "watch_far": f"charging collector loop_supply outdoor {TANK}",
        "watch_joining": "topology charging collector exchanger loop_supply loop_return",
        "note_leaving": "loop_supply loop_return",
    },
    "frost": {
        "air_frosty": "outdoor",
        "dump_frosty": "topology outdoor",
        "frost_over": "frost_guard exchanger",
        "glycol_stiff": "collector outdoor",
        "latch_frost": "topology charging frost_guard exchanger loop_supply loop_return",
        "loop_frosty need_mc hand_refused": "",
        "valve_end_needed": "charging outdoor",
        "tank_too_cold": f"topology charging collector exchanger {TANK}",
        "water_first": "charging",
        "keep_proof": "charging exchanger",
        "water_proven": "exchanger",
        "watch_plates": "topology charging exchanger",
        "water_waited": "charging exchanger",
        "yield_to_the_sun": "frost_guard exchanger collector",
    },
    "guard": {
        "listen possible gate": f"collector loop_supply {TANK}",
        "believable chills count_agreeing known measure_collector measure_tank": "",
        "must_act over reach_mk release_all steams unseen_ms": "",
    },
    "latches": {
        "latch_cooling": f"away collector loop_supply {TANK}",
        "latch_difference latch_dump": "collector",
        # A collector at its limit may show at any sensor.
        "latch_steam hot_elsewhere shows_steam": WATER,
        "observe": ANYTHING,
        "watch_radiator": "topology collector",
    },
    "readings": {
        "age_limit_ms fitted near_mk reach_mk": "",
        "credible grow_old judge sensor_lost watch_still": SENSORS,
        "judge_all": ANYTHING,
        "heat_passes watch_frozen": f"loop_supply {TANK}",
        "still_limit_s stuck": "outdoor loop_supply",
    },
    "rules": {"decide": ANYTHING, "first_row": ""},
    "sequence": {
        "age put hand_pump_refused": "",
        "count_start": "hand exercise",
        "choose_turn": "exercise",
        "held": "hand hands collector",
        "hand_wait move_valve rest_movers": "topology",
        "path_open": "topology charging outdoor",
        "join_asked": "exercise hands exchanger",
        "join_charging": "topology charging exchanger loop_supply collector",
        "join_cooling": "topology collector loop_supply",
        "move_outputs": ANYTHING,
        "move_collector_pump": f"topology {DUTIES} hands exchanger collector",
        "pass_time": "topology dumping",
        "pump_wait": "topology charging exchanger collector",
        "pump_wanted": f"{DUTIES} hands",
        "rests": "charging collector",
        "run_on run_on_over": "fault_stop maintenance loop_supply",
        "tank_pump_wanted": f"topology {DUTIES} frost_guard fault_stop maintenance hands exchanger loop_supply collector",
        "valve_wanted": f"topology {DUTIES} hands collector",
        "wear": "dumping",
    },
    "tank": {
        "leaving_mc": "loop_return exchanger tank_high",
        "takes_heat watch_taking watch_unwarmed": f"loop_supply collector loop_return exchanger {TANK}",
        "above_limit hottest_seen_mc latch_full latch_over": "tank_high",
        "crossed take_hottest take_reference time_above": TANK,
        "glycol_cold": "topology collector loop_supply",
        "glycol_warm": "topology exchanger loop_supply collector",
        "hand_refused plates_cold plates_hot": "exchanger",
        "has_room": "charging",
        "inversion_mk off_scale ran_enough": "",
        "latch_hot": "collector loop_supply",
        "pump_barred": f"collector loop_supply {TANK}",
        "time_beyond": f"charging loop_supply {TANK}",
        "top_still": "tank_high",
        "time_plates timed_through": "topology",
    },
}


class HangsOnMoreError(AssertionError):
    """A function hangs on something that it must not."""


class Station:
    """A station in somebody's arrays, as changes.py takes it."""

    def __init__(self, core, arrays):
        self.core, self.s = core, core.state
        self.state, self.settings, self.inputs = arrays

    def copy(self):
        return Station(self.core, [array("i", one) for one in self.arrays])

    @property
    def arrays(self):
        return self.state, self.settings, self.inputs

    @property
    def duty(self):
        return self.s.DUTY_NAMES[self.state[self.s.DUTY]]


class Watched:
    """A module of the core as a test sees it: its listed functions are minded."""

    def __init__(self, minder, module):
        vars(self).update(_minder=minder, _module=module)

    def __getattr__(self, name):
        value = getattr(self._module, name)
        return self._minder.wrappers.get(value, value) if callable(value) else value

    def __setattr__(self, name, value):
        setattr(self._module, name, getattr(value, "__wrapped__", value))

    def __delattr__(self, name):
        delattr(self._module, name)


class Minder:
    """Minds what the functions of a core hang on, also those that a function under test calls."""

    def __init__(self, core):
        self.core = core
        self.wrappers = {}
        # Where each name is bound: modules import functions of each other.
        self.bound = []
        self.inside = self.busy = False
        self.calls = Counter()
        for module, groups in FUNCTIONS.items():
            for names, words in groups.items():
                for name in names.split():
                    function = getattr(getattr(core, module), name)
                    self.wrappers[function] = self.minded(function, set(words.split()))
        for module in {function.__module__: function.__globals__ for function in self.wrappers}.values():
            self.bound += [(module, name, value) for name, value in module.items() if callable(value) and value in self.wrappers]

    def minded(self, function, hangs_on):
        """The function; each call is repeated on changed copies of its arrays."""

        @functools.wraps(function)
        def call(*arguments):
            if self.busy or self.calls[function] >= REPEATED:
                return self.with_inner(function, arguments)
            self.calls[function] += 1
            whole = Station(self.core, arguments[:3])
            before = whole.copy()
            result = self.with_inner(function, arguments)
            self.busy = True
            try:
                self.repeat(function, hangs_on, (before, whole, result), arguments[3:])
            finally:
                self.busy = False
            return result

        return call

    def with_inner(self, function, arguments):
        """The function's own result, with what it calls minded too."""
        if self.inside or self.busy:
            return function(*arguments)
        self.inside = True
        mine = [(module, name, value) for module, name, value in self.bound if module[name] is value]
        for module, name, value in mine:
            module[name] = self.wrappers[value]
        try:
            return function(*arguments)
        finally:
            self.inside = False
            for module, name, value in mine:
                module[name] = value

    def repeat(self, function, hangs_on, once, more):
        """Call it on a copy with each change that it must not hang on."""
        before, whole, result = once
        for what, how in CHANGES:
            if what in hangs_on or (what == "duty" and {how, before.duty} & hangs_on):
                continue
            other = changes.changed(before, what, how)
            if other is None:
                continue
            start = array("i", other.state)
            found = function(*other.arrays, *more)
            if found != result or differ(start, other.state, before.state, whole.state):
                raise HangsOnMoreError(f"{function.__name__} hangs on {what} {how}".rstrip())


def differ(other_before, other_after, before, after):
    """Whether two calls wrote something else."""
    if other_after == other_before and after == before:
        return False
    pairs = zip(other_before, other_after, before, after, strict=True)
    return any(mine != other and (mine != was or other != had) for had, other, was, mine in pairs)


def watch(core):
    """The core, with the functions of the table minded when a test calls one."""
    core.minder = minder = Minder(core)
    for module in FUNCTIONS:
        setattr(core, module, Watched(minder, getattr(core, module)))
    return core
