"""What comes, and what it claims: the second half of the tables; see table.py."""

from typing import NamedTuple

from .table import (
    DUMP_HEATS,
    DUMPS_BLIND,
    FROSTY_AIR,
    FULL,
    HANDS,
    HOT_COMING,
    LOOP_FROSTY,
    RADIATOR,
    RADIATOR_DEAD,
    TOO_HOT,
    TOPOLOGIES,
    all_but,
    by_topology,
)


class Hazard(NamedTuple):
    """What comes, and what it claims by weather."""

    name: str
    claims: dict
    # Readings from now on; `at_least` leaves alone what is higher already.
    readings: dict = {}
    at_least: dict = {}
    # Sensors that break, inputs, entries of the state; "wake" is a reset.
    broken: tuple = ()
    inputs: dict = {}
    state: dict = {}
    wake: bool = False
    # What people hold from now on, where they are the hazard.
    held: str = ""
    within_s: int = 20
    # How long it takes to show; until then the station may do anything that the guard allows.
    takes_s: int = 0
    # Readings that follow, and how long these take.
    then: dict = {}
    then_s: int = 0
    settings: dict = {}
    # Losses that hide it: then nothing changes. Losses that it is not tried with.
    blind: tuple = ()
    skip: tuple = ()
    bars: object = ""
    # What the limits bar to purging, and to the station's own duties by weather.
    bars_purge: str = ""
    bars_own: dict = {}
    # Claims that end with it, and claims that others take the place of.
    drops: tuple = ()
    turns_into: dict = {}
    alarm: str = ""
    # Only in these situations, duties or topologies, not in these situations.
    only: tuple = ()
    duties: tuple = ()
    never: tuple = ()
    topologies: tuple = TOPOLOGIES
    # Readings at which it goes on all the same, because a latch remembers it.
    remembered: dict = {}
    # Whether the station soon goes back to what it did when this is over, and in which weathers and
    # without which sensors not: there the tank is still too hot, or the radiator's glycol unknown.
    comes_back: bool = True
    over_s: int = 20
    lingers: tuple = ()
    # Whether charging, which warms the plates, may go before; in which topologies it is judged
    # after people.
    yields: bool = False
    after_people: tuple = TOPOLOGIES


TANK_TOO_HOT = {
    **dict.fromkeys(("sun", "frosty sun", "frosty sun, warm tank"), "full"),
    **dict.fromkeys(("hot", "scorching"), FULL),
    "dull, all due": "turn, hot",
}
TURNS = ("collector pump's turn", "tank pump's turn")
DULL = ("dull", "dull, all due", "dull, a pump due")
# The same with a collector that is warmer than the full tank.
FULL_IN_THE_SUN = {**TANK_TOO_HOT, **dict.fromkeys((*DULL, "fading"), "full")}
TOO_HOT_COMING = {
    **dict.fromkeys((*DULL, "fading", "sun", *FROSTY_AIR), TOO_HOT),
    "cool night": TOO_HOT,
    ("cool night", "tank_high"): "full",
}
BY_HANDS = ("maintenance", "hands charge", "hands dump", "hands hold all off", "three resets")
PUMP_AT_REST = (
    "idle",
    "steam",
    "exchanger near frost",
    "pumping given up",
    "maintenance",
    "hands hold all off",
    "three resets",
    "valve on its way home",
)
PUMPING = ("charging", "dumping", "night_cooling")
FULL_BELOW = {
    "readings": {"tank_low": 67, "tank_high": 74},
    "at_least": {"collector": 85},
    "blind": ("both tank sensors",),
    "bars": {"tank_high": "T"},
    "bars_purge": "CT",
    "never": ("night cooling",),
    "remembered": {"tank_low": 61, "tank_high": 64},
    "lingers": ("scorching", *FROSTY_AIR),
}
STIFF_AIR = {"claims": {"any": "stiff"}, "readings": {"outdoor": -25}, "blind": ("outdoor",), "bars": "C"}
HAZARDS = (
    Hazard(
        "steam",
        {"any": "steam"},
        {"collector": 125},
        blind=("collector",),
        bars="C",
        bars_purge="CT",
        alarm="STEAM",
        remembered={"collector": 110},
    ),
    Hazard("steam shows at the tap", {"any": "steam"}, {"tap": 150}, blind=("collector", "tap"), bars="C", alarm="STEAM"),
    Hazard("the collector sensor breaks", {"any": "collector lost"}, broken=("collector",), bars="C", comes_back=False),
    Hazard(
        "both tank sensors break",
        {"any": "tank lost", **DUMPS_BLIND},
        broken=("tank_low", "tank_high"),
        bars="T",
        within_s=65,
        comes_back=False,
        never=("valve on its way home",),
    ),
    Hazard(
        "the top of the tank at its limit",
        TANK_TOO_HOT,
        {"tank_high": 75},
        blind=("tank_high", "both tank sensors"),
        skip=("tank_low",),
        bars="T",
        drops=TURNS,
        remembered={"tank_high": 72},
        lingers=("scorching", *FROSTY_AIR),
    ),
    Hazard(
        "the top of the tank at its limit, in a hot sun",
        FULL_IN_THE_SUN,
        {"tank_high": 75},
        {"collector": 88},
        blind=("both tank sensors",),
        skip=("tank_high",),
        bars="T",
        bars_purge="CT",
        never=("night cooling",),
        lingers=("scorching", *FROSTY_AIR),
    ),
    Hazard("the tank full below", FULL_IN_THE_SUN, topologies=("bypass", "none"), **FULL_BELOW),
    # In series a radiator in frost or unknown air cannot dump, and a full tank has room.
    Hazard(
        "the tank full below, with a radiator in series",
        FULL_IN_THE_SUN,
        topologies=("series",),
        skip=("outdoor",),
        **{**FULL_BELOW, "never": ("night cooling", "frosty morning", "frosty morning, warm tank")},
    ),
    # Beside it no glycol moves, in any topology, unless it is seen to be colder than the tank.
    Hazard(
        "the top of the tank above its limit",
        TANK_TOO_HOT,
        {"tank_high": 77},
        blind=("tank_high", "both tank sensors"),
        skip=("tank_low", "loop_supply"),
        within_s=85,
        turns_into=DUMP_HEATS,
        bars={"dull": "T", "cool night": "T", "collector": "C", **dict.fromkeys(TOPOLOGIES, "C")},
        drops=TURNS,
        comes_back=False,
    ),
    Hazard(
        "glycol that nobody sees beside a tank above its limit",
        {},
        {"tank_high": 77},
        skip=all_but("loop_supply", "tank_low"),
        within_s=85,
        drops=("night cooling",),
        alarm="DUMP",
        only=("night cooling",),
        comes_back=False,
    ),
    Hazard(
        "the top of the tank off its scale",
        TANK_TOO_HOT,
        {"tank_high": 116},
        blind=("tank_high", "both tank sensors"),
        skip=("tank_low",),
        bars="T",
        drops=("night cooling", *TURNS),
        comes_back=False,
    ),
    Hazard(
        "hot glycol arrives",
        dict.fromkeys(("sun", *FROSTY_AIR), TOO_HOT),
        {"loop_supply": 92},
        blind=("loop_supply",),
        bars=HOT_COMING,
        bars_own={"cool night": "T"},
        remembered={"loop_supply": 80},
        lingers=("outdoor",),
        over_s=95,
    ),
    Hazard(
        "a collector too hot to charge",
        TOO_HOT_COMING,
        at_least={"collector": 93},
        blind=("collector",),
        bars=HOT_COMING,
        bars_purge="CT",
        remembered={"collector": 85},
        lingers=("outdoor",),
        over_s=95,
    ),
    Hazard(
        "a collector at the dump threshold",
        {**TOO_HOT_COMING, ("cool night", "tank_high"): FULL, "icy plates": by_topology("too hot, dump", None, None)},
        at_least={"collector": 97},
        blind=("collector",),
        skip=("both tank sensors",),
        bars=HOT_COMING,
        bars_purge="CT",
        remembered={"collector": 85},
        lingers=("outdoor",),
        # A dump lasts for minimum_run.
        over_s=95,
    ),
    Hazard(
        "plates near frost",
        {"any": "frost"},
        {"exchanger": 3},
        blind=("exchanger",),
        alarm="FROST",
        remembered={"exchanger": 5},
        comes_back=False,
    ),
    Hazard(
        "frosty glycol sinks, seen by loop_return",
        {"any": by_topology(None, "frost", "frost")},
        {"loop_return": 2},
        blind=("loop_return",),
        skip=("tank_low", "outdoor", "exchanger"),
        bars=by_topology("", "C", "C"),
        yields=True,
        # Beside a hot collector it shows a loop that is not exchanged: a round that goes on.
        after_people=("series", "none"),
        only=PUMP_AT_REST,
        comes_back=False,
    ),
    Hazard(
        "frosty glycol sinks, seen by loop_supply",
        {"any": by_topology(None, "frost", "frost")},
        {"loop_supply": 2},
        blind=("loop_supply",),
        skip=("tank_low",),
        bars=by_topology("", "C", "C"),
        yields=True,
        after_people=(),
        only=PUMP_AT_REST,
        comes_back=False,
    ),
    Hazard("air near the freezing point of the glycol", topologies=("bypass",), **STIFF_AIR),
    # A sensor that jumps from there is not believed at once: pipes and radiator may be frosty.
    Hazard(
        "air near the freezing point of the glycol, without a bypass",
        topologies=("series", "none"),
        comes_back=False,
        **STIFF_AIR,
    ),
    Hazard(
        "a collector near the freezing point of the glycol",
        {"any": "stiff"},
        {"collector": -20},
        blind=("collector",),
        bars="C",
        drops=("steam",),
        comes_back=False,
    ),
    Hazard(
        "frosty air",
        {"dull, all due": "turn, cold"},
        {"outdoor": 0},
        blind=("outdoor",),
        bars={**dict.fromkeys(("dull, all due", "dull, a pump due"), LOOP_FROSTY), "series": "r"},
        drops=("tank pump's turn",),
        comes_back=False,
    ),
    Hazard("three resets", {"any": "three resets"}, inputs={"IN_RESETS": 3}, within_s=5, alarm="RESETS"),
    Hazard("the guard acts", {"any": "guard"}, state={"GUARD_HOLD_MS": 600000}, within_s=5, alarm="GUARD", comes_back=False),
    Hazard("maintenance", {"any": "maintenance"}, inputs={"IN_UPKEEP": 1}, within_s=5),
    Hazard("hands charge", {"any": "hand"}, inputs={**HANDS, "IN_HAND_VALUE": 7}, held="CTV", within_s=5),
    Hazard("hands hold all off", {"any": "hand"}, inputs={**HANDS, "IN_HAND_VALUE": 0}, within_s=5),
    Hazard(
        "purging",
        {"any": "purge"},
        inputs={"IN_UPKEEP": 2},
        held="CT",
        within_s=5,
        never=("maintenance", "purging, to the radiator", "purging, to the exchanger", "tank pump running on"),
        lingers=("outdoor",),
    ),
    Hazard(
        "a reset",
        {"any": "homing"},
        wake=True,
        bars="C",
        drops=("no flow",),
        skip=("exchanger",),
        topologies=RADIATOR,
        comes_back=False,
    ),
    Hazard("scalding water", {}, {"tap": 60}, blind=("tap",), within_s=80, alarm="SCALD"),
    Hazard(
        "a bottom hotter than the top",
        FULL_IN_THE_SUN,
        {"tank_low": 55, "tank_high": 45},
        {"collector": 70},
        blind=("both tank sensors",),
        skip=("tank_low", "tank_high"),
        bars="T",
        bars_purge="CT",
        alarm="TANK_CROSSED",
        never=("night cooling",),
        lingers=("scorching", *FROSTY_AIR),
    ),
    Hazard(
        "no flow",
        {"any": "no flow"},
        inputs={"IN_FLOW_ML_PER_MIN": 0},
        within_s=40,
        blind=("flow input",),
        alarm="NO_FLOW",
        duties=PUMPING,
        # There a frosty loop moves in pulses, too short to tell.
        never=("frosty morning, warm tank",),
        comes_back=False,
    ),
    Hazard(
        "glycol does not arrive",
        {"any": "not arriving"},
        {"loop_supply": 30},
        blind=("loop_supply",),
        within_s=200,
        alarm="NO_FLOW",
        only=("charging",),
        duties=("charging",),
        comes_back=False,
    ),
    Hazard(
        "heat too weak",
        {"any": "too weak"},
        {"collector": 37, "loop_supply": 30},
        blind=("loop_supply",),
        skip=("tank_low",),
        within_s=320,
        only=("charging",),
        duties=("charging",),
        comes_back=False,
    ),
    Hazard(
        "the dump valve is stuck at the radiator",
        {"any": "astray"},
        {"collector": 60, "loop_supply": 56, "exchanger": 30},
        skip=("loop_supply", "exchanger", "both tank sensors"),
        within_s=500,
        alarm="NO_FLOW",
        only=("idle",),
        duties=("idle",),
        topologies=RADIATOR,
        comes_back=False,
    ),
    Hazard(
        "the radiator has no effect",
        {},
        {"loop_supply": 92, "loop_return": 92},
        # Three minutes, and a round of the loop without one of these two.
        within_s=380,
        turns_into=RADIATOR_DEAD,
        alarm="DUMP",
        duties=("dumping",),
        only=("tank full", "glycol too hot to charge"),
        topologies=RADIATOR,
        comes_back=False,
    ),
    Hazard(
        "the dump heats the tank",
        {},
        # Colder plates would show that the radiator takes the most of it.
        {"tank_high": 74, "exchanger": 76},
        blind=("both tank sensors",),
        skip=("tank_high",),
        within_s=150,
        turns_into=DUMP_HEATS,
        alarm="DUMP",
        duties=("dumping",),
        only=("tank full", "glycol too hot to charge"),
        topologies=RADIATOR,
        comes_back=False,
    ),
    Hazard(
        "the collector sensor sticks in the sun",
        dict.fromkeys(("sun", "hot", "scorching", "steam", "frosty sun, warm tank"), "collector lost"),
        takes_s=3700,
        skip=all_but("nothing", "tap", "loop_return", "flow input"),
        alarm="SENSOR",
        only=("charging", "tank full", "glycol too hot to charge", "steam", "pumping given up", *BY_HANDS),
        bars="C",
        comes_back=False,
    ),
    Hazard(
        "tank_high sticks while heat passes it",
        {},
        takes_s=960,
        # Without loop_return the plates tell how far the water gets, and here they are hot.
        skip=("loop_supply", "tank_low", "tank_high", "both tank sensors", "collector", "no loop_return"),
        alarm="SENSOR",
        only=("charging", "hands charge"),
        comes_back=False,
        after_people=(),
    ),
    Hazard(
        "flow without the pump",
        {},
        inputs={"IN_FLOW_ML_PER_MIN": 2},
        blind=("flow input",),
        within_s=75,
        alarm="UNBIDDEN_FLOW",
        only=PUMP_AT_REST,
        comes_back=False,
    ),
    Hazard(
        "loop_supply follows the collector without the pump and without a flow input",
        {"any": "idle"},
        {"collector": 10, "loop_supply": 10},
        settings={"FLOW_SENSOR": 0},
        # What an earlier night left.
        state={"TRACK_HIGH_MC": 90000, "TRACK_LOW_MC": -20000},
        takes_s=7300,
        then={"collector": 24, "loop_supply": 24},
        then_s=3600,
        blind=("collector", "loop_supply"),
        alarm="UNBIDDEN_FLOW",
        only=("idle",),
        comes_back=False,
    ),
)
