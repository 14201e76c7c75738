"""Drives the bare core through every combination of the tables, and compares.

No plant: readings are set by hand. Only the flow switch follows the collector pump. A combination
is a topology, a situation, lost sensors and a hazard; its stages are: the hazard comes; it is
remembered where a latch has to; people leave; the hazard is over. Before that, the station has to
be in its situation, and has to do without the sensor what the tables say.
"""

from typing import NamedTuple

from . import hazards, table
from .world import LETTERS, LONG_MS, MismatchError, World

STEP_MS = 5000
# The valve's way, a rest, and a run-on.
LATE_S = 500
# A situation is reached within this; the loop takes 200 s to be pumped round, the valve 120 s.
REACHED_S = 900
LOST_S = 80
# So long it charges before it goes anywhere: the valve has arrived.
DAY_S = 130
# The fan's rest, and its sensors after a reset.
FAN_RESTS_S = 620
# A lost sensor is reported after two minutes.
ALARM_S = 125
NOBODY = {"IN_UPKEEP": 0, "IN_HAND_MASK": 0, "IN_HAND_VALUE": 0, "IN_RESETS": 0, "IN_FLOW_ML_PER_MIN": 1}
# How long it has to last.
LASTS_STEPS = 2
RANKS = {claim.name: (rank, claim) for rank, claim in enumerate(table.CLAIMS)}
SITUATIONS = {situation.name: situation for situation in table.SITUATIONS}
HAZARDS = {hazard.name: hazard for hazard in hazards.HAZARDS}


class Place(NamedTuple):
    """A situation in a topology without some sensors, during an absence, with an open crossover."""

    topology: str
    situation: str
    lost: str
    away: bool = False
    open: bool = False

    def __str__(self):
        ways = f"{'away, ' if self.away else ''}{'open crossover, ' if self.open else ''}"
        return f"{self.topology}, {self.situation}, {ways}without {self.lost}"

    @property
    def gone(self):
        """What is not read, lost or never fitted."""
        return self.lost.removeprefix("no ") if self.unfitted else self.lost

    @property
    def unfitted(self):
        """The settings that say what is not fitted."""
        return table.LOSSES[self.lost].settings

    @property
    def air(self):
        """The settings of an air heater, if there is one."""
        return table.LOSSES[self.lost].fitted

    @property
    def whole(self):
        """The same place before a sensor is lost."""
        if self.unfitted:
            return self
        return self._replace(lost=table.BESIDE_AIR if self.air else "nothing")


class Expected(NamedTuple):
    """What is to be seen."""

    claim: table.Claim
    on: str
    barred: str
    fan: bool


def chosen(claim, place):
    """A claim, or the one for this place's topology."""
    return claim[place.topology] if isinstance(claim, dict) else claim


def by_weather(claims, weather, lost=""):
    """The claim of a weather without a sensor, of the weather, or of any."""
    return claims.get((weather, lost), claims.get(weather, claims.get("any")))


def radiator_is_frosty(place, weather, hazard):
    """Whether a radiator in series may bring frost into the exchanger.

    Air that nobody reads any more was mild: that is enough for a collector at the dump threshold,
    unless a reset has forgotten it or the night was cool.
    """
    forgotten = weather == "cool night" or (hazard is not None and hazard.name == "a reset")
    unknown = place.gone == "outdoor" and (forgotten or collector_of(place, hazard) < table.DUMP_FROM_C)
    frosty = weather in table.FROSTY_AIR or unknown
    return place.topology == "series" and (frosty or (hazard is not None and hazard.name == "frosty air"))


def claims_of(place, hazard, left=False):
    """The names of all claims: of the situation, the loss, and the hazard. `left`: people have."""
    situation, loss = SITUATIONS[place.situation], table.LOSSES[place.lost]
    weather = situation.weather
    names = [chosen(claim, place) for claim in situation.claims]
    if left:
        names = [name for name in names if name not in table.PEOPLE]
    names.append(chosen(by_weather(loss.claims, weather), place))
    gone = set(loss.drops)
    if hazard is not None:
        names.append(chosen(by_weather(hazard.claims, weather, place.gone), place))
        gone |= set(hazard.drops)
    return [name for name in names if name and name not in gone]


def collector_of(place, hazard):
    """The collector's reading, in C."""
    now = table.WEATHER[SITUATIONS[place.situation].weather][0]
    if hazard is None:
        return now
    return hazard.readings.get("collector", max(now, hazard.at_least.get("collector", now)))


def claim_of(place, hazard, left):
    """The highest claim. In series, what would send glycol into a frosty radiator is refused."""
    names = claims_of(place, hazard, left)
    hot = collector_of(place, hazard) >= table.DUMP_FROM_C and place.topology in table.RADIATOR
    if hot and set(names) & set(table.GIVEN_UP):
        names.append("given up, dump")
    ranked = [claim for _, claim in sorted(RANKS[name] for name in names)]
    claim = ranked[0]
    if claim.name == "frost" and hot and place.topology == "bypass" and ranked[1].duty == "dumping":
        # The radiator passes the plates by.
        claim = ranked[1]
    uses_radiator = claim.duty in ("dumping", "night_cooling")
    if uses_radiator and radiator_is_frosty(place, SITUATIONS[place.situation].weather, hazard):
        return RANKS[table.NAMED_IN_FROST.get(claim.name, "series frost")][1]
    if hazard is not None and claim.name in hazard.turns_into:
        return RANKS[hazard.turns_into[claim.name]][1]
    if claim.name == "frost" and hazard is not None and hazard.yields and ranked[1].name == "charging":
        return ranked[1]
    return claim


def for_place(bars, place):
    """The bars for this place, out of a table by weather, topology or lost sensor."""
    while isinstance(bars, dict):
        weather = SITUATIONS[place.situation].weather
        keys = (place.gone, weather, place.topology, "away" if place.away else "home")
        bars = next((bars[key] for key in keys if key in bars), "")
    return bars


def bars_of(place, hazard):
    """The outputs that limits bar to people."""
    situation, loss = SITUATIONS[place.situation], table.LOSSES[place.lost]
    return "".join(for_place(bars, place) for bars in (situation.bars, loss.bars, hazard.bars if hazard else ""))


def less(letters, gone):
    return "".join(letter for letter in letters if letter not in gone)


def held_of(place, hazard, claim):
    """What people hold. Purging lets go of both pumps while the collector is seen to be hot."""
    situation = SITUATIONS[place.situation]
    own = hazard is not None and by_weather(hazard.claims, situation.weather) == claim.name
    held = hazard.held if own else situation.held
    if claim.name == "purge" and place.gone != "collector":
        hot = table.WEATHER[situation.weather][0] >= 60
        held = less(held, "CT" if hot else hazard.bars_purge if hazard else "")
    return held


def expected(place, hazard, left=False):
    """What the tables say is to be seen."""
    situation = SITUATIONS[place.situation]
    seen = hazard if hazard is not None and place.gone not in hazard.blind else None
    claim = claim_of(place, seen, left)
    on, bars = claim.on, ""
    if on == "held":
        on, bars = held_of(place, hazard, claim), bars_of(place, seen)
        to_exchanger = "V" in on or place.topology == "none"
        if "C" in bars or (claim.name != "purge" and ("x" if to_exchanger else "r") in bars):
            on = less(on, "C")
        if "P" in bars and place.gone == "exchanger":
            on = less(on, "T")
        # The tank pump alone adds no heat.
        bars = "T" if "T" in on and "T" in bars and "C" in on else ""
        on = less(on, bars)
    elif seen is not None:
        on = less(on, seen.bars_own.get(situation.weather, ""))
    if place.topology == "none" or claim.name == "purge" or (claim.name == "night cooling" and place.topology == "series"):
        on = less(on, "V")
    return Expected(claim, on, bars, fan_runs(place, claim))


def fan_runs(place, claim):
    """Whether the fan of an air heater runs: on nothing else does it hang."""
    return bool(place.air) and place.lost not in table.FAN_SENSORS and claim.name not in table.FAN_RESTS


def outputs_right(world, wanted, at_once):
    """Whether what has to be off is off; `at_once` is false once all has to be on, too."""
    if world.fan_on() and not wanted.fan:
        return False
    on = set(world.on())
    if wanted.claim.name == "purge":
        # The valve alternates.
        on -= {"V"}
    if wanted.on == "turn":
        return len(on) <= 1
    if not at_once:
        return on == set(wanted.on)
    # A tank pump barred beside glycol that moves may run until it does.
    alone = set() if "C" in on else set(wanted.barred)
    return on - set(wanted.on) <= ({"T"} if wanted.claim.run_on else alone)


def compare(world, wanted, within_s):
    """Let it happen: in time, lasting, and in the end with every output as it has to be."""
    begun = world.time_ms
    while True:
        world.step(STEP_MS)
        if world.decided(wanted.claim) and outputs_right(world, wanted, True):
            break
        if world.time_ms - begun >= within_s * 1000:
            raise MismatchError(f"after {within_s} s: {world.found()}")
    for _ in range(LASTS_STEPS):
        world.step(STEP_MS)
        check(world, wanted)
    begun = world.time_ms
    while not outputs_right(world, wanted, False) and wanted.on != "turn":
        if world.time_ms - begun >= LATE_S * 1000:
            raise MismatchError(f"after {LATE_S} s more: {world.found()}")
        world.step(STEP_MS if wanted.claim.name == "charging" else LONG_MS)
        check(world, wanted)
    if wanted.fan:
        fan_comes(world.copy())


def fan_comes(later):
    """The fan runs, at the latest after its rest: the water side may meanwhile go on elsewhere."""
    later.watcher = None
    begun = later.time_ms
    while not later.fan_on():
        if later.time_ms - begun >= FAN_RESTS_S * 1000:
            raise MismatchError(f"after {FAN_RESTS_S} s no fan: {later.found()}")
        later.step(STEP_MS)


def check(world, wanted):
    if not world.decided(wanted.claim) or not outputs_right(world, wanted, True):
        raise MismatchError(f"then: {world.found()}")


def tell(place, hazard, stage, wanted, fault):
    """A line for people."""
    words = f"{wanted.claim.duty}, {wanted.claim.reason}, {wanted.on or 'all off'}{', the fan on' if wanted.fan else ''}"
    return f"{place}: {hazard.name if hazard else 'the situation'}, {stage}: wanted {words}; {fault}"


class Matrix:
    """All stations of one core, each driven to its situation once."""

    def __init__(self, core):
        self.core = core
        self.begun = {}
        self.reached = {}

    def awake(self, place):
        """A station that has charged once, so that its loop is known."""
        kind = place.whole._replace(situation="")
        if kind not in self.begun:
            self.begun[kind] = self.first_day(kind)
        return self.begun[kind].copy()

    def first_day(self, kind):
        """From a reset into the sun, until it charges."""
        settings = {"AWAY": int(kind.away), "DUMP_CROSSOVER": int(kind.open), **kind.unfitted, **kind.air}
        world = World(self.core, kind.topology, settings)
        world.wake()
        world.weather("dull")
        world.lose(table.LOSSES[kind.lost].sensors)
        world.run(130, STEP_MS)
        world.weather("sun")
        begun, passed = world.time_ms, 0
        while world.on() != ("CT" if kind.topology == "none" else "CTV"):
            world.step(STEP_MS)
            passed = max(passed, world.passing_steps)
            if world.time_ms - begun > REACHED_S * 1000:
                raise MismatchError(f"{kind}: a sunny day does not charge: {world.found()}")
        if (passed > 0) != kind.open:
            raise MismatchError(f"{kind}: the pump {'waits' if kind.open else 'does not wait'} for the valve")
        world.run(DAY_S)
        return world

    def reach(self, place):
        """The station in this place, driven there once; raises a mismatch if it does not come."""
        if place not in self.reached:
            try:
                self.reached[place] = self.drive(place)
            except MismatchError as fault:
                self.reached[place] = fault
        if isinstance(self.reached[place], MismatchError):
            raise self.reached[place]
        return self.reached[place].copy()

    def drive(self, place):
        """Into the situation, then the sensor is lost; or the other way round."""
        situation = SITUATIONS[place.situation]
        world = self.awake(place)
        if situation.lost_first:
            # Idle while the sensor goes.
            world.weather("dull")
            world.lose(table.LOSSES[place.lost].sensors)
            world.run(LOST_S)
        for weather, seconds, with_inputs in situation.before:
            world.weather(weather)
            if with_inputs:
                world.put(situation.inputs)
            # In short steps all sensors are believed at the same time.
            world.run(20, STEP_MS)
            world.run(seconds)
        world.weather(situation.weather)
        world.put(situation.inputs)
        for letter in situation.due:
            mover = world.s.MOVING.index(getattr(world.s, LETTERS[letter]))
            world.state[world.s.UNMOVED_S + mover] = world.settings[self.core.settings.EXERCISE_AFTER]
        if "homing" in situation.claims:
            world.wake()
        lost_now = not situation.lost_first and not place.unfitted
        self.settle(world, place.whole if lost_now else place)
        world.flows = 1
        world.run(situation.lasts_s)
        if not situation.lost_first:
            world.lose(table.LOSSES[place.lost].sensors)
            world.run(LOST_S)
            self.settle(world, place)
        return world

    def settle(self, world, place):
        """Wait for what the tables say of this place."""
        wanted = expected(place, None)
        try:
            compare(world, wanted, REACHED_S)
        except MismatchError as fault:
            raise MismatchError(tell(place, None, "reached", wanted, fault)) from None

    def try_hazard(self, place, hazard, watcher=None):
        """All stages of one combination."""
        world = self.reach(place)
        world.watcher = watcher
        seen = place.gone not in hazard.blind
        stage, wanted = "it comes", expected(place, hazard)
        try:
            untouched = [name for name, value in hazard.at_least.items() if world.raw(name) >= value]
            befall(world, hazard)
            world.run(hazard.takes_s)
            if hazard.then:
                world.read(hazard.then)
                world.run(20, STEP_MS)
                world.run(hazard.then_s)
            compare(world, wanted, hazard.within_s)
            if hazard.alarm and seen:
                stage = f"alarm {hazard.alarm}"
                hear(world, hazard.alarm, hazard.within_s)
            if hazard.remembered and seen:
                stage = "remembered"
                world.read({name: value for name, value in hazard.remembered.items() if name not in untouched})
                compare(world, wanted, STEP_MS // 1000)
            left = is_people(place) and not hazard.inputs and place.topology in hazard.after_people
            if left:
                stage, wanted = "people leave", expected(place, hazard, True)
                world.put(NOBODY)
                compare(world, wanted, hazard.within_s)
            if comes_back(place, hazard):
                stage, wanted = "it is over", expected(place, None, left)
                self.end(world, place, hazard, left)
                compare(world, wanted, hazard.over_s)
        except MismatchError as fault:
            raise MismatchError(tell(place, hazard, stage, wanted, fault)) from None

    def end(self, world, place, hazard, left):
        """The hazard is over; people who were there before it are there again unless they left."""
        situation = SITUATIONS[place.situation]
        world.weather(situation.weather)
        if hazard.inputs:
            world.put(NOBODY)
        if not left:
            world.put({name: value for name, value in situation.inputs.items() if name != "IN_FLOW_ML_PER_MIN"})

    def lost_alarm(self, place):
        """A lost sensor closes the alarm contact, wherever the station is."""
        try:
            hear(self.reach(place), "SENSOR", ALARM_S)
        except MismatchError as fault:
            raise MismatchError(f"{place}: no alarm for a lost sensor: {fault}") from None

    def no_alarm(self, place):
        """A sensor that is not fitted closes it nowhere."""
        world = self.reach(place)
        world.run(ALARM_S)
        if world.state[world.s.ALARMS] & world.core.alarms.ALARM_SENSOR:
            raise MismatchError(f"{place}: an alarm for a sensor that is not fitted")


def comes_back(place, hazard):
    situation = SITUATIONS[place.situation]
    return hazard.comes_back and situation.resumes and not {situation.weather, place.gone} & set(hazard.lingers)


def is_people(place):
    return any(claim in table.PEOPLE for claim in SITUATIONS[place.situation].claims)


def befall(world, hazard):
    """Let the hazard come."""
    world.read_at_least(hazard.at_least)
    world.read(hazard.readings)
    world.lose(hazard.broken)
    world.put(hazard.inputs)
    for name, value in hazard.settings.items():
        world.set(name, value)
    for name, value in hazard.state.items():
        world.state[getattr(world.s, name)] = value
    if hazard.wake:
        world.wake()


def hear(world, alarm, within_s):
    """The alarm is set in time, and its contact closed."""
    bit = getattr(world.core.alarms, "ALARM_" + alarm)
    begun = world.time_ms
    while world.state[world.s.ALARMS] & bit == 0 or world.state[world.s.ALARM_ON] == 0:
        if world.time_ms - begun >= within_s * 1000:
            raise MismatchError("silent")
        world.step(STEP_MS)


def places():
    """Every situation in each topology, without each sensor; with all of them during an absence,
    and with an open crossover.
    """
    found = []
    for situation in table.SITUATIONS:
        for topology in situation.topologies:
            lost = [name for name, loss in table.LOSSES.items() if topology in loss.topologies and name not in situation.never]
            found += [Place(topology, situation.name, name, situation.away) for name in lost]
            if not situation.away:
                found.append(Place(topology, situation.name, "nothing", True))
            if topology in table.RADIATOR:
                found.append(Place(topology, situation.name, "nothing", situation.away, True))
    return found


def applies(place, hazard):
    """Whether the tables try this hazard here."""
    if place.topology not in hazard.topologies or place.situation in hazard.never or {place.lost, place.gone} & set(hazard.skip):
        return False
    if place.topology not in table.LOSSES[place.lost].tried:
        return False
    if hazard.duties and expected(place, None).claim.duty not in hazard.duties:
        return False
    return not hazard.only or place.situation in hazard.only
