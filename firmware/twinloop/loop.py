"""The only loop: read sensors, step, guard, apply, link, log, watchdog.

A board and the virtual board run this file, and so does the simulation except in its compiled
block. They differ in the port that is handed in. A port has

    period_ms                     time between two steps
    ticks_ms(), ticks_diff(a, b)  a clock that may wrap
    read_sensors(inputs)          put raw values, causes and the flow input into the inputs
    drive(output, on), renew(), tend(), safe()
                                  relays with a lease on the port's own clock
    driven, rest, rested()        what each output was last driven to, and is without power; whether
                                  no relay moved just now
    relay_count                   how many outputs have a relay; only the last may have none
    feed()                        feed the watchdog: once a period, unless the step raised
    read_byte()                   next byte from the console or -1, never blocking
    write(line)                   send a line or drop it, never blocking for long
    idle()                        wait for a byte or a moment
    reset()                       restart the chip
    woke_by_watchdog()            whether the last start was not a power-on
    start_cause                   the chip's own number for that start
    astray()                      the relay whose pin does not follow, -1 for none
    read_back                     wires from contacts to inputs (drivers/relays.py), or None
    fit(sensor, rom, offset_mk)   says which chip is which sensor
    scan()                        which chips there are
    show(state, bench)            light and display
    on_bench()                    whether a jumper forces the bench
    attended()                    whether somebody is at the board now: jumper closed or button held
    name, interpreter, folder     of the board, of its Python, of the package
    random()                      32 random bits for a new session, from the chip's own source
"""

from array import array

from . import changes, desk, event_log, fitting, hands
from .control import settings as cfg
from .control import state as s
from .control import station
from .link import calls, frames
from .link.session import Session
from .store import UNUSABLE, firmware_hash

HOUR_S = 3600
METHODS = desk.METHODS
for part in (changes, hands, fitting):
    METHODS.update(part.METHODS)
# A line this long or longer is not ours: drop it up to its end.
LINE_TOP = frames.REQUEST_TOP + 10
LINE_ENDS = (10, 13)
# Most bytes in one pass: a host that sends without end must not keep a step waiting.
PASS_TOP = 256


class Loop:
    """The station on one port."""

    def __init__(self, port, store):
        self.port = port
        self.store = store
        self.state = array("i", [0] * s.STATE)
        self.settings = array("i", [0] * cfg.SETTINGS)
        self.inputs = array("i", [0] * s.INPUTS)
        self.settings_source = store.load_settings(self.settings)
        self.probes = store.load_probes()
        store.finish_restore()
        self.fit_probes()
        self.bench = port.on_bench() or not store.in_service()
        self.session = Session()
        self.desk = desk.Desk(self)
        self.line = bytearray(LINE_TOP)
        self.length = 0
        self.lines_bad = 0
        self.answers_dropped = 0
        self.uptime_s = 0
        self.uptime_ms = 0
        planned = store.take_planned()
        self.resets, moved = store.resets()
        # A start counts after a run that moved something. A watchdog that bites on and on before
        # anything has moved stops the station, but makes no rest longer.
        if not planned and (moved or (port.woke_by_watchdog() and self.resets < s.RESETS_LIMIT)):
            self.resets += 1
        # Whether a pump or the valve has been on since: 1 until an hour after that, then 2.
        self.moved = 0
        # After three starts a rest of an hour, then of two, then of four: at most ten starts in the
        # first day and six in a later one. A relay's 100,000 operations (common practice) last for
        # decades.
        self.due_s = HOUR_S << max(0, min(self.resets - s.RESETS_LIMIT, 2))
        store.save_resets(self.resets, 0)
        self.inputs[s.IN_RESETS] = self.resets
        self.log = event_log.EventLog()
        self.log.note(event_log.START, port.start_cause, self.resets)
        for code, cause in store.defaulted:
            self.log.note(event_log.SETTING_DEFAULTED, code, cause)
        self.totals_due_s = HOUR_S
        self.restart_asked = 0
        self.confirmed = False
        # Before the first step: this takes a third of a second on a chip.
        try:
            self.firmware = firmware_hash(port.folder)
        except OSError:
            # A module that cannot be read, and that nothing here uses, must not stop the station.
            self.firmware = ""
        self.clock = self.last_step = port.ticks_ms()
        self.new_meter()
        store.load_meter(self.state)
        self.wake()

    def new_meter(self):
        """Clear the meter."""
        station.clear_meter(self.state, self.settings, self.inputs)

    def wake(self):
        """Start cold: nothing known, relays safe."""
        station.wake(self.state, self.settings, self.inputs)
        self.port.safe()

    def fit_probes(self):
        """Tell the port which chip is which sensor."""
        for sensor in range(s.SENSORS):
            self.port.fit(sensor, self.probes.rom(sensor), self.probes.offsets_mk(sensor)[0])

    def ask_restart(self, prompt_s):
        """Restart into the prompt once the answer to this call is out."""
        calls.need_written(self.store.ask_prompt(prompt_s))
        self.restart_asked = 1

    def step(self, dt_ms):
        """One step of the station on the present inputs."""
        self.inputs[s.IN_DT_MS] = dt_ms
        # When the rest is over the station may try once, and stop at the next start.
        rests = self.moved == 0 and self.uptime_s < self.due_s
        self.inputs[s.IN_RESETS] = self.resets if rests else min(self.resets, s.RESETS_LIMIT - 1)
        self.inputs[s.IN_SETTINGS_LOST] = 1 if self.settings_source == UNUSABLE else 0
        self.inputs[s.IN_MEMORY_BAD] = self.store.failing
        self.desk.hands.fill(self.inputs)
        station.step(self.state, self.settings, self.inputs)

    def note_move(self):
        """Remember that something moves, on flash before it does: its start may take the power."""
        self.moved = 1
        self.due_s = self.uptime_s + HOUR_S
        self.store.save_resets(self.resets, 1)

    def apply(self):
        """Drive the relays as commanded, and renew their lease."""
        for output in s.MOVING:
            if self.moved == 0 and self.state[s.COMMAND + output] != 0:
                self.note_move()
        for output in range(s.OUTPUTS):
            self.port.drive(output, self.state[s.COMMAND + output])
        self.port.renew()

    def apply_injected(self):
        """Move relays on injected readings: only those in the mask, seldom, but always to rest."""
        mask = self.desk.mask
        rested = self.port.rested() and not self.desk.pausing()
        for output in range(s.OUTPUTS):
            rest = self.port.rest[output]
            on = self.state[s.COMMAND + output] if mask >> output & 1 else rest
            if on != self.port.driven[output] and (rested or on == rest):
                self.port.drive(output, on)
        self.port.renew()

    def step_now(self, dt_ms):
        """One step in real time, on the station's own sensors or on injected ones."""
        if self.desk.injecting:
            self.desk.fill(self.inputs)
            self.step(dt_ms)
            self.apply_injected()
        else:
            self.port.read_sensors(self.inputs)
            self.step(dt_ms)
            if not self.desk.clicking and not self.desk.pausing():
                self.apply()

    def passed_ms(self, now, then):
        """Time between two ticks, or a gap too long for a step if the difference is negative.

        That is a time of days ago, at which the clock has not been read since.
        """
        passed = self.port.ticks_diff(now, then)
        return passed if passed >= 0 else s.STEP_TOP_MS + 1

    def count_uptime(self):
        """Count the time since the last pass, in counters that stay small integers.

        A sound hour forgives earlier starts, from three on only one in which something moved.
        """
        now = self.port.ticks_ms()
        self.uptime_ms += self.passed_ms(now, self.clock)
        self.clock = now
        while self.uptime_ms >= 1000:
            self.uptime_ms -= 1000
            self.uptime_s += 1
            if self.uptime_s == self.due_s and (self.moved or self.resets < s.RESETS_LIMIT):
                self.resets = 0
                self.moved *= 2
                self.totals_due_s = self.uptime_s

    def listen(self):
        """Take bytes up to one whole line, at most PASS_TOP, and answer it.

        Half a line is kept for later.
        """
        # A third of an exchange is spent here: hence locals, and the fewest tests for the commonest
        # bytes.
        port = self.port
        line = self.line
        length = self.length
        byte = -1
        for _ in range(PASS_TOP):
            byte = port.read_byte()
            if byte < 0:
                break
            if byte <= 13 and byte in LINE_ENDS:
                if length > 0:
                    break
            elif length < LINE_TOP:
                line[length] = byte
                length += 1
        self.length = length
        if length > 0 and byte in LINE_ENDS:
            self.take_line()

    def take_line(self):
        """Answer the complete line."""
        line = bytes(self.line[: self.length])
        whole = self.length < LINE_TOP
        self.length = 0
        if whole:
            answer, good = calls.answer(line, self.session, METHODS, self.desk)
        else:
            answer, good = b"", False
        if not good:
            self.lines_bad += 1
        if answer and not self.port.write(answer):
            self.answers_dropped += 1

    def turn(self):
        """One pass: a line if there is one, leases, and a step when it is due."""
        self.count_uptime()
        self.listen()
        self.desk.tend()
        self.port.tend()
        self.check_relays()
        self.keep_pace(self.port.period_ms)
        self.port.idle()
        if self.restart_asked:
            self.end_safe()

    def keep_pace(self, period_ms):
        """Take a step if the last one was this long ago."""
        now = self.port.ticks_ms()
        passed = self.passed_ms(now, self.last_step)
        if passed < period_ms:
            return
        self.last_step = now
        if self.desk.steps_itself():
            self.step_now(passed)
        self.port.feed()
        self.confirm()
        self.port.show(self.state, self.bench)
        self.keep_log()
        if self.uptime_s >= self.totals_due_s:
            self.save_totals()

    def make_room(self):
        """Take the next step early if less than half a period is left.

        A call that works on flash or bus for up to that long then delays no step.
        """
        self.keep_pace(self.port.period_ms // 2)

    def confirm(self):
        """Keep a firmware on trial: its first period ended without an exception."""
        if not self.confirmed:
            self.confirmed = True
            self.store.confirm(self.settings)

    def check_relays(self):
        """Raise when a relay pin does not follow its command, until restarts are a fault stop."""
        output = self.port.astray()
        if output >= 0 and self.inputs[s.IN_RESETS] < s.RESETS_LIMIT:
            raise RuntimeError(f"relay {output}: its pin does not follow")

    def keep_log(self):
        """Note what changed, and write it when it is due; nothing injected is noted."""
        self.log.now_s = self.uptime_s
        if not self.desk.injecting:
            self.log.watch(self.state)
        if self.log.due():
            self.log.write(self.store)

    def own_meter(self):
        """The station's meter, words from METER_MS on; put aside while readings are injected."""
        return self.desk.kept if self.desk.injecting else self.state[s.METER_MS :]

    def new_filter(self):
        """Count the hours of the air heater's filter anew, and write that down."""
        words = self.desk.kept if self.desk.injecting else self.state
        words[s.FILTER_S - (s.METER_MS if self.desk.injecting else 0)] = 0
        self.save_totals()

    def save_totals(self):
        """Save the meter, and the count of starts; next in an hour, or sooner after a refusal."""
        done = self.store.save_resets(self.resets, self.moved & 1) and self.store.save_meter(self.own_meter())
        self.totals_due_s = self.uptime_s + (HOUR_S if done else event_log.GRAVE_S)

    def end_safe(self):
        """Make the relays safe, write log and meter, and restart the chip as planned."""
        self.port.safe()
        self.log.write(self.store)
        self.save_totals()
        self.store.plan()
        self.port.reset()

    def run(self):
        """Run for ever. Whatever ends this, the relays are safe first and the chip restarts."""
        try:
            while True:
                self.turn()
        except Exception as fault:
            self.port.safe()
            self.store.save_fault(repr(fault))
        finally:
            self.port.safe()
            self.port.reset()
