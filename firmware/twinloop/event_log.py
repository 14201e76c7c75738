"""What happened, kept in memory and seldom written to flash.

An event is a kind and two small numbers at an uptime. Each start of the chip is an event too, and
the uptimes of its run follow it. News is written to flash once an hour, and grave news ten minutes
after the last write: at most 24 writes a day in peace, and 144 a day whatever happens between two
starts. The first write comes a minute after the start. A refused write is tried again when the next
one is due; until then events stay in memory, and those without room are counted.
"""

import struct
from array import array

from .control import state as s
from .store import sealed, whole

START = 1  # cause of the start, resets so far
DUTY_CHANGED = 2  # duty, reason
ALARMS_CHANGED = 3  # 0, alarm bits
SENSOR_LOST = 4  # sensor, cause
SENSOR_BACK = 5  # sensor, 0
GUARD_ACTED = 6  # 0, number of times so far
SETTINGS_SAVED = 7  # 0, sequence
IN_SERVICE = 8  # 0, 0
DROPPED = 9  # 0, events for which there was no room
SETTING_DEFAULTED = 10  # code, MISSING or OUT_OF_RANGE (store.py)
KIND_NAMES = (
    "",
    "start",
    "duty",
    "alarms",
    "sensor lost",
    "sensor back",
    "guard acted",
    "settings saved",
    "in service",
    "events dropped",
    "setting at its default",
)
GRAVE = (START, ALARMS_CHANGED, SENSOR_LOST, GUARD_ACTED)

RECORD = 12
ROOM = 64
FIELDS = 4
CALM_S = 3600
GRAVE_S = 600
FIRST_S = 60


class EventLog:
    """Events since the last write, and the last state seen, to notice changes."""

    def __init__(self):
        self.events = array("i", [0] * (ROOM * FIELDS))
        self.now_s = 0
        self.count = 0
        self.dropped = 0
        self.grave = False
        self.written_s = FIRST_S - GRAVE_S
        self.duty = -1
        self.reason = -1
        self.alarms = 0
        self.guard_actions = 0
        self.lost = bytearray(s.SENSORS)

    def note(self, kind, a, b):
        """Remember one event at now_s; takes nothing from the heap."""
        if self.count == ROOM:
            self.dropped += 1
            return
        place = self.count * FIELDS
        self.events[place] = kind
        self.events[place + 1] = a
        self.events[place + 2] = b & 0x7FFF
        self.events[place + 3] = self.now_s
        self.count += 1
        if kind in GRAVE:
            self.grave = True

    def watch(self, state):
        """Note what has changed since the last look."""
        if state[s.DUTY] != self.duty or state[s.REASON] != self.reason:
            self.duty = state[s.DUTY]
            self.reason = state[s.REASON]
            self.note(DUTY_CHANGED, self.duty, self.reason)
        if state[s.ALARMS] != self.alarms:
            self.alarms = state[s.ALARMS]
            self.note(ALARMS_CHANGED, 0, self.alarms)
        if state[s.GUARD_ACTIONS] != self.guard_actions:
            self.guard_actions = state[s.GUARD_ACTIONS]
            self.note(GUARD_ACTED, 0, self.guard_actions)
        for sensor in range(s.SENSORS):
            self.watch_sensor(state, sensor)

    def watch_sensor(self, state, sensor):
        """Note a sensor that was lost or came back."""
        if (state[s.STATUS + sensor] == s.LOST) == (self.lost[sensor] == 1):
            return
        self.lost[sensor] = 1 - self.lost[sensor]
        if self.lost[sensor]:
            self.note(SENSOR_LOST, sensor, state[s.CAUSE + sensor])
        else:
            self.note(SENSOR_BACK, sensor, 0)

    def due(self):
        """Whether it is time to write the events."""
        return self.count > 0 and self.now_s - self.written_s >= (GRAVE_S if self.grave else CALM_S)

    def packed(self):
        """The events as bytes, oldest first."""
        body = b""
        for place in range(0, self.count * FIELDS, FIELDS):
            body += record(self.events[place], self.events[place + 1], self.events[place + 2], self.events[place + 3])
        return body + record(DROPPED, 0, min(self.dropped, 0x7FFF), 0) if self.dropped else body

    def write(self, store):
        """Append the events to the log on flash and start over; keep them if it refuses."""
        self.written_s = self.now_s
        if store.append_log(self.packed()):
            self.count = 0
            self.dropped = 0
            self.grave = False


def record(kind, a, b, uptime_s):
    """The twelve bytes of one event."""
    return sealed(struct.pack("<BBHI", kind, a, b, uptime_s))


def records(body, place=0, end=None):
    """The events in these bytes as (kind, a, b, uptime in s); torn records are skipped.

    Those that begin at `place` or after it, and before `end`.
    """
    found = []
    end = min(len(body) - RECORD + 1, len(body) if end is None else end)
    while place < end:
        part = bytes(body[place : place + RECORD])
        if whole(part, RECORD):
            found.append(struct.unpack("<BBHI", part[:8]))
            place += RECORD
        else:
            place += 1
    return found
