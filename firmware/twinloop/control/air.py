"""When may the fan of the solar air heater run? The whole rule.

The air side hangs on no duty of the water side. Only hands, maintenance and a hard fault of the
board reach both. Whatever is unknown stops the fan: hot air that stands in its collector harms
nothing that this controller could save.
"""

from . import conditions as c
from . import reasons as why
from . import rules, sequence
from . import settings as cfg
from . import state as s
from .state import latched, run_timer

# The fan stops this far below room_maximum, so that the last heat does not lift the room above it,
# and may run again this much further below.
ROOM_EARLY_MK = 1000
ROOM_RESET_MK = 1000
# A sensor in its case on the wall lags ten minutes behind the air (common practice): the reading
# lags as far as it moves in twice the five minutes by which a slow mean lags behind it.
SLOW_S = 300
AHEAD = 2
# What stands in a hot collector reaches the room before the sensor sees it: a collector of half the
# floor's area lifts a light room by 3 K in two minutes. So one part in HOT_PARTS of how much hotter
# it is counts as room temperature, up to HOT_TOP_MK.
HOT_PARTS = 32
HOT_TOP_MK = 2500
# After a stop the fan rests: under a weak sun its collector is warm again within a minute.
FAN_REST_MS = 600000
# Summer ends this far below summer_above.
SUMMER_RESET_MK = 2000
DAY_S = 86400
# A room colder than room_minimum takes what is worth the fan's power: this much above
# air_stop_difference.
COLD_ROOM_MK = 1000
# With the fan off at night a tight damper leaves the collector near the air outdoors. Air from the
# room keeps it at two thirds of the way to the room or above, for longer than a dull winter day.
BACK_COLD_MK = 10000
BACK_LIMIT_S = 32400
# Ten minutes of air cool any collector below this above the room, or the fan moves none.
HOT_MK = 45000
HOT_LIMIT_MS = 600000


def known(state):
    """Whether both temperatures of the air side are trusted."""
    return s.trusted(state, s.AIR_COLLECTOR) and s.trusted(state, s.ROOM)


def watch_season(state, settings, inputs):
    """Follow the mean of a day outdoors, and latch summer by it.

    Without an outdoor sensor, and in the first day after a reset, there is no summer: an hour says
    nothing of the season, and room_maximum still holds.
    """
    if settings[cfg.AIR_HEATER] == 0 or settings[cfg.OUTDOOR_FITTED] == 0:
        state[s.SUMMER] = 0
        return
    if not s.trusted(state, s.OUTDOOR) or state[s.METER_SECONDS] == 0:
        return
    state[s.SEASON_S] = min(state[s.SEASON_S] + state[s.METER_SECONDS], DAY_S)
    # Bounds: 290 K for 60 s is below 2^25.
    part = (state[s.OUTDOOR_MC] - state[s.SEASON_MC]) * state[s.METER_SECONDS] + state[s.SEASON_REST]
    state[s.SEASON_MC] += part // state[s.SEASON_S]
    state[s.SEASON_REST] = part % state[s.SEASON_S]
    if state[s.SEASON_S] < DAY_S:
        return
    above = settings[cfg.SUMMER_ABOVE]
    state[s.SUMMER] = latched(state[s.SUMMER], state[s.SEASON_MC], above, above - SUMMER_RESET_MK)


def follow_room(state, settings, inputs):
    """Follow the room slowly; it begins anew when the sensor was lost."""
    if not s.trusted(state, s.ROOM):
        state[s.ROOM_SLOW_MC] = s.UNKNOWN_MC
        return
    if state[s.ROOM_SLOW_MC] == s.UNKNOWN_MC:
        state[s.ROOM_SLOW_MC] = state[s.ROOM_MC]
    part = (state[s.ROOM_MC] - state[s.ROOM_SLOW_MC]) * state[s.METER_SECONDS] + state[s.ROOM_REST]
    state[s.ROOM_SLOW_MC] += part // SLOW_S
    state[s.ROOM_REST] = part % SLOW_S


def latch_room(state, settings, inputs):
    """Latch a room that is warm enough: by what its sensor will read where the air has got to.

    That is never below what it reads: a sensor out of the sun falls faster than the air does.
    """
    follow_room(state, settings, inputs)
    if state[s.ROOM_SLOW_MC] == s.UNKNOWN_MC:
        return
    ahead = state[s.ROOM_MC] + AHEAD * max(state[s.ROOM_MC] - state[s.ROOM_SLOW_MC], 0)
    ahead += min(max(state[s.AIR_COLLECTOR_MC] - state[s.ROOM_MC], 0) // HOT_PARTS, HOT_TOP_MK)
    enough = settings[cfg.ROOM_MAXIMUM] - ROOM_EARLY_MK
    state[s.ROOM_WARM] = latched(state[s.ROOM_WARM], ahead, enough, enough - ROOM_RESET_MK)


def latch_air(state, settings, inputs):
    """Latch a collector that is worth the fan's power."""
    if not known(state):
        state[s.AIR_WANTED] = 0
        return
    start = settings[cfg.AIR_START_DIFFERENCE]
    stop = settings[cfg.AIR_STOP_DIFFERENCE]
    if state[s.ROOM_MC] < settings[cfg.ROOM_MINIMUM]:
        start = stop + COLD_ROOM_MK
    state[s.AIR_WANTED] = latched(state[s.AIR_WANTED], state[s.AIR_COLLECTOR_MC] - state[s.ROOM_MC], start, stop)


def runs_on(state, settings, inputs):
    """Whether the fan still fetches the collector's last heat, while warmer than the room."""
    if state[s.AIR_FAN_ON] == 0 or state[s.AIR_COLLECTOR_MC] <= state[s.ROOM_MC]:
        return False
    return state[s.AIR_SPENT_MS] < settings[cfg.AIR_RUN_ON]


def too_hot(state, settings, inputs):
    """Whether the collector's air would harm a fan that draws it."""
    return settings[cfg.FAN_PLACE] == cfg.DRAWS and state[s.AIR_COLLECTOR_MC] > settings[cfg.FAN_LIMIT]


def has_turn(state, settings, inputs):
    """Whether the fan has its turn of exercise, also in summer and into a room that is warm enough.

    It blows neither cold nor hot air into the room: mornings and evenings have mild air.
    """
    if state[s.AIR_REASON] == why.FAN_TURN:
        return state[s.OUTPUT_MS + s.AIR_FAN] < settings[cfg.EXERCISE_FOR]
    if state[s.UNMOVED_S + s.FAN_MOVER] < settings[cfg.EXERCISE_AFTER] or too_hot(state, settings, inputs):
        return False
    return 0 < state[s.AIR_COLLECTOR_MC] - state[s.ROOM_MC] <= settings[cfg.AIR_STOP_DIFFERENCE]


def stopped(state, settings, inputs):
    """Whether the whole board stands: a hard fault, or maintenance."""
    return rules.holds(state, c.RESETS) or rules.holds(state, c.GUARD_HELD) or rules.holds(state, c.MAINTAINED)


def rest_reason(state, settings, inputs):
    """Why the fan rests although the collector is warm enough, 0 if it may start."""
    if state[s.AIR_FAN_ON] != 0:
        return 0
    if too_hot(state, settings, inputs):
        return why.FAN_HOT
    return why.FAN_RESTS if state[s.OUTPUT_MS + s.AIR_FAN] < FAN_REST_MS else 0


def own_reason(state, settings, inputs):
    """Why the fan runs or rests by itself. A room that is warm enough outranks all but its turn."""
    if has_turn(state, settings, inputs):
        return why.FAN_TURN
    if state[s.ROOM_WARM] == 1:
        return why.ROOM_WARM
    if state[s.SUMMER] == 1:
        return why.SUMMER
    if state[s.AIR_WANTED] == 0:
        return why.AIR_LAST if runs_on(state, settings, inputs) else why.AIR_COOL
    rest = rest_reason(state, settings, inputs)
    return rest if rest != 0 else why.AIR_WARM


def in_hand(state, settings, inputs):
    """Whether somebody holds the fan, on or off."""
    return inputs[s.IN_HAND_MASK] >> s.AIR_FAN & 1 != 0


def hand_reason(state, settings, inputs):
    """Why the fan that hands hold on runs or rests: cool air and summer alone do not bar it."""
    if state[s.ROOM_WARM] == 1:
        return why.ROOM_WARM
    return why.FAN_HOT if state[s.AIR_FAN_ON] == 0 and too_hot(state, settings, inputs) else why.FAN_HELD


def reason(state, settings, inputs):
    """Why the fan runs or rests; from AIR_WARM on it runs."""
    if settings[cfg.AIR_HEATER] == 0:
        return 0
    if stopped(state, settings, inputs):
        return why.AIR_STOPPED
    if in_hand(state, settings, inputs) and inputs[s.IN_HAND_VALUE] >> s.AIR_FAN & 1 == 0:
        return why.FAN_HELD_OFF
    if not known(state):
        return why.AIR_UNKNOWN
    return hand_reason(state, settings, inputs) if in_hand(state, settings, inputs) else own_reason(state, settings, inputs)


def draws_back(state, settings, inputs):
    """Whether the resting collector is nearly as warm as the room, in far colder air."""
    if not known(state) or not s.trusted(state, s.OUTDOOR) or state[s.AIR_FAN_ON] != 0:
        return False
    fall = state[s.ROOM_MC] - state[s.OUTDOOR_MC]
    return fall >= BACK_COLD_MK and 0 <= state[s.ROOM_MC] - state[s.AIR_COLLECTOR_MC] <= fall // 3


def watch_back(state, settings, inputs):
    """Time air that flows back at night, and a fan that moves none."""
    back = draws_back(state, settings, inputs)
    state[s.BACK_S] = min(state[s.BACK_S] + state[s.METER_SECONDS], BACK_LIMIT_S) if back else 0
    hot = state[s.AIR_FAN_ON] != 0 and known(state) and state[s.AIR_COLLECTOR_MC] - state[s.ROOM_MC] >= HOT_MK
    run_timer(state, settings, inputs, s.AIR_HOT_MS, hot)


def move_fan(state, settings, inputs):
    """Switch the fan."""
    watch_season(state, settings, inputs)
    watch_back(state, settings, inputs)
    latch_room(state, settings, inputs)
    latch_air(state, settings, inputs)
    run_timer(state, settings, inputs, s.AIR_SPENT_MS, state[s.AIR_WANTED] == 0)
    state[s.AIR_REASON] = reason(state, settings, inputs)
    on = 1 if state[s.AIR_REASON] >= why.AIR_WARM else 0
    sequence.put(state, settings, inputs, s.AIR_FAN, on)
