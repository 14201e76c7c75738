"""Steps taken twice: as they are, and with one thing changed that a fact must not hang on."""

from collections import Counter

from . import facts, table

HANDS = 7
GUARDS = "GUARD_COLLECTOR_MS GUARD_TANK_MS GUARD_HOLD_MS GUARD_ACTIONS"


def split(rows):
    """Each name of a table with the set of what it may hang on."""
    return {name: set(hangs_on.split()) for names, hangs_on in rows.items() for name in names.split()}


def changed(world, what, how):
    """A copy of the station with one thing changed, None if it is like that already."""
    other, s, cfg = world.copy(), world.s, world.core.settings
    if what == "topology":
        array, place, value = other.settings, cfg.DUMP_TOPOLOGY, table.TOPOLOGIES.index(how)
    elif what == "away":
        array, place, value = other.settings, cfg.AWAY, 1 - other.settings[cfg.AWAY]
    elif what == "duty":
        array, place, value = other.state, s.DUTY, s.DUTY_NAMES.index(how)
    elif what == "hands":
        array, place, value = other.inputs, s.IN_HAND_MASK, HANDS - other.inputs[s.IN_HAND_MASK]
    elif what == "purging":
        array, place, value = other.inputs, s.IN_UPKEEP, 2 - other.inputs[s.IN_UPKEEP]
    else:
        return without(other, what)
    if array[place] == value:
        return None
    array[place] = value
    return other


def without(other, sensor):
    """The station without a sensor; None if it has none already."""
    s, number = other.s, table.SENSORS.index(sensor)
    if other.state[s.STATUS + number] > s.HELD:
        return None
    other.state[s.STATUS + number], other.state[s.VALUE_MC + number] = s.LOST, s.UNKNOWN_MC
    other.inputs[s.IN_RAW_CAUSE + number] = s.CAUSE_OPEN
    return other


def all_changes():
    """(what, how) of everything that can be changed."""
    found = [("topology", name) for name in table.TOPOLOGIES] + [("duty", name) for name in facts.DUTIES]
    return found + [(what, "") for what in ("hands", "purging", "away", *table.SENSORS)]


class Watcher:
    """Looks at steps in which a fact changes: a few of each kind, in each topology."""

    SAME = 2

    def __init__(self, facts_of):
        self.facts = facts_of
        self.seen = Counter()
        self.found = []

    def __call__(self, world):
        news = (world.settings[world.core.settings.DUMP_TOPOLOGY], self.facts.news(world))
        self.seen[news] += 1
        if news[1] and self.seen[news] <= self.SAME:
            self.found += self.facts.of_a_step(world) + self.facts.of_the_guard(world)


class Facts:
    """The facts of one core: places in the state, bits, and what each may hang on."""

    def __init__(self, core):
        s, c, alarms = core.state, core.conditions, core.alarms
        self.core = core
        places = {getattr(s, name): hangs_on for name, hangs_on in split(facts.STATE).items()}
        for names, count in ((facts.EACH_SENSOR, s.SENSORS), (facts.EACH_GUARDED, s.GUARDED)):
            for name in names.split():
                for sensor in range(count):
                    places[getattr(s, name) + sensor] = self.own(sensor, name)
        self.places = places
        timers = {getattr(s, name) for name in split(facts.STATE) if name.endswith(("_MS", "_S", "_ML", "_REST"))}
        words = {s.CONDITIONS + word for word in range(c.CONDITION_WORDS)}
        self.lasting = sorted((set(places) - timers | words | {s.ALARMS}) - set(range(s.AGE_MS, s.FROZEN_MC)))
        self.bits = {}
        for name, hangs_on in split(facts.CONDITIONS).items():
            number = getattr(c, name)
            self.bits[s.CONDITIONS + number // c.BITS, 1 << number % c.BITS] = hangs_on
        for name, hangs_on in split(facts.ALARMS).items():
            self.bits[s.ALARMS, getattr(alarms, "ALARM_" + name)] = hangs_on
        self.times = {}
        for name, hangs_on in split(facts.TIMES).items():
            count = {"OUTPUT_MS": s.OUTPUTS, "UNMOVED_S": s.MOVERS}.get(name, 1)
            self.times.update({getattr(s, name) + number: hangs_on for number in range(count)})
        self.guard = dict.fromkeys(range(s.GUARD_MC, s.GUARD_ACTIONS + 1), set(facts.GUARD.split()))
        self.guard.update({s.COMMAND + output: set(facts.GUARD.split()) for output in s.MOVING})

    def own(self, sensor, name):
        """What an entry of one sensor may hang on."""
        own = table.SENSORS[sensor]
        return {own} if name.startswith("GUARD") else {own, *facts.BESIDES.get(own, "").split()}

    def name_of(self, place, bit=0):
        """An entry of the state, in words."""
        s, known = self.core.state, f"{facts.EACH_SENSOR} {facts.EACH_GUARDED} {GUARDS}".split()
        known += [*split(facts.STATE), *split(facts.TIMES), "CONDITIONS", "ALARMS", "COMMAND"]
        name = max((name for name in known if getattr(s, name) <= place), key=lambda name: getattr(s, name))
        more = place - getattr(s, name)
        return name + (f" + {more}" if more else "") + (f", bit {bit.bit_length() - 1}," if bit else "")

    def differ(self, call, world, places, bits):
        """What hangs on something that it must not, over all changes of this station."""
        whole = world.copy()
        call(whole)
        found = []
        duty = world.s.DUTY_NAMES[world.state[world.s.DUTY]]
        for what, how in all_changes():
            other = changed(world, what, how)
            if other is None:
                continue
            call(other)
            may = {duty, how} if what == "duty" else {what}
            for place, hangs_on in places.items():
                if other.state[place] != whole.state[place] and not may & hangs_on:
                    found.append(f"{self.name_of(place)} hangs on {what} {how}")
            for (place, bit), hangs_on in bits.items():
                if not may & hangs_on and (other.state[place] ^ whole.state[place]) & bit:
                    found.append(f"{self.name_of(place, bit)} hangs on {what} {how}")
        return found

    def news(self, world):
        """The facts, other than timers, that the next step changes; as a text of places."""
        after = world.copy()
        after.core.station.step(after.state, after.settings, after.inputs)
        return tuple(place for place in self.lasting if after.state[place] != world.state[place])

    def of_a_step(self, world):
        return self.differ(lambda one: one.core.station.step(one.state, one.settings, one.inputs), world, self.places, self.bits)

    def of_the_guard(self, world):
        """The guard's own, with the pumps commanded on."""

        def gate(one):
            for output in one.s.MOVING:
                one.state[one.s.COMMAND + output] = 1
            one.core.guard.gate(one.state, one.settings, one.inputs)

        return self.differ(gate, world, self.guard, {})

    def of_time(self, world):
        return self.differ(lambda one: one.core.sequence.pass_time(one.state, one.settings, one.inputs), world, self.times, {})
