"""The event log: what it notices, how seldom it writes, and that a torn record costs only itself."""

from array import array

from twinloop import event_log as log
from twinloop.control import state as s

DAY_S = 86400


class CountingStore:
    """Counts writes and keeps the bytes."""

    def __init__(self):
        self.writes = 0
        self.body = b""

    def append_log(self, body):
        """One write."""
        self.writes += 1
        self.body += body


def day(happen):
    """A day of steps of a second from the start on; `happen(second, state)` changes the state. Returns the store."""
    store = CountingStore()
    events = log.EventLog()
    events.note(log.START, 1, 0)
    state = array("i", [0] * s.STATE)
    for second in range(DAY_S):
        happen(second, state)
        events.now_s = second
        events.watch(state)
        if events.due():
            events.write(store)
    return store


def test_a_day_in_peace_writes_at_most_24_times():
    """A duty that changes every quarter of an hour, and nothing grave: the start after a minute, then once an hour."""

    def happen(second, state):
        state[s.DUTY] = second // 900 % 2

    store = day(happen)
    assert 20 <= store.writes <= 24
    assert len(log.records(store.body)) > 90


def test_the_worst_day_writes_at_most_144_times():
    """Alarms that change every second: a write in ten minutes; what found no room is counted."""

    def happen(second, state):
        state[s.ALARMS] = second % 2

    store = day(happen)
    assert 130 <= store.writes <= 144
    assert any(kind == log.DROPPED and count > 0 for kind, _, count, _ in log.records(store.body))


def test_a_quiet_day_writes_the_start_only():
    """Nothing new, nothing written."""
    assert day(lambda second, state: None).writes == 1


def test_what_is_noticed():
    """Duty with reason, alarms, sensors lost and back with their cause, the guard; in order, with their time."""
    events = log.EventLog()
    state = array("i", [0] * s.STATE)
    events.watch(state)
    events.now_s = 7
    state[s.DUTY], state[s.REASON] = s.CHARGING, 3
    events.watch(state)
    state[s.STATUS + s.TANK_LOW], state[s.CAUSE + s.TANK_LOW] = s.LOST, s.CAUSE_CRC
    state[s.ALARMS] = 5
    events.watch(state)
    state[s.STATUS + s.TANK_LOW] = s.GOOD
    state[s.GUARD_ACTIONS] = 1
    events.watch(state)
    assert log.records(events.packed()) == [
        (log.DUTY_CHANGED, 0, 0, 0),
        (log.DUTY_CHANGED, s.CHARGING, 3, 7),
        (log.ALARMS_CHANGED, 0, 5, 7),
        (log.SENSOR_LOST, s.TANK_LOW, s.CAUSE_CRC, 7),
        (log.GUARD_ACTED, 0, 1, 7),
        (log.SENSOR_BACK, s.TANK_LOW, 0, 7),
    ]


def test_torn_bytes_cost_only_themselves():
    """Any length of a torn record between two good ones."""
    first, torn, last = log.record(1, 3, 0, 5), log.record(2, 1, 4, 9), log.record(3, 0, 8, 11)
    for length in range(log.RECORD):
        assert log.records(first + torn[:length] + last) == [(1, 3, 0, 5), (3, 0, 8, 11)]
    assert log.records(torn[:7]) == []
