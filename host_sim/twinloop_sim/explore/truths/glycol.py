"""How cold the glycol outdoors may be: from readings, until a loop volume has been pumped."""

from twinloop.control import settings as cfg
from twinloop.control import state as s

from . import memory as mem
from .facts import air_unread, trusted
from .memory import longer

# source: docs/hazards.md and the design
STANDING_LIMIT_MS = 600000
LAG_MC = 10000
# No insulated pipe warms or cools faster than in an hour; a dark collector is 4 K colder than the
# pipes.
RISE_STEP_MS = 60000
RISE_PARTS = 60
NIGHT_MC = 4000
# Indoors nothing is this warm after a frosty night.
SUNNY_MC = 25000


def loop_cold(m, settings):
    """Whether glycol colder than exchanger_frost may still be outdoors."""
    return m[mem.COLDEST_MC] < settings[cfg.EXCHANGER_FROST]


def remember_frosty(m, settings, seen_mc):
    """Note that glycol this cold may be outdoors; below exchanger_frost, start counting anew."""
    if seen_mc < settings[cfg.EXCHANGER_FROST]:
        m[mem.PUMPED_ML] = 0
        m[mem.COLDEST_MC] = min(m[mem.COLDEST_MC], seen_mc)


def remember_air(m, state, settings):
    """Glycol standing outdoors is as cold as the air; a fitted but lost sensor may mean any air."""
    if settings[cfg.OUTDOOR_FITTED] == 1:
        remember_frosty(m, settings, state[s.OUTDOOR_MC] if trusted(state, s.OUTDOOR) else mem.COLDEST_GLYCOL_MC)
        if not trusted(state, s.OUTDOOR):
            m[mem.JUDGED] = 0


def remember_radiator(m, state, settings):
    """Glycol entering the radiator, or leaking in at an open crossover, pushes out its own slug."""
    away = m[mem.WAS + s.DUMP_VALVE_POWER] == 1 and (
        settings[cfg.DUMP_CROSSOVER] == cfg.CLOSED or m[mem.VALVE_MOST_MS] == settings[cfg.DUMP_TRAVEL]
    )
    through = m[mem.WAS + s.COLLECTOR_PUMP] == 1 and not away and settings[cfg.DUMP_TOPOLOGY] != cfg.NONE
    if through and m[mem.THROUGH_RADIATOR] == 0:
        remember_air(m, state, settings)
    m[mem.THROUGH_RADIATOR] = 1 if through else 0


def judge_loop(m, state, settings, dt_ms):
    """Judge the loop without pumping where nothing bypasses the exchanger.

    First from collector and air minus a lag; later it follows milder weather, and at rest colder
    weather.
    """
    if settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS or not trusted(state, s.COLLECTOR) or not trusted(state, s.OUTDOOR):
        return
    if m[mem.JUDGED] == 0:
        m[mem.JUDGED] = 1
        m[mem.COLDEST_MC] = min(state[s.COLLECTOR_MC], state[s.OUTDOOR_MC]) - LAG_MC
    m[mem.RISE_MS] += dt_ms
    if m[mem.RISE_MS] >= RISE_STEP_MS:
        m[mem.RISE_MS] = 0
        mildest = min(state[s.COLLECTOR_MC] + NIGHT_MC, state[s.OUTDOOR_MC])
        follows = mildest > m[mem.COLDEST_MC] or m[mem.WAS + s.COLLECTOR_PUMP] == 0
        m[mem.COLDEST_MC] += (mildest - m[mem.COLDEST_MC]) // RISE_PARTS if follows else 0


def remember_left(m, state, settings):
    """A pump that stops leaves glycol no colder than the station or the tank's bottom."""
    for sensor in (s.COLLECTOR, s.LOOP_SUPPLY, s.LOOP_RETURN, s.TANK_LOW):
        if trusted(state, sensor):
            m[mem.COLDEST_MC] = min(m[mem.COLDEST_MC], state[s.VALUE_MC + sensor])


def stand(m, state, settings, dt_ms):
    """After ten minutes standing glycol is as cold as the air, or without a bypass on its way.

    Air that was read in these ten minutes is no colder than it was.
    """
    around = settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS
    if not around and m[mem.OFF_MS] <= dt_ms:
        remember_left(m, state, settings)
    if m[mem.OFF_MS] < STANDING_LIMIT_MS:
        return
    if not trusted(state, s.OUTDOOR) and not air_unread(state):
        return
    if around or not trusted(state, s.OUTDOOR):
        remember_air(m, state, settings)
    else:
        remember_frosty(m, settings, m[mem.COLDEST_MC])


def judge_arrival(m, state, settings, dt_ms):
    """After a quarter of the loop, the sun's glycol at the station shows that the slug passed."""
    arrived = trusted(state, s.LOOP_SUPPLY) and state[s.LOOP_SUPPLY_MC] >= SUNNY_MC
    longer(m, mem.SUN_MS, dt_ms, arrived and m[mem.PUMPED_ML] * 4 >= settings[cfg.LOOP_VOLUME])
    if m[mem.SUN_MS] > 0 and settings[cfg.DUMP_TOPOLOGY] != cfg.BYPASS:
        m[mem.COLDEST_MC] = mem.WARM_MC


def remember_loop(m, state, settings, inputs):
    """Update the coldest glycol; pumping a loop volume since the last frosty reading clears it."""
    dt_ms = inputs[s.IN_DT_MS]
    judge_loop(m, state, settings, dt_ms)
    if not trusted(state, s.COLLECTOR):
        m[mem.JUDGED] = 0
        remember_frosty(m, settings, mem.COLDEST_GLYCOL_MC)
    else:
        above = 0 if settings[cfg.DUMP_TOPOLOGY] == cfg.BYPASS else NIGHT_MC
        remember_frosty(m, settings, state[s.COLLECTOR_MC] + above)
    remember_radiator(m, state, settings)
    judge_arrival(m, state, settings, dt_ms)
    if m[mem.WAS + s.COLLECTOR_PUMP] == 0:
        stand(m, state, settings, dt_ms)
        return
    part = settings[cfg.COLLECTOR_FLOW] * dt_ms + m[mem.PUMPED_REST]
    m[mem.PUMPED_ML] = min(m[mem.PUMPED_ML] + part // 60000, mem.TOP_MS)
    m[mem.PUMPED_REST] = part % 60000
    if m[mem.PUMPED_ML] >= settings[cfg.LOOP_VOLUME] and trusted(state, s.COLLECTOR):
        m[mem.COLDEST_MC] = mem.WARM_MC
        m[mem.JUDGED] = 1
