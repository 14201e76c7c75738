"""What a host holds, and the calls for that: session, status, injection, one relay, service.

On the bench a host may inject its own values in place of the sensors. It holds them by a lease on
the port's clock, which only its own `inject` or `advance` renews. When the lease ends, the station
starts cold on its own sensors.
"""

from array import array

from .changes import hex_text
from .control import state as s
from .control.conditions import CONDITION_WORDS
from .event_log import IN_SERVICE
from .hands import Hands, need_relay
from .link import calls
from .store import SCHEMA_CRC

LEASE_MS = 5000
LEASE_LOW_MS = 100
LEASE_TOP_MS = 30000
# A host that asks too fast must not wear out a relay: each move takes this long.
CLICK_PAUSE_MS = 100
STAGE_MS = 30000


class Desk:
    """What a host holds: injection, one relay, hands, upkeep, staged settings, a log snapshot.

    A tick is compared only while what it times goes on, at most for minutes: older ones wrap.
    """

    def __init__(self, loop):
        self.loop = loop
        self.injecting = False
        self.lock_step = False
        self.number = 0
        self.mask = 0
        self.lease_ms = LEASE_MS
        self.renewed = 0
        self.entered = 0
        self.awaiting = False
        self.values = array("i", [0] * s.SENSORS)
        self.causes = array("i", [s.CAUSE_SILENT] * s.SENSORS)
        self.flow = array("i", [0, s.CAUSE_SILENT])
        self.clicking = False
        self.moved_at = 0
        self.pause_ms = 0
        self.hands = Hands(loop.port)
        self.staged = None
        self.staged_rows = None
        self.staged_at = 0
        self.paid_s = 0
        self.log_snapshot = None

    def fill(self, inputs):
        """Put injected values in the place of the sensors."""
        for sensor in range(s.SENSORS):
            inputs[s.IN_RAW_MC + sensor] = self.values[sensor]
            inputs[s.IN_RAW_CAUSE + sensor] = self.causes[sensor]
        inputs[s.IN_FLOW_ML_PER_MIN] = self.flow[0]
        inputs[s.IN_FLOW_CAUSE] = self.flow[1]

    def since(self, ticks):
        """Milliseconds on the port's clock since `ticks`."""
        return self.loop.port.ticks_diff(self.loop.port.ticks_ms(), ticks)

    def pausing(self):
        """Whether the desk moved a relay so shortly ago that none may be energised."""
        if self.pause_ms and self.since(self.moved_at) >= self.pause_ms:
            self.pause_ms = 0
        return self.pause_ms > 0

    def begin_pause(self):
        """Pause after a move; a move in a pause makes it longer."""
        self.pause_ms = 2 * CLICK_PAUSE_MS if self.pausing() else CLICK_PAUSE_MS
        self.moved_at = self.loop.port.ticks_ms()

    def tend(self):
        """End whatever is not renewed or has had its time."""
        self.pausing()
        if self.awaiting and self.since(self.entered) >= self.loop.port.period_ms:
            self.awaiting = False
        if self.injecting or self.clicking:
            if self.since(self.renewed) > self.lease_ms:
                self.end_all()
            elif self.clicking:
                self.loop.port.renew()
        if (self.staged is not None or self.staged_rows is not None) and self.since(self.staged_at) > STAGE_MS:
            self.unstage()
        self.hands.tend()

    def unstage(self):
        """Forget staged settings and rows."""
        self.staged = None
        self.staged_rows = None

    def end_all(self):
        """End an injection and a relay held by itself. Hands and upkeep go on."""
        if self.injecting:
            self.leave()
        if self.clicking:
            self.stop_clicking()

    def stop_clicking(self):
        """Give the relays back to the station: safe, and a cold start."""
        self.clicking = False
        self.let_go()

    def let_go(self):
        """Make every relay safe, and start cold; after a move none is energised for a moment."""
        if bytes(self.loop.port.driven) != bytes(self.loop.port.rest):
            self.begin_pause()
        self.loop.wake()

    def enter(self):
        """Begin an injection with a cold start.

        The station's own meter is put aside for a new one.
        """
        if self.clicking:
            self.stop_clicking()
        self.entered = self.loop.port.ticks_ms()
        self.awaiting = True
        self.kept = self.loop.state[s.METER_MS :]
        self.loop.new_meter()
        self.injecting = True
        self.lock_step = False
        self.number = 0
        self.mask = 0
        self.let_go()

    def leave(self):
        """End an injection with a cold start on the station's own sensors and meter."""
        self.injecting = False
        self.lock_step = False
        for index in range(len(self.kept)):
            self.loop.state[s.METER_MS + index] = self.kept[index]
        self.let_go()

    def steps_itself(self):
        """Whether the station takes its own steps: not in lock step.

        A host that has just begun to inject has one period to go into lock step.
        """
        return not (self.injecting and (self.lock_step or self.awaiting))

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

    Hands and upkeep go on, and the answer names them: seconds are those left.
    """
    desk.end_all()
    desk.unstage()
    number = desk.loop.session.open(desk.loop.port.random())
    facts = identify(desk, params)
    facts["session"] = number
    facts.update(desk.hands.facts())
    return facts


def identify(desk, params):
    """Who this is, and the order of every array."""
    port = desk.loop.port
    return {
        "protocol": calls.PROTOCOL,
        "board": port.name,
        "interpreter": port.interpreter,
        "firmware": desk.loop.firmware,
        "schema": hex_text(SCHEMA_CRC),
        "state": state_name(desk),
        "period_ms": port.period_ms,
        "read_back": int(port.read_back is not None),
        "relays": port.relay_count,
        "sensors": list(s.SENSOR_NAMES),
        "outputs": list(s.OUTPUT_NAMES),
    }


def status(desk, params):
    """One snapshot of readings, duty, relays and counters."""
    loop = desk.loop
    state = loop.state
    facts = desk.hands.facts()
    facts.update(
        {
            "state": state_name(desk),
            "injecting": int(desk.injecting),
            "duty": state[s.DUTY],
            "reason": state[s.REASON],
            "wait": state[s.WAIT_REASON],
            "air": state[s.AIR_REASON],
            "mc": list(state[s.VALUE_MC : s.VALUE_MC + s.SENSORS]),
            "status": list(state[s.STATUS : s.STATUS + s.SENSORS]),
            "cause": list(state[s.CAUSE : s.CAUSE + s.SENSORS]),
            "commands": list(state[s.COMMAND : s.COMMAND + s.OUTPUTS]),
            "conditions": list(state[s.CONDITIONS : s.CONDITIONS + CONDITION_WORDS]),
            "tank_over": state[s.TANK_OVER],
            "valve_ms": state[s.VALVE_MS],
            "plates_hot_ms": state[s.PLATES_HOT_MS],
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
    )
    return facts


def words(desk, params):
    """Help for a person at a terminal."""
    return ["hello", "status", "help", "everything else needs a CRC: use the twinloop command"]


def inject(desk, params):
    """[lease_ms, mask, [mC per sensor], [sensor, cause, ...], [flow ml/min, cause]]: hold readings.

    Relays in the mask really move. Only sensors whose reading is not good need a cause; flow may be
    left out when there is none.
    """
    need_bench(desk)
    if not 4 <= len(params) <= 5:
        raise calls.CallError(calls.BAD_PARAMS, "takes lease_ms, mask, values, causes, and flow if there is one")
    lease_ms, mask = calls.integers(params[:2], 2, 2)
    calls.within("lease_ms has", lease_ms, LEASE_LOW_MS, LEASE_TOP_MS)
    calls.within("mask has", mask, 0, (1 << s.OUTPUTS) - 1)
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
    """A cause per sensor, from the pairs of inject and advance."""
    pairs = params[3]
    if type(pairs) is not list or len(pairs) & 1:
        raise calls.CallError(calls.BAD_PARAMS, "param 4 has to be a list of sensors and causes")
    calls.integers(pairs, 0, 2 * s.SENSORS)
    known_causes(pairs[1::2])
    causes = [s.CAUSE_NONE] * s.SENSORS
    for place in range(0, len(pairs), 2):
        causes[calls.within("sensors have", pairs[place], 0, s.SENSORS - 1)] = pairs[place + 1]
    return causes


def flow_of(params):
    """The flow input of inject and advance, [ml/min, cause]; silent if left out."""
    if len(params) < 5:
        return (0, s.CAUSE_SILENT)
    flow = calls.array(params, 4, 2)
    known_causes(flow[1:])
    return flow


def known_causes(causes):
    """These causes, checked to be ones that a driver gives."""
    for cause in causes:
        calls.within("causes have", cause, 0, s.CAUSE_NOT_READY)
    return causes


def release(desk, params):
    """End the injection, and let go of a relay held by itself."""
    desk.end_all()
    return {"injecting": 0}


def relay(desk, params):
    """[output, on, lease_ms]: hold one relay and let go of every other.

    Its lease, `release`, `inject`, `hello` or `commission` ends that. Switching on needs a pause
    since the last move, whatever made it; letting go is always allowed. Answers what the read-back
    wire saw: closed contacts as bits, when this one first moved and when it came to rest in
    microseconds, and how often it moved; -1 without read-back wires.
    """
    need_bench(desk)
    output, on, lease_ms = calls.integers(params, 3, 3)
    if not 0 <= output < s.OUTPUTS or on not in (0, 1):
        raise calls.CallError(calls.BAD_PARAMS, f"output has to be 0 to {s.OUTPUTS - 1}, on 0 or 1")
    need_relay(desk.loop.port, output)
    calls.within("lease_ms has", lease_ms, LEASE_LOW_MS, LEASE_TOP_MS)
    if desk.injecting:
        raise calls.CallError(calls.REFUSED, "readings are injected: release first")
    port = desk.loop.port
    if any([port.driven[k] != (on if k == output else port.rest[k]) for k in range(s.OUTPUTS)]):
        if on != port.rest[output] and desk.pausing():
            raise calls.CallError(calls.REFUSED, f"a relay moved less than {desk.pause_ms} ms ago")
        desk.begin_pause()
    desk.clicking = True
    desk.lease_ms = lease_ms
    desk.renewed = port.ticks_ms()
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
    """[number, dt_ms, [mC per sensor], [sensor, cause, ...], [flow ml/min, cause]]: step once.

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
    calls.within("dt_ms has", dt_ms, 1, s.STEP_TOP_MS)
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


def commission(desk, params):
    """Put the board in service, unless its jumper holds it on the bench.

    The flag is written; everything that is held ends.
    """
    desk.loop.make_room()
    calls.need_written(desk.loop.store.commission())
    desk.end_all()
    desk.hands.drop()
    if desk.loop.bench:
        desk.loop.log.note(IN_SERVICE, 0, 0)
    desk.loop.bench = desk.loop.port.on_bench()
    return {"state": state_name(desk)}


METHODS = {
    "hello": hello,
    "bare hello": identify,
    "status": status,
    "bare status": status,
    "bare help": words,
    "inject": inject,
    "release": release,
    "relay": relay,
    "advance": advance,
    "commission": commission,
}
