"""A collector sensor that is exchanged with another one: what that one shows stops the glycol."""

from twinloop.control.settings import TOPOLOGY_NAMES

from ..common import BOTH_PUMPS, CHARGING, FLUSHED, LONG_CHARGING, MILD, OFF, ROUND, SUN, sequence

HELD = {"duty": "hand", "reason": "HAND_HELD"}
PUMPING = {**HELD, "collector_pump": 1, "wait": "WAIT_NOTHING"}
REFUSED = {**HELD, **OFF, "wait": "WAIT_LIMIT", "alarms": ["STEAM"]}
STEAM = {**OFF, "duty": "stagnation_hold", "reason": "STEAM"}

# Within its range a reading counts once it is believed.
HOT_SUPPLY = sequence(
    "a_collector_at_its_limit_shows_at_loop_supply",
    [
        *FLUSHED,
        ["hand", {"collector_pump": 1}],
        ["phase", "below the limit: pumping"],
        ["set", {"loop_supply": 119999}],
        ["keep", 60000, PUMPING],
        ["phase", "at the limit: off"],
        ["set", {"loop_supply": 120000}],
        ["becomes", 5000, 5000, REFUSED],
        ["keep", 60000, REFUSED],
        ["phase", "hotter than water: still off"],
        ["ramp", "loop_supply", 95000, 5000, REFUSED],
        ["keep", 60000, REFUSED],
        ["phase", "no hotter: pumping"],
        ["set", {"loop_supply": 94999}],
        ["becomes", 5000, 5000, PUMPING],
        ["phase", "a collector 20 K colder: off"],
        ["ramp", "loop_supply", 120000, 5000, {}],
        ["keep", 5000, REFUSED],
        ["ramp", "collector", 100000, 5000, REFUSED],
        ["keep", 15000, REFUSED],
        ["phase", "a collector not as cold: no exchange"],
        ["set", {"collector": 100001}],
        ["becomes", 5000, 5000, PUMPING],
        ["keep", 60000, PUMPING],
    ],
)


def beyond(sensor):
    """A sequence with a collector at its limit in the place of a sensor that cannot read that."""
    return sequence(
        f"a_collector_at_its_limit_shows_at_{sensor}",
        [
            *FLUSHED,
            ["hand", {"collector_pump": 1}],
            ["keep", 5000, PUMPING],
            ["phase", "beyond its range for less than 15 s"],
            ["set", {sensor: 120000}],
            ["keep", 10000, {"collector_pump": 1}],
            ["phase", "for 15 s: off"],
            ["becomes", 5000, 5000, {"collector_pump": 0}],
            ["keep", 120000, {**HELD, **OFF, "wait": "WAIT_LIMIT"}],
            ["phase", "nor by rules, in the sun"],
            ["hand", {}],
            ["set", {"collector": 60000}],
            ["becomes", 5000, 15000, STEAM],
            ["keep", 600000, STEAM],
        ],
    )


BEYOND = [beyond("tank_low"), beyond("tank_high"), beyond("outdoor"), beyond("tap")]

# Without an outdoor sensor a collector that reads warm water says that the pipes are warm, too.
ICY = sequence(
    "a_frosty_collector_shows_at_the_tap",
    [
        *LONG_CHARGING,
        ["phase", "water as cold as that: charging"],
        ["set", {"tap": 1000}],
        ["keep", 60000, BOTH_PUMPS],
        ["phase", "colder than water: round, and no end of it"],
        ["set", {"tap": 999}],
        ["becomes", 5000, 5000, ROUND],
        ["keep", 900000, ROUND],
        ["phase", "restore: charging"],
        ["set", {"tap": 15000}],
        ["becomes", 5000, 60000, {"duty": "charging"}],
    ],
    outdoor_fitted=0,
)
ICY_TANK = sequence(
    "a_frosty_collector_shows_at_tank_high",
    [
        *CHARGING,
        ["phase", "beyond its range for less than 15 s"],
        ["set", {"tank_high": -6000}],
        ["keep", 10000, BOTH_PUMPS],
        ["phase", "for 15 s: round, and no end of it"],
        ["becomes", 5000, 5000, ROUND],
        ["keep", 900000, ROUND],
    ],
    outdoor_fitted=0,
)
# A full round has passed, and glycol that is still frosty leaves for a collector said to be hot.
RETURNS = sequence(
    "a_round_that_returns_frosty_glycol_goes_on",
    [
        ["set", {**MILD, "outdoor": -5000, "loop_return": 3999}],
        ["keep", 120000, {}],
        ["phase", "30 K below the collector: round, and no end of it"],
        ["set", {"collector": 34000}],
        ["becomes", 5000, 5000, ROUND],
        ["keep", 600000, ROUND],
        ["phase", "no further below: charging"],
        ["set", {"collector": 33999}],
        ["becomes", 5000, 30000, {"duty": "charging"}],
    ],
    loop_supply_fitted=0,
)
RUNNING = {"duty": "charging", "collector_pump": 1, "tank_pump": 1}


def near_ice(topology, ends):
    """A sequence in which plates without a reading let glycol leave as cold as it came."""
    return sequence(
        f"glycol_near_ice_leaves_{TOPOLOGY_NAMES[topology]}",
        [
            ["set", {**MILD, "collector": 25000, "outdoor": 25000}],
            ["keep", 180000, OFF],
            ["set", {**SUN, "collector": 33000}],
            ["becomes", 0, 300000, RUNNING],
            ["set", {"loop_return": 3999}],
            ["phase", "near ice for less than two minutes: a cold pipe"],
            ["keep", 120000, RUNNING],
            ["phase", "at 4 C: water warms it"],
            ["set", {"loop_return": 4000}],
            ["keep", 5000, RUNNING],
            ["phase", "nearer: no water warms it"],
            ["set", {"loop_return": 3999}],
            ["becomes", 5000, 5000, ends],
        ],
        loop_supply_fitted=0,
        exchanger_fitted=0,
        exchanger_frost=6000,
        dump_topology=topology,
    )


COLD_WATER = {"duty": "idle", "reason": "COLD_SLUG_REFUSED", "collector_pump": 0}
NEAR_ICE = [near_ice(0, ROUND), near_ice(1, COLD_WATER), near_ice(2, COLD_WATER)]
MILD_AIR = sequence(
    "mild_air_contradicts_a_frosty_tap",
    [*LONG_CHARGING, ["phase", "charging"], ["set", {"tap": -6000}], ["keep", 120000, BOTH_PUMPS]],
)
