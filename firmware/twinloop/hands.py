"""Hands and upkeep, which people hold: one timer each, and the calls for them.

They outlive the session that asked for them, so that somebody else may look on meanwhile: hello
tells what is held. Each ends by itself, by 0 seconds, or when the board goes into service.
Maintenance is no lock-out: relays weld, and another host may end it. Mains has to be switched off.
"""

from .control import state as s
from .link import calls

# Nobody may forget a running pump, or a stopped station.
HAND_TOP_S = 3600
PURGE_TOP_S = 7200
MAINTENANCE_TOP_S = 900


class Hands:
    """The outputs held by hand, the upkeep under way, and how long each still lasts."""

    def __init__(self, port):
        self.port = port
        self.mask = 0
        self.value = 0
        self.top_ms = 0
        self.since = 0
        self.upkeep = s.UPKEEP_NONE
        self.upkeep_top_ms = 0
        self.upkeep_since = 0

    def fill(self, inputs):
        """Put hands and upkeep into the inputs."""
        inputs[s.IN_HAND_MASK] = self.mask
        inputs[s.IN_HAND_VALUE] = self.value
        inputs[s.IN_UPKEEP] = self.upkeep

    def left_ms(self):
        """How long the hands still last."""
        return self.top_ms - self.port.ticks_diff(self.port.ticks_ms(), self.since) if self.mask else 0

    def upkeep_left_ms(self):
        """How long the upkeep still lasts."""
        return self.upkeep_top_ms - self.port.ticks_diff(self.port.ticks_ms(), self.upkeep_since) if self.upkeep else 0

    def tend(self):
        """End what has had its time."""
        if self.left_ms() < 0:
            self.mask = self.value = 0
        if self.upkeep_left_ms() < 0:
            self.upkeep = s.UPKEEP_NONE

    def drop(self):
        """End hands and upkeep."""
        self.mask = self.value = 0
        self.upkeep = s.UPKEEP_NONE

    def facts(self):
        """What is held, and for how many seconds more."""
        return {
            "hands": [self.mask, self.value, (self.left_ms() + 999) // 1000],
            "upkeep": [self.upkeep, (self.upkeep_left_ms() + 999) // 1000],
        }


def seconds_of(value, top_s):
    """The seconds of a call, checked."""
    return calls.within("seconds have", value, 0, top_s)


def need_relay(port, output):
    """Refuse an output that has no relay on this board."""
    if output >= port.relay_count:
        raise calls.CallError(calls.REFUSED, f"this board has no relay for {s.OUTPUT_NAMES[output]}")


def hand(desk, params):
    """[output, on, seconds]: hold one output by hand, within the limits; 0 seconds ends all hands.

    The time holds for all hands. Upkeep neither ends by it nor lasts longer. What the relay does,
    `status` says after the next step.
    """
    output, on, seconds = calls.integers(params, 3, 3)
    if output not in s.MOVING or on not in (0, 1):
        raise calls.CallError(calls.BAD_PARAMS, f"output has to be one of {s.MOVING}, on 0 or 1")
    need_relay(desk.loop.port, output)
    held = desk.hands
    if seconds_of(seconds, HAND_TOP_S) == 0:
        held.mask = held.value = 0
    else:
        held.mask |= 1 << output
        held.value = held.value & ~(1 << output) | on << output
        held.top_ms = 1000 * seconds
        held.since = held.port.ticks_ms()
    return held.facts()


def keep_up(desk, seconds, kind):
    """Begin one kind of upkeep, which ends hands; 0 seconds ends this kind."""
    held = desk.hands
    if seconds:
        if held.upkeep == s.UPKEEP_MAINTENANCE != kind:
            raise calls.CallError(calls.REFUSED, "under maintenance: end it first")
        held.mask = held.value = 0
        held.upkeep = kind
        held.upkeep_top_ms = 1000 * seconds
        held.upkeep_since = held.port.ticks_ms()
    elif held.upkeep == kind:
        held.upkeep = s.UPKEEP_NONE
    return held.facts()


def maintenance(desk, params):
    """[seconds]: every pump off while somebody works on the station; 0 ends it. No lock-out."""
    return keep_up(desk, seconds_of(calls.integers(params, 1, 1)[0], MAINTENANCE_TOP_S), s.UPKEEP_MAINTENANCE)


def purge(desk, params):
    """[seconds]: both pumps on while the collector is cool, the valve changing over; 0 ends it."""
    return keep_up(desk, seconds_of(calls.integers(params, 1, 1)[0], PURGE_TOP_S), s.UPKEEP_PURGE)


METHODS = {"hand": hand, "maintenance": maintenance, "purge": purge}
