"""The relay bank: leases, pauses, and an output that is on without power."""

import pytest
from twinloop.drivers.relays import PAUSE_MS, RelayBank
from twinloop_hil.inprocess import FakePin

LEASE_MS = 3000


class Bank:
    """Three relays: energised by 1, by 0, and one by 1 that is on without power."""

    active = (1, 0, 1)
    rest = (0, 0, 1)

    def __init__(self):
        self.now_ms = 1000
        self.pins = [FakePin() for _ in self.active]
        self.relays = RelayBank(self.pins, self.active, self.rest, lambda: self.now_ms, lambda a, b: a - b, LEASE_MS)

    def powered(self):
        """Which relays have power, by their pins."""
        return [int(pin.level == level) for pin, level in zip(self.pins, self.active, strict=True)]

    def pass_time(self, ms):
        self.now_ms += ms
        self.relays.tend()


@pytest.fixture
def bank():
    return Bank()


def test_an_output_without_a_relay_stays_at_rest():
    """A board without the fan's: nothing to switch, to hold, to let go or to be astray."""
    now_ms = [1000]
    bank = RelayBank([FakePin()], [1], [0, 0], lambda: now_ms[0], lambda a, b: a - b, LEASE_MS)
    bank.drive(1, 1)
    assert (list(bank.on), bank.moving) == ([0, 0], False)
    bank.drive(0, 1)
    assert (list(bank.on), bank.astray()) == ([1, 0], -1)
    now_ms[0] += LEASE_MS + 1
    bank.tend()
    assert (list(bank.on), bank.expired) == ([0, 0], 1)


def test_a_command_of_its_rest_takes_the_power_away(bank):
    assert bank.powered() == [0, 0, 0]
    assert list(bank.relays.on) == [0, 0, 1]
    for command, powered in (((1, 1, 0), [1, 1, 1]), ((0, 1, 1), [0, 1, 0]), ((0, 0, 0), [0, 0, 1])):
        for output, on in enumerate(command):
            bank.relays.drive(output, on)
        assert bank.powered() == powered
        assert tuple(bank.relays.on) == command
        assert all(bank.relays.follows(output) for output in range(3))


@pytest.mark.parametrize("output", range(3))
def test_a_lease_that_is_over_takes_the_power_away(bank, output):
    bank.relays.drive(output, 1 - bank.rest[output])
    bank.relays.renew()
    bank.pass_time(LEASE_MS)
    assert bank.powered()[output] == 1
    bank.pass_time(1)
    assert bank.powered() == [0, 0, 0]
    assert list(bank.relays.on) == [0, 0, 1]
    assert bank.relays.expired == 1
    assert bank.relays.astray() == -1
    bank.pass_time(10 * LEASE_MS)
    assert bank.relays.expired == 1, "there was nothing to let go"


def test_safe_is_without_power(bank):
    for output in range(3):
        bank.relays.drive(output, 1 - bank.rest[output])
    bank.relays.safe()
    assert bank.powered() == [0, 0, 0]


def test_it_has_rested_two_seconds_after_any_relay_moved(bank):
    assert bank.relays.rested()
    bank.relays.drive(0, 0)
    assert bank.relays.rested(), "nothing moved"
    for move in (lambda: bank.relays.drive(0, 1), bank.relays.safe):
        move()
        bank.now_ms += PAUSE_MS - 1
        assert not bank.relays.rested()
        bank.now_ms += 1
        assert bank.relays.rested()


def test_a_pin_that_does_not_follow_is_named_at_the_third_look(bank):
    bank.pins[2].level = 1
    assert [bank.relays.astray() for _ in range(3)] == [-1, -1, 2]
