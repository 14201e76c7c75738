"""The event log: what it notices, how rarely it writes, and what a torn record costs."""

from array import array

from twinloop import event_log as log
from twinloop.control import state as s

DAY_S = 86400


class CountingStore:
    """Keeps the bytes and counts the writes."""

    def __init__(self):
        self.writes = 0
        self.body = b""

    def append_log(self, body):
        self.writes += 1
        self.body += body
        return True


def day(happen):
    """Run a day of steps of 1 s; `happen(second, state)` changes the state. Returns the store."""
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
    """The duty changes every 15 minutes, nothing grave: written after a minute, then hourly."""

    def happen(second, state):
        state[s.DUTY] = second // 900 % 2

    store = day(happen)
    assert 20 <= store.writes <= 24
    assert len(log.records(store.body)) > 90


def test_the_worst_day_writes_at_most_144_times():
    """Alarms change every second: one write in ten minutes; events without room are counted."""

    def happen(second, state):
        state[s.ALARMS] = second % 2

    store = day(happen)
    assert 130 <= store.writes <= 144
    assert any(kind == log.DROPPED and count > 0 for kind, _, count, _ in log.records(store.body))


def test_a_quiet_day_writes_the_start_only():
    assert day(lambda second, state: None).writes == 1


def test_what_is_noticed():
    """Duty and reason, alarms, sensors lost and back, the guard: in order, with their times."""
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
    first, torn, last = log.record(1, 3, 0, 5), log.record(2, 1, 4, 9), log.record(3, 0, 8, 11)
    for length in range(log.RECORD):
        assert log.records(first + torn[:length] + last) == [(1, 3, 0, 5), (3, 0, 8, 11)]
    assert log.records(torn[:7]) == []
