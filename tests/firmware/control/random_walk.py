"""Random stations for the proofs: accepted settings from the corners of their ranges, readings that jump, sensors that break."""

from array import array

# Blocks with settings of their own; within a block the inputs hold on between their jumps, so that duties last.
JUMP = 0.006
BREAK = 0.002
MEND = 0.05
SETTINGS_CHANGED = 8
# collector, tank_low, tank_high, loop_supply, loop_return, outdoor, tap, exchanger
USUAL_MC = ((0, 125000), (5000, 60000), (5000, 80000), (20000, 90000), (0, 60000), (-20000, 40000), (5000, 60000), (3000, 90000))


def accepted_settings(core, random):
    """A random set that the validator takes: some settings at an end of their range or anywhere in it."""
    cfg = core.settings
    settings = array("i", [0] * cfg.SETTINGS)
    while True:
        cfg.load_defaults(settings)
        for code in random.sample(range(cfg.SETTINGS), SETTINGS_CHANGED):
            low, high = cfg.TABLE[code][2:4]
            settings[code] = random.choice((low, high, random.randint(low, high)))
        if cfg.broken_rule(settings) == cfg.RULE_OK:
            return settings


def interesting_mc(core, settings, random, sensor):
    """A raw value: at a threshold or a step beside it, somewhere usual, or at the end of what an integer holds."""
    kind = random.random()
    if kind < 0.3:
        units = [code for code in range(core.settings.SETTINGS) if core.settings.TABLE[code][1] == "mC"]
        return settings[random.choice(units)] + random.choice((-1, 0, 1))
    if kind < 0.9:
        return random.randint(*USUAL_MC[sensor])
    return random.choice((-(1 << 30), (1 << 30) - 1, core.readings.LOWEST_MC[sensor], core.readings.HIGHEST_MC[sensor] + 1))


def change_inputs(core, settings, inputs, random, possible):
    """Let some inputs jump, break or mend. Possible raw values are those that a place can credibly have."""
    s = core.state
    for sensor in range(s.SENSORS):
        if random.random() < JUMP:
            raw = interesting_mc(core, settings, random, sensor)
            if possible:
                raw = max(core.readings.LOWEST_MC[sensor], min(raw, core.readings.HIGHEST_MC[sensor]))
            inputs[s.IN_RAW_MC + sensor] = raw
        if random.random() < BREAK:
            inputs[s.IN_RAW_CAUSE + sensor] = random.randint(s.CAUSE_OPEN, s.CAUSE_NOT_READY)
        elif random.random() < MEND:
            inputs[s.IN_RAW_CAUSE + sensor] = s.CAUSE_NONE
    if random.random() < JUMP:
        inputs[s.IN_FLOW_ML_PER_MIN] = random.choice((0, 1, 500, 4500, (1 << 30) - 1))
        inputs[s.IN_FLOW_CAUSE] = random.choice((s.CAUSE_NONE, s.CAUSE_NONE, s.CAUSE_SILENT))
    # Hands and upkeep come seldom, stay a while, and go.
    if random.random() < JUMP:
        inputs[s.IN_HAND_MASK] = random.choice((0, 0, random.getrandbits(s.MOVERS)))
        inputs[s.IN_HAND_VALUE] = random.getrandbits(s.OUTPUTS)
        inputs[s.IN_UPKEEP] = random.choice((s.UPKEEP_NONE,) * 6 + (s.UPKEEP_MAINTENANCE, s.UPKEEP_PURGE))
        inputs[s.IN_SETTINGS_LOST] = random.choice((0, 0, 1))
    # Resets come seldom and do not stay.
    inputs[s.IN_RESETS] = random.randint(0, 4) if random.random() < 0.01 else 0


def walk(core, random, blocks, steps, step_times_ms, possible=False):
    """Yield (state, settings, inputs) after every step; every block wakes a station of its own."""
    s = core.state
    state = array("i", [0] * s.STATE)
    inputs = array("i", [0] * s.INPUTS)
    for _ in range(blocks):
        settings = accepted_settings(core, random)
        core.station.clear_meter(state, settings, inputs)
        for sensor in range(s.SENSORS):
            inputs[s.IN_RAW_MC + sensor] = random.randint(*USUAL_MC[sensor])
            inputs[s.IN_RAW_CAUSE + sensor] = s.CAUSE_NONE
        inputs[s.IN_HAND_MASK] = inputs[s.IN_UPKEEP] = 0
        core.station.wake(state, settings, inputs)
        for _ in range(steps):
            change_inputs(core, settings, inputs, random, possible)
            inputs[s.IN_DT_MS] = random.choice(step_times_ms)
            core.station.step(state, settings, inputs)
            yield state, settings, inputs
