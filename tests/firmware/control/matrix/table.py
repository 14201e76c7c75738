"""What has to happen, as tables to read: written from the design, not from the rules.

A station is somewhere (SITUATIONS), some of its sensors are lost (LOSSES), and then something comes
(hazards.py). Each of the three puts *claims* on the station. CLAIMS has them by rank, the highest
first, with what is seen while a claim is the highest: duty, reason, and the outputs that are on. So
one line of a table says what happens in hundreds of combinations. matrix.py drives the bare core
through all of them and compares.

Outputs are letters: C collector pump, T tank pump, V power on the dump valve (to the exchanger).
Readings are in C. Times in s. `WEATHER` is the readings of a whole station.

Who wins, as the design says it: resets and the guard; people; frost; a lost collector; the valve on
its way home; steam; stiff glycol; charging given up; the tank's limits, and frost in a radiator in
series that keeps it from dumping; the charge limit; the cold slug; charging; dumping; night
cooling; exercise; idle.
"""

from typing import NamedTuple

TOPOLOGIES = ("bypass", "series", "none")
RADIATOR = ("bypass", "series")
WATER_SENSORS = ("collector", "tank_low", "tank_high", "loop_supply", "loop_return", "outdoor", "tap", "exchanger")
SENSORS = (*WATER_SENSORS, "air_collector", "room")


class Claim(NamedTuple):
    """What is seen while this claim ranks highest."""

    name: str
    duty: str
    reason: str
    # Outputs that come on and stay on; all others go off and stay off.
    on: str = ""
    # Whether the tank pump may finish fetching heat out of the exchanger, after charging.
    run_on: bool = False


CLAIMS = (
    Claim("three resets", "fault_stop", "RESET_STORM"),
    Claim("guard", "fault_stop", "GUARD_ACTED"),
    Claim("maintenance", "maintenance", "UNDER_MAINTENANCE"),
    # What people hold is on, less what a limit bars.
    Claim("hand", "hand", "HAND_HELD", "held"),
    Claim("purge", "hand", "PURGING", "held"),
    Claim("frost", "frost_guard", "EXCHANGER_FROST", "T"),
    Claim("collector lost", "fault_stop", "COLLECTOR_UNKNOWN"),
    Claim("homing", "idle", "VALVE_HOMING"),
    Claim("steam", "stagnation_hold", "STEAM", run_on=True),
    Claim("stiff", "idle", "GLYCOL_STIFF", run_on=True),
    # Charging that is given up: a hot collector is dumped all the same.
    Claim("given up, dump", "dumping", "PAUSE_DUMP", "C", run_on=True),
    Claim("no flow", "fault_stop", "FLOW_MISSING"),
    Claim("astray", "fault_stop", "HEAT_ASTRAY"),
    Claim("not arriving", "fault_stop", "GLYCOL_NOT_ARRIVING"),
    Claim("tank lost, dump", "dumping", "TANK_UNKNOWN_DUMP", "C"),
    Claim("tank lost", "idle", "TANK_UNKNOWN"),
    Claim("full, dump", "dumping", "TANK_FULL_DUMP", "C", run_on=True),
    Claim("series frost", "idle", "COLD_SLUG_SERIES", run_on=True),
    Claim("full, radiator dead", "idle", "RADIATOR_DEAD"),
    Claim("full, dump heats", "idle", "DUMP_HEATS_TANK"),
    Claim("full", "idle", "TANK_FULL_REFUSED", run_on=True),
    Claim("too hot, dump", "dumping", "CHARGE_LIMIT_DUMP", "C", run_on=True),
    Claim("too hot", "idle", "CHARGE_LIMIT_REFUSED", run_on=True),
    Claim("tank too cold", "idle", "COLD_SLUG_REFUSED", run_on=True),
    Claim("round", "dumping", "COLD_SLUG_ROUND", "C", run_on=True),
    Claim("too weak", "idle", "HEAT_TOO_WEAK", run_on=True),
    Claim("charging", "charging", "DIFFERENCE", "CTV"),
    Claim("night cooling", "night_cooling", "NIGHT_COOLING_AWAY", "CTV"),
    Claim("turn, cold", "idle", "TURN_POSTPONED_COLD"),
    Claim("turn, hot", "idle", "TURN_POSTPONED_HOT"),
    Claim("turn", "exercise", "TURN", "turn"),
    Claim("collector pump's turn", "exercise", "TURN", "C"),
    Claim("tank pump's turn", "exercise", "TURN", "T"),
    Claim("cool", "idle", "COLLECTOR_COOL", run_on=True),
    Claim("idle", "idle", "NO_DIFFERENCE", run_on=True),
)

# The air collector and the room, in every weather: hotter than the water's collector may be.
AIR = (130, 15)
# collector, tank_low, tank_high, loop_supply, loop_return, outdoor, tap, exchanger
WEATHER = {
    "dull": (25, 30, 40, 25, 25, 20, 20, 20),
    "dull, all due": (25, 30, 40, 25, 25, 20, 20, 20),
    "dull, a pump due": (25, 30, 40, 25, 25, 20, 20, 20),
    "sun": (60, 30, 40, 56, 38, 20, 40, 50),
    "fading": (32, 30, 40, 56, 38, 20, 40, 50),
    # The tank is full, but not over its limit.
    "hot": (97, 68, 72, 94, 75, 25, 45, 60),
    # Too hot to charge a cool tank.
    "scorching": (97, 30, 72, 92, 60, 20, 40, 50),
    "steam": (125, 30, 40, 30, 30, 20, 40, 30),
    "frosty night": (-2, 15, 25, 10, 10, -2, 20, 10),
    "frosty sun": (45, 15, 25, 12, 12, -2, 20, 12),
    "frosty night, warm tank": (-2, 45, 55, 10, 10, -2, 20, 10),
    "frosty sun, warm tank": (70, 45, 55, 64, 50, -2, 20, 58),
    "icy plates": (0, 30, 40, 10, 10, 5, 20, 2),
    # Warm enough to be cooled during an absence.
    "cool night": (8, 58, 61, 10, 10, 9, 20, 20),
}


def by_topology(bypass, series, none):
    """A claim, or none, for each topology."""
    return dict(zip(TOPOLOGIES, (bypass, series, none), strict=True))


def with_radiator(claim, without):
    """A claim where there is a radiator, and another where there is none."""
    return by_topology(claim, claim, without)


FULL = with_radiator("full, dump", "full")
TOO_HOT = with_radiator("too hot, dump", "too hot")
# In series, while the air or the loop is frosty or the air unknown, a dump would bring frost into
# the exchanger: "series frost" takes the place of every dump, unless a fault has to be named.
NAMED_IN_FROST = {"given up, dump": "no flow", "tank lost, dump": "tank lost"}
FROSTY_AIR = ("frosty sun", "frosty sun, warm tank")
# While dumping is given up, what takes the place of a dump.
RADIATOR_DEAD = {
    "given up, dump": "no flow",
    "tank lost, dump": "tank lost",
    "full, dump": "full, radiator dead",
    "too hot, dump": "too hot",
}
DUMP_HEATS = {**RADIATOR_DEAD, "full, dump": "full, dump heats"}
# What is given up for half an hour; from here on a hot collector is dumped (C).
GIVEN_UP = ("no flow", "astray", "not arriving", "too weak")
DUMP_FROM_C = 95
PEOPLE = ("three resets", "maintenance", "hand", "purge")


class Situation(NamedTuple):
    """Where the station is when something happens, and how it got there.

    `claims` hold besides what the weather claims; one by topology is a dictionary. `bars` are the
    outputs that a limit bars to hands: C, and T beside glycol that moves; x is C on the way to the
    exchanger, r is C on the way to the radiator; P is T while nobody sees the plates.
    """

    name: str
    weather: str
    claims: tuple
    # Weathers before this one, the seconds that each lasts, and whether the inputs are there yet.
    before: tuple = ()
    # What people and board put in, and which outputs people hold on.
    inputs: dict = {}
    held: str = ""
    bars: object = ""
    # Only during an absence.
    away: bool = False
    # The sensor is lost before this begins, because this would be over too soon.
    lost_first: bool = False
    # The movers that are due for exercise.
    due: str = ""
    # Whether it goes on after an interruption.
    resumes: bool = True
    topologies: tuple = TOPOLOGIES
    # What has to be fitted, and how long it goes on before anything comes.
    never: tuple = ()
    lasts_s: int = 0


HANDS = {"IN_HAND_MASK": 7}
# Only a bypass radiator keeps glycol too hot for the tank away from the exchanger.
HOT_GLYCOL = by_topology("xTP", "CP", "CP")
# While it comes, a tank pump that runs already may go on: then no water stands and gets hot.
HOT_COMING = by_topology("xT", "C", "C")
LOOP_FROSTY = by_topology("x", "C", "C")
SITUATIONS = (
    Situation("idle", "dull", ("idle",)),
    Situation("charging", "sun", ("charging",)),
    Situation("tank pump running on", "fading", ("idle",)),
    # The collector of the table does not cool in a dump: without these two, a dead radiator.
    Situation("tank full", "hot", (FULL,), bars=HOT_GLYCOL, never=("no loop_supply", "no loop_return")),
    Situation("glycol too hot to charge", "scorching", (TOO_HOT,), bars=HOT_GLYCOL, never=("no loop_supply", "no loop_return")),
    Situation("steam", "steam", ("steam",), bars="CP"),
    Situation("exchanger near frost", "icy plates", ("frost", "cool"), bars=LOOP_FROSTY, resumes=False, never=("no exchanger",)),
    Situation(
        "frosty morning",
        "frosty sun",
        (by_topology("round", "tank too cold", "tank too cold"),),
        before=(("frosty night", 900, False),),
        bars=LOOP_FROSTY,
    ),
    Situation(
        "frosty morning, warm tank",
        "frosty sun, warm tank",
        (by_topology("round", "charging", "charging"),),
        before=(("frosty night, warm tank", 900, False),),
        bars=LOOP_FROSTY,
    ),
    # Where the collector boiled lately, or where there is no radiator.
    Situation("night cooling", "cool night", ("night cooling", "cool"), before=(("steam", 60, False),), away=True),
    Situation(
        "exercise", "dull, all due", ("turn", "idle"), before=(("dull", 3900, False),), lost_first=True, due="CTV", resumes=False
    ),
    Situation(
        "collector pump's turn",
        "dull, a pump due",
        ("collector pump's turn", "idle"),
        before=(("dull", 3900, False),),
        lost_first=True,
        due="C",
        resumes=False,
        # The radiator's glycol may be as cold as the air, and unknown air ends the turn.
        never=("no outdoor",),
    ),
    Situation(
        "tank pump's turn",
        "dull, a pump due",
        ("tank pump's turn", "idle"),
        before=(("dull", 3900, False),),
        lost_first=True,
        due="T",
        resumes=False,
    ),
    Situation("pumping given up", "sun", ("no flow", "charging"), inputs={"IN_FLOW_ML_PER_MIN": 0}, never=("no flow input",)),
    Situation("maintenance", "sun", ("maintenance", "charging"), inputs={"IN_UPKEEP": 1}),
    Situation("hands charge", "sun", ("hand", "charging"), inputs={**HANDS, "IN_HAND_VALUE": 7}, held="CTV"),
    # Until the radiator's glycol, which may be as cold as unknown air, has gone round.
    Situation(
        "hands dump",
        "sun",
        ("hand", "charging"),
        inputs={**HANDS, "IN_HAND_VALUE": 3},
        held="CT",
        topologies=RADIATOR,
        lasts_s=240,
    ),
    Situation("hands hold all off", "sun", ("hand", "charging"), inputs={**HANDS, "IN_HAND_VALUE": 0}),
    Situation(
        "purging, to the radiator",
        "dull",
        ("purge", "idle"),
        before=(("dull", 300, False),),
        inputs={"IN_UPKEEP": 2},
        held="CT",
        # As above.
        never=("no outdoor",),
    ),
    Situation(
        "purging, to the exchanger",
        "dull",
        ("purge", "idle"),
        before=(("dull", 300, True),),
        inputs={"IN_UPKEEP": 2},
        held="CTV",
        never=("no outdoor",),
    ),
    Situation("three resets", "sun", ("three resets", "charging"), inputs={"IN_RESETS": 3}),
    Situation(
        "valve on its way home",
        "sun",
        ("homing", by_topology("round", "charging", "charging")),
        bars="C",
        lost_first=True,
        topologies=RADIATOR,
    ),
)


class Loss(NamedTuple):
    """Sensors that are lost for longer than their age, or never fitted, and what that changes.

    `claims` by weather; `drops` are claims that end with the sensor. `settings` say that it is not
    fitted: nobody misses it then.
    """

    sensors: tuple
    claims: dict = {}
    drops: tuple = ()
    bars: object = ""
    settings: dict = {}
    # Settings of what is fitted besides.
    fitted: dict = {}
    topologies: tuple = TOPOLOGIES
    # Where hazards are tried: one topology is enough for a sensor that decides nothing.
    tried: tuple = TOPOLOGIES


# It is as warm outdoors as in summer.
AIR_HEATER = {"AIR_HEATER": 1, "SUMMER_ABOVE": 40000}
BESIDE_AIR = "nothing, beside an air heater"
# Without either of its sensors the fan rests, and so it does by these claims; by no others.
FAN_SENSORS = ("air_collector", "room")
FAN_RESTS = ("three resets", "guard", "maintenance")
DUMPS_BLIND = {weather: with_radiator("tank lost, dump", "tank lost") for weather in ("hot", "scorching", "steam")}
COLD_START = by_topology(None, "tank too cold", "tank too cold")
LOSSES = {
    "nothing": Loss(()),
    "collector": Loss(("collector",), {"any": "collector lost"}, bars="C"),
    # tank_high takes its place; only a frosty loop without a bypass asks for tank_low itself.
    "tank_low": Loss(("tank_low",), {**dict.fromkeys(FROSTY_AIR, COLD_START), "scorching": FULL}),
    # A margin takes its place: a full tank counts as one over its limit. Nobody cools blindly.
    "tank_high": Loss(("tank_high",), drops=("night cooling",), bars={"hot": "T", "cool night": "T"}),
    "both tank sensors": Loss(("tank_low", "tank_high"), {"any": "tank lost", **DUMPS_BLIND}, bars="T"),
    "loop_supply": Loss(("loop_supply",)),
    "loop_return": Loss(("loop_return",)),
    # What stands outdoors for ten minutes may be frosty, and so may a radiator in series.
    "outdoor": Loss(
        ("outdoor",),
        dict.fromkeys(("dull, all due", "dull, a pump due"), "turn, cold"),
        bars={**dict.fromkeys(("dull, all due", "dull, a pump due"), LOOP_FROSTY), "series": "r"},
    ),
    "tap": Loss(("tap",)),
    # Only its plates show that water moves, and so that a frosty loop may follow.
    "exchanger": Loss(("exchanger",), dict.fromkeys(FROSTY_AIR, COLD_START)),
    # What is not fitted is as good as lost, and nobody misses it. But without an outdoor sensor,
    # which only a bypass may lack, the collector speaks for the pipes.
    "no loop_supply": Loss(("loop_supply",), settings={"LOOP_SUPPLY_FITTED": 0}),
    "no loop_return": Loss(("loop_return",), settings={"LOOP_RETURN_FITTED": 0}, tried=("series",)),
    "no outdoor": Loss(("outdoor",), settings={"OUTDOOR_FITTED": 0}, topologies=("bypass",)),
    "no tap": Loss(("tap",), settings={"TAP_FITTED": 0}, tried=("bypass",)),
    "no exchanger": Loss(("exchanger",), dict.fromkeys(FROSTY_AIR, COLD_START), settings={"EXCHANGER_FITTED": 0}),
    "no flow input": Loss((), settings={"FLOW_SENSOR": 0}, tried=("none",)),
    # An air heater beside it changes nothing, and its fan runs whatever the water side does.
    BESIDE_AIR: Loss((), fitted=AIR_HEATER),
    "air_collector": Loss(("air_collector",), fitted=AIR_HEATER, tried=()),
    "room": Loss(("room",), fitted=AIR_HEATER, tried=()),
}


def all_but(*sensors):
    """Every loss but these, as a name for lost and unfitted."""
    return tuple(sorted({name.removeprefix("no ") for name in LOSSES} - set(sensors)))
