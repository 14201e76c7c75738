"""The methods of the link: what each call does to the station, and what a host holds meanwhile.

On the bench a host may inject its own values in place of the sensors. It holds them by a lease on
the port's clock, which only its own `inject` or `advance` renews. When the lease ends, the station
starts cold on its own sensors.
"""

import binascii
from array import array

from .control import settings as cfg
from .control import state as s
from .event_log import IN_SERVICE, SETTINGS_SAVED
from .link import calls
from .store import firmware_hash, pack, schema_crc

LEASE_MS = 5000
# Hands and upkeep end by themselves: nobody may forget a running pump, or a stopped station.
HAND_TOP_S = 3600
PURGE_TOP_S = 7200
MAINTENANCE_TOP_S = 900
LEASE_TOP_MS = 30000
# A host that asks too fast must not wear out a relay.
CLICK_PAUSE_MS = 100
STAGE_MS = 30000
PART = 20
NO_CAUSES = (s.CAUSE_NONE,) * s.SENSORS


def hex_text(crc):
    """Eight lower-case hex digits: a CRC does not fit a small integer."""
    return f"{crc:08x}"


def values_crc(values):
    """CRC-32 over all settings as packed integers, as text."""
    return hex_text(binascii.crc32(pack(values, 0)[8:-4]) & 0xFFFFFFFF)


class Desk:
    """What a host holds: injection, one relay, hands, upkeep, staged settings, a log snapshot."""

    def __init__(self, loop):
        self.loop = loop
        self.injecting = False
        self.lock_step = False
        self.number = 0
        self.mask = 0
        self.lease_ms = LEASE_MS
        self.renewed = 0
        self.entered = 0
        self.values = array("i", [0] * s.SENSORS)
        self.causes = array("i", [s.CAUSE_SILENT] * s.SENSORS)
        self.flow = array("i", [0, s.CAUSE_SILENT])
        self.clicking = False
        self.clicked = 0
        self.hand_mask = 0
        self.hand_value = 0
        self.upkeep = s.UPKEEP_NONE
        self.hands_top_ms = 0
        self.hands_since = 0
        self.staged = None
        self.staged_rows = None
        self.staged_at = 0
        self.log_snapshot = None

    def fill(self, inputs):
        """Put injected values in the place of the sensors."""
        for sensor in range(s.SENSORS):
            inputs[s.IN_RAW_MC + sensor] = self.values[sensor]
            inputs[s.IN_RAW_CAUSE + sensor] = self.causes[sensor]
        inputs[s.IN_FLOW_ML_PER_MIN] = self.flow[0]
        inputs[s.IN_FLOW_CAUSE] = self.flow[1]

    def fill_hands(self, inputs):
        """Put hands and upkeep into the inputs."""
        inputs[s.IN_HAND_MASK] = self.hand_mask
        inputs[s.IN_HAND_VALUE] = self.hand_value
        inputs[s.IN_UPKEEP] = self.upkeep

    def hold(self, seconds):
        """Restart the one time limit that hands and upkeep share."""
        self.hands_top_ms = 1000 * seconds
        self.hands_since = self.loop.port.ticks_ms()

    def drop_hands(self):
        """End hands and upkeep."""
        self.hand_mask = 0
        self.hand_value = 0
        self.upkeep = s.UPKEEP_NONE

    def since(self, ticks):
        """Milliseconds on the port's clock since `ticks`."""
        return self.loop.port.ticks_diff(self.loop.port.ticks_ms(), ticks)

    def tend(self):
        """End whatever is not renewed or has had its time."""
        if self.injecting and self.since(self.renewed) > self.lease_ms:
            self.leave()
        if self.clicking:
            if self.since(self.clicked) > self.lease_ms:
                self.stop_clicking()
            else:
                self.loop.port.renew()
        if (self.staged is not None or self.staged_rows is not None) and self.since(self.staged_at) > STAGE_MS:
            self.unstage()
        if (self.hand_mask or self.upkeep) and self.since(self.hands_since) > self.hands_top_ms:
            self.drop_hands()

    def unstage(self):
        """Forget staged settings and rows."""
        self.staged = None
        self.staged_rows = None

    def end_all(self):
        """End an injection and a relay held by itself.

        Hands and upkeep go on until their time is over.
        """
        if self.injecting:
            self.leave()
        if self.clicking:
            self.stop_clicking()

    def stop_clicking(self):
        """Give the relays back to the station: safe, and a cold start."""
        self.clicking = False
        self.loop.wake()

    def enter(self):
        """Begin an injection with a cold start.

        The station's own meter is put aside for a new one.
        """
        if self.clicking:
            self.stop_clicking()
        self.entered = self.loop.port.ticks_ms()
        self.kept = self.loop.state[s.METER_MS :]
        self.loop.new_meter()
        self.injecting = True
        self.lock_step = False
        self.number = 0
        self.mask = 0
        self.loop.wake()

    def leave(self):
        """End an injection with a cold start on the station's own sensors and meter."""
        self.injecting = False
        self.lock_step = False
        for index in range(len(self.kept)):
            self.loop.state[s.METER_MS + index] = self.kept[index]
        self.loop.wake()

    def steps_itself(self):
        """Whether the station takes its own steps: not in lock step.

        A host that has just begun to inject has one period to go into lock step.
        """
        return not (self.injecting and (self.lock_step or self.since(self.entered) < self.loop.port.period_ms))

    def take(self, values, causes, flow):
        """Take new injected readings, and renew the lease."""
        for sensor in range(s.SENSORS):
            self.values[sensor] = values[sensor]
            self.causes[sensor] = causes[sensor]
        self.flow[0] = flow[0]
        self.flow[1] = flow[1]
        self.renewed = self.loop.port.ticks_ms()


def need_bench(desk):
    """Raise unless on the bench: in service no host comes between sensors and station."""
    if not desk.loop.bench:
        raise calls.CallError(calls.REFUSED, "board is in service: no injection")


def state_name(desk):
    """`bench` or `service`."""
    return "bench" if desk.loop.bench else "service"


def hello(desk, params):
    """Open a session; ends an older one's injection, single relay and staged settings.

    Hands and upkeep go on until their time is over.
    """
    desk.end_all()
    desk.unstage()
    number = desk.loop.session.open(desk.loop.port.random())
    facts = identify(desk, params)
    facts["session"] = number
    return facts


def identify(desk, params):
    """Who this is, and the order of every array."""
    port = desk.loop.port
    return {
        "protocol": calls.PROTOCOL,
        "board": port.name,
        "interpreter": port.interpreter,
        "firmware": firmware_hash(port.folder),
        "schema": hex_text(schema_crc()),
        "state": state_name(desk),
        "period_ms": port.period_ms,
        "read_back": int(port.read_back is not None),
        "sensors": list(s.SENSOR_NAMES),
        "outputs": list(s.OUTPUT_NAMES),
    }


def status(desk, params):
    """One snapshot of readings, duty, relays and counters."""
    loop = desk.loop
    state = loop.state
    return {
        "state": state_name(desk),
        "injecting": int(desk.injecting),
        "duty": state[s.DUTY],
        "reason": state[s.REASON],
        "wait": state[s.WAIT_REASON],
        "mc": list(state[s.VALUE_MC : s.VALUE_MC + s.SENSORS]),
        "status": list(state[s.STATUS : s.STATUS + s.SENSORS]),
        "cause": list(state[s.CAUSE : s.CAUSE + s.SENSORS]),
        "commands": list(state[s.COMMAND : s.COMMAND + s.OUTPUTS]),
        "valve_ms": state[s.VALVE_MS],
        "alarms": state[s.ALARMS],
        "guard_actions": state[s.GUARD_ACTIONS],
        "settings_source": loop.settings_source,
        "sequence": loop.store.sequence,
        "resets": loop.resets,
        "start_cause": loop.port.start_cause,
        "fault": loop.store.fault(),
        "uptime_s": loop.uptime_s,
        "lines_bad": loop.lines_bad,
        "answers_dropped": loop.answers_dropped,
    }


def words(desk, params):
    """Help for a person at a terminal."""
    return ["hello", "status", "help", "everything else needs a CRC: use the twinloop command"]


def settings_get(desk, params):
    """[part] -> part, parts, sequence, CRC over all, values in the order of their codes."""
    part = calls.integers(params, 1, 1)[0]
    values = desk.loop.settings
    parts = (cfg.SETTINGS + PART - 1) // PART
    if not 0 <= part < parts:
        raise calls.CallError(calls.BAD_PARAMS, f"part has to be 0 to {parts - 1}")
    return {
        "part": part,
        "parts": parts,
        "sequence": desk.loop.store.sequence,
        "crc": values_crc(values),
        "values": list(values[part * PART : part * PART + PART]),
    }


def settings_stage(desk, params):
    """[base sequence, code, value, code, value ...]: stage changes; commit applies them."""
    calls.integers(params, 3, 41)
    if params[0] != desk.loop.store.sequence:
        raise calls.CallError(calls.REFUSED, f"base sequence is {params[0]}, the board's is {desk.loop.store.sequence}")
    if len(params) % 2 == 0:
        raise calls.CallError(calls.BAD_PARAMS, "the last code has no value")
    staged = desk.staged if desk.staged is not None else array("i", desk.loop.settings)
    for place in range(1, len(params), 2):
        if not 0 <= params[place] < cfg.SETTINGS:
            raise calls.CallError(calls.BAD_PARAMS, f"no setting has code {params[place]}")
    for place in range(1, len(params), 2):
        staged[params[place]] = params[place + 1]
    desk.staged = staged
    desk.staged_at = desk.loop.port.ticks_ms()
    return {"crc": values_crc(staged), "broken_rule": cfg.broken_rule(staged)}


def settings_commit(desk, params):
    """[base sequence, CRC text over all values]: take the staged settings as a whole or not at all.

    They are written once, and the station starts cold on them.
    """
    if len(params) != 2 or type(params[0]) is not int or type(params[1]) is not str:
        raise calls.CallError(calls.BAD_PARAMS, "takes base sequence and CRC text")
    if desk.staged is None:
        raise calls.CallError(calls.REFUSED, "nothing staged")
    if params[0] != desk.loop.store.sequence or params[1] != values_crc(desk.staged):
        raise calls.CallError(calls.REFUSED, "base or CRC differ from what is staged")
    rule = cfg.broken_rule(desk.staged)
    if rule != cfg.RULE_OK:
        raise calls.CallError(calls.REFUSED, f"settings break rule {rule}")
    calls.need_written(desk.loop.store.save_settings(desk.staged))
    return take_settings(desk)


def take_settings(desk):
    """Put the staged settings in force, once they are stored."""
    for code in range(cfg.SETTINGS):
        desk.loop.settings[code] = desk.staged[code]
    desk.staged = None
    desk.loop.settings_source = 0
    desk.loop.log.note(SETTINGS_SAVED, 0, desk.loop.store.sequence)
    desk.loop.wake()
    return {"sequence": desk.loop.store.sequence, "crc": values_crc(desk.loop.settings)}


def inject(desk, params):
    """[lease_ms, mask, [mC per sensor], [cause per sensor], [flow ml/min, cause]]: hold readings.

    Relays in the mask really move. Causes may be an empty list when every reading is good; flow may
    be left out when there is none.
    """
    need_bench(desk)
    if not 4 <= len(params) <= 5:
        raise calls.CallError(calls.BAD_PARAMS, "takes lease_ms, mask, values, causes, and flow if there is one")
    lease_ms, mask = calls.integers(params[:2], 2, 2)
    if not 100 <= lease_ms <= LEASE_TOP_MS:
        raise calls.CallError(calls.BAD_PARAMS, f"lease_ms has to be 100 to {LEASE_TOP_MS}")
    if not 0 <= mask < 1 << s.OUTPUTS:
        raise calls.CallError(calls.BAD_PARAMS, f"mask has to be 0 to {(1 << s.OUTPUTS) - 1}")
    values = calls.array(params, 2, s.SENSORS)
    causes = causes_of(params)
    flow = flow_of(params)
    if not desk.injecting:
        desk.enter()
    desk.lease_ms = lease_ms
    desk.mask = mask
    desk.take(values, causes, flow)
    return {"injecting": 1}


def causes_of(params):
    """The causes of inject and advance; an empty list means that every reading is good."""
    return NO_CAUSES if params[3] == [] else calls.array(params, 3, s.SENSORS)


def flow_of(params):
    """The flow input of inject and advance, [ml/min, cause]; silent if left out."""
    return calls.array(params, 4, 2) if len(params) == 5 else (0, s.CAUSE_SILENT)


def release(desk, params):
    """End the injection, and let go of a relay held by itself."""
    desk.end_all()
    return {"injecting": 0}


def relay(desk, params):
    """[output, on, lease_ms]: hold one relay and let go of every other.

    Its lease, `release`, `inject`, `hello` or `commission` ends that. Answers what the read-back
    wire saw: closed contacts as bits, when this one first moved and when it came to rest in
    microseconds, and how often it moved; -1 without read-back wires.
    """
    need_bench(desk)
    output, on, lease_ms = calls.integers(params, 3, 3)
    if not 0 <= output < s.OUTPUTS or on not in (0, 1):
        raise calls.CallError(calls.BAD_PARAMS, f"output has to be 0 to {s.OUTPUTS - 1}, on 0 or 1")
    if not 100 <= lease_ms <= LEASE_TOP_MS:
        raise calls.CallError(calls.BAD_PARAMS, f"lease_ms has to be 100 to {LEASE_TOP_MS}")
    if desk.injecting:
        raise calls.CallError(calls.REFUSED, "readings are injected: release first")
    if desk.clicking and desk.since(desk.clicked) < CLICK_PAUSE_MS:
        raise calls.CallError(calls.REFUSED, f"a relay was switched less than {CLICK_PAUSE_MS} ms ago")
    port = desk.loop.port
    desk.clicking = True
    desk.lease_ms = lease_ms
    desk.clicked = port.ticks_ms()
    port.renew()
    return click(port, output, on)


def click(port, output, on):
    """Move one relay alone, and watch its contact if a wire leads back."""
    for other in range(s.OUTPUTS):
        if other != output:
            port.drive(other, port.rest[other])
    back = port.read_back
    if back is None:
        port.drive(output, on)
        return {"closed": -1, "first_us": -1, "last_us": -1, "edges": -1}
    was = back.pins[output].value()
    port.drive(output, on)
    back.watch(output, was)
    return {"closed": back.closed(), "first_us": back.first_us, "last_us": back.last_us, "edges": back.edges}


def advance(desk, params):
    """[number, dt_ms, [mC per sensor], [cause per sensor], [flow ml/min, cause]]: step once.

    This is lock step: only the number after the last one is executed. Readings are as in inject.
    Answers number, commands as bits, duty, reason, and what is waited for.
    """
    need_bench(desk)
    if not desk.injecting:
        raise calls.CallError(calls.REFUSED, "inject first")
    if not 4 <= len(params) <= 5:
        raise calls.CallError(calls.BAD_PARAMS, "takes number, dt_ms, values, causes, and flow if there is one")
    number, dt_ms = calls.integers(params[:2], 2, 2)
    if number != desk.number + 1:
        raise calls.CallError(calls.REFUSED, f"next step is {desk.number + 1}")
    if not 1 <= dt_ms <= s.STEP_TOP_MS:
        raise calls.CallError(calls.BAD_PARAMS, f"dt_ms has to be 1 to {s.STEP_TOP_MS}")
    desk.take(calls.array(params, 2, s.SENSORS), causes_of(params), flow_of(params))
    desk.number = number
    desk.lock_step = True
    loop = desk.loop
    desk.fill(loop.inputs)
    loop.step(dt_ms)
    loop.apply_injected()
    state = loop.state
    bits = 0
    for output in range(s.OUTPUTS):
        bits |= (state[s.COMMAND + output] != 0) << output
    return [number, bits, state[s.DUTY], state[s.REASON], state[s.WAIT_REASON]]


def hand(desk, params):
    """[output, on, seconds]: hold one output by hand, within the limits.

    0 seconds lets go of all, and ends upkeep as well.
    """
    output, on, seconds = calls.integers(params, 3, 3)
    if output not in s.MOVING or on not in (0, 1):
        raise calls.CallError(calls.BAD_PARAMS, f"output has to be one of {s.MOVING}, on 0 or 1")
    if not 0 <= seconds <= HAND_TOP_S:
        raise calls.CallError(calls.BAD_PARAMS, f"seconds have to be 0 to {HAND_TOP_S}")
    if seconds == 0:
        desk.drop_hands()
    else:
        desk.hand_mask |= 1 << output
        desk.hand_value = desk.hand_value & ~(1 << output) | on << output
        desk.hold(seconds)
    return {"mask": desk.hand_mask, "value": desk.hand_value}


def keep_up(desk, params, kind, top_s):
    """Begin one kind of upkeep, or with 0 seconds end any; hands end in both cases."""
    seconds = calls.integers(params, 1, 1)[0]
    if not 0 <= seconds <= top_s:
        raise calls.CallError(calls.BAD_PARAMS, f"seconds have to be 0 to {top_s}")
    desk.drop_hands()
    if seconds:
        desk.upkeep = kind
        desk.hold(seconds)
    return {"upkeep": desk.upkeep}


def maintenance(desk, params):
    """[seconds]: every pump off while somebody works on the station; 0 ends it."""
    return keep_up(desk, params, s.UPKEEP_MAINTENANCE, MAINTENANCE_TOP_S)


def purge(desk, params):
    """[seconds]: both pumps on while the collector is cool, the valve changing over; 0 ends it."""
    return keep_up(desk, params, s.UPKEEP_PURGE, PURGE_TOP_S)


def commission(desk, params):
    """Put the board in service, unless its jumper holds it on the bench.

    The flag is written; injection and a relay held by itself end.
    """
    calls.need_written(desk.loop.store.commission())
    desk.end_all()
    desk.loop.bench = desk.loop.port.on_bench()
    desk.loop.log.note(IN_SERVICE, 0, 0)
    return {"state": state_name(desk)}


METHODS = {
    "hello": hello,
    "bare hello": identify,
    "status": status,
    "bare status": status,
    "bare help": words,
    "settings.get": settings_get,
    "settings.stage": settings_stage,
    "settings.commit": settings_commit,
    "inject": inject,
    "release": release,
    "relay": relay,
    "advance": advance,
    "hand": hand,
    "maintenance": maintenance,
    "purge": purge,
    "commission": commission,
}
