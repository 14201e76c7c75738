"""The board and this computer's control core with the same inputs, to count differences.

The tests prove the core here. A board whose firmware differs in one comparison fails the sequences
that test it.
"""

from __future__ import annotations

from types import SimpleNamespace

from twinloop.control import alarms, reasons, settings, state, station
from twinloop.control import settings as cfg
from twinloop.control import state as s

from ..sequences.relay_script import Run

CORE = SimpleNamespace(state=state, settings=settings, reasons=reasons, alarms=alarms, station=station)
# Watchdog resets, lost settings and a bad memory are the board's own: a host cannot set them.
NOT_BY_LINK = ("resets", "settings_lost", "memory_bad")
HAND_S = 3600
UPKEEP_CALLS = {s.UPKEEP_MAINTENANCE: ("maintenance", 900), s.UPKEEP_PURGE: ("purge", 7200)}
LEASE_MS = 30000


def by_link(sequence: dict) -> bool:
    """Whether a sequence is possible through the link."""
    return not any(line[0] in NOT_BY_LINK for line in sequence["script"])


class MirroredRun(Run):
    """A sequence on core and board: `differences` counts steps that differ, `first` tells one."""

    def __init__(self, client, sequence: dict):
        self.client = client
        self.differences = 0
        self.first = ""
        self.held = (0, 0, s.UPKEEP_NONE)
        super().__init__(CORE, sequence)

    def word_reset(self):
        """Start both sides cold."""
        super().word_reset()
        self.client.release()
        self.hold((0, 0, s.UPKEEP_NONE))
        self.client.inject(*readings(self.inputs)[:2], lease_ms=LEASE_MS)

    def hold(self, wanted: tuple[int, int, int]) -> None:
        """Set hands and upkeep on the board as they are here."""
        if wanted == self.held:
            return
        self.held = mask, value, upkeep = wanted
        self.client.call("hand", 0, 0, 0)
        for kind in UPKEEP_CALLS.values():
            self.client.call(kind[0], 0)
        if upkeep:
            self.client.call(*UPKEEP_CALLS[upkeep])
        for output in s.MOVING:
            if mask >> output & 1:
                self.client.call("hand", output, value >> output & 1, HAND_S)

    def decide(self):
        inputs = self.inputs
        self.hold((inputs[s.IN_HAND_MASK], inputs[s.IN_HAND_VALUE], inputs[s.IN_UPKEEP]))
        there = self.client.advance(self.step_ms, *readings(inputs))
        super().decide()
        self.compare(there)

    def compare(self, there) -> None:
        """Compare commands, duty, reason and wait reason."""
        here = outcome(self.state)
        if here != there:
            self.differences += 1
            self.first = (
                self.first
                or f"{self.phase or 'at the start'}, {self.time_ms / 1000:g} s: {described(there)} instead of {described(here)}"
            )

    def let_go(self) -> None:
        """Release everything that the run holds on the board."""
        self.hold((0, 0, s.UPKEEP_NONE))
        self.client.release()


def readings(inputs) -> tuple[list[int], list[int], tuple[int, ...]]:
    """The core's inputs as `inject` and `advance` take them: raw values, causes, measured flow."""
    values = list(inputs[s.IN_RAW_MC : s.IN_RAW_MC + s.SENSORS])
    causes = list(inputs[s.IN_RAW_CAUSE : s.IN_RAW_CAUSE + s.SENSORS])
    flow = (inputs[s.IN_FLOW_ML_PER_MIN], inputs[s.IN_FLOW_CAUSE])
    return values, causes, flow if flow[1] == s.CAUSE_NONE else ()


def outcome(state) -> tuple:
    """The outcome of a step, in the form of the link."""
    return tuple(state[s.COMMAND : s.COMMAND + s.OUTPUTS]), state[s.DUTY], state[s.REASON], state[s.WAIT_REASON]


def described(found: tuple) -> str:
    on = [name for name, command in zip(s.OUTPUT_NAMES, found[0], strict=True) if command]
    return f"{s.DUTY_NAMES[found[1]]} for reason {found[2]} with {', '.join(on) or 'nothing on'}"


def set_for(bench, sequence: dict) -> None:
    """Give the board default settings and the sequence's own."""
    wanted = [row[4] for row in cfg.TABLE]
    for name, value in sequence["settings"].items():
        wanted[getattr(cfg, name.upper())] = value
    bench.client.hold_settings(wanted)


def run_sequence(bench, sequence: dict) -> MirroredRun:
    set_for(bench, sequence)
    run = MirroredRun(bench.client, sequence)
    try:
        return run.run()
    finally:
        run.let_go()
