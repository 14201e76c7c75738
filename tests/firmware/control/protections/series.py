"""The radiator in series: (phase that fails, protection, edit) by sequence."""

from ..syntax_edits import always, gone, moved, never, returns, swapped

OWN_REST = "not (pulses and state[DUTY_MS] >= settings[MINIMUM_REST])"
TABLE = [
    "an_outdoor_sensor_that_has_come_indoors",
    ("its place is warm", "air does not jump", moved("AIR_JUMP_MK", 100000)),
    ("its place is warm", "the air counts, not the sensor", swapped("air_mc", "state[AIR_MC]", "state[OUTDOOR_MC]")),
    ("outdoors again", "it is followed again", moved("AIR_JUMP_MK", -8000)),
    ("outdoors again", "as fast as air changes", moved("AIR_RISE_MK", 50)),
    "a_full_tank_has_room_while_frost_bars_the_dump",
    ("less: the water moves", "it has room", returns("has_room", False)),
    ("3 K below its limit", "no more than that", moved("ROOM_MK", -1000)),
    ("3 K below its limit", "no more than that to begin with", always("has_room", "DUTY")),
    ("up to its limit", "up to the limit", never("has_room", "DUTY")),
    ("off its scale", "a top that is too hot to be true is hot", never("has_room", "off_scale")),
    "pulses_do_not_wait_for_minimum_rest",
    ("charging began less", "then pulses have their own rest", swapped("rests", OWN_REST, "True")),
    ("charging began less", "to begin with they rest as any start", always("rests", "DUTY_MS MINIMUM_REST")),
    "a_hot_collector_without_the_air",
    ("at the threshold, after a mild night", "the air was not far from frost", returns("outdoors_mc", -50000)),
    ("after a cold one: refused", "the collector follows the air at night", gone("rise", "COLLECTOR_MC)")),
    ("after a reset: unknown", "after a reset nobody knows", never("outdoors_mc", "WARMEST_MC")),
    "a_hot_collector_beside_a_radiator_above_ice",
    ("frosty: refused", "only a hot collector may have it", always("dump_frosty", "DUMP_WANTED")),
    ("at the threshold: dumped", "a hot collector may have it", never("dump_frosty", "DUMP_WANTED")),
    "tank_full_low",
    ("hot, off", "only frost gives it room", always("has_room", "COLD_DUMP")),
]
