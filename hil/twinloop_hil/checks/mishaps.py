"""What must end safe by itself: a host that goes silent or dies, an exception, a hang, a reset. Measured in real time."""

from __future__ import annotations

import time

from twinloop.control import settings as cfg
from twinloop.control import state as s

from ..virtual import MISHAP_HANG, MISHAP_NONE, MISHAP_RAISE
from .frame import Check

ALL_RELAYS = (1 << s.MOVERS) - 1
LEASE_MS = 2000
# A pass of the loop, and the host's own delay in looking.
SLACK_S = 0.5
CHARGING_MC = (60000, 30000, 35000, 55000, 40000, 20000, 30000, 48000)
EVENING_MC = (20000, 30000, 35000, 20000, 20000, 20000, 30000, 20000)
# With these the station moves a relay within seconds of real time instead of minutes.
QUICK = {cfg.DUMP_TRAVEL: 1000, cfg.MINIMUM_REST: 0}


def relays_known(bench) -> bool:
    """Whether the host can see the relays themselves: on the virtual board, through its registers."""
    return bench.board is not None


def measure_lease(bench):
    """Injection is held, relays in the mask on; then the host says nothing any more."""
    hold_relays_on(bench)
    return after_silence(bench, "the injection lease")


def hold_relays_on(bench) -> None:
    """Inject, in lock step, until the collector pump is on, with every relay free to move."""
    client = bench.client
    client.release()
    client.inject(CHARGING_MC, lease_ms=LEASE_MS, mask=ALL_RELAYS)
    for _ in range(200):
        if client.advance(5000, CHARGING_MC)[0][s.COLLECTOR_PUMP]:
            break
    else:
        raise TimeoutError("waited 1000 s of station time for the collector pump")
    if relays_known(bench):
        # A real relay may move once in two seconds; keep asking until it did.
        def moved() -> bool:
            client.advance(100, CHARGING_MC)
            return any(bench.board.relays())

        bench.wait(moved, 5.0, "a relay to follow the injection")


def after_silence(bench, what: str):
    """Time from now until the relays are safe and the board is back on its own sensors."""
    begin = time.monotonic()
    # Status calls renew nothing.
    bench.wait(lambda: not bench.client.status()["injecting"], LEASE_MS / 1000.0 + 5.0, f"the end of {what}")
    took = time.monotonic() - begin
    if relays_known(bench) and any(bench.board.relays()):
        raise TimeoutError(f"{what} is over and a relay is still on")
    seen = "relays safe, seen at the pins; board on its own sensors" if relays_known(bench) else "board on its own sensors"
    return took, LEASE_MS / 1000.0 - SLACK_S, LEASE_MS / 1000.0 + SLACK_S, seen


def measure_host_gone(bench):
    """Injection is held, and the host's end of the cable is pulled."""
    hold_relays_on(bench)
    bench.client.close()
    begin = time.monotonic()
    bench.wait(lambda: not any(bench.board.relays()), LEASE_MS / 1000.0 + 5.0, "relays in their safe state")
    took = time.monotonic() - begin
    bench.reconnect()
    # The new session alone would end an injection; that it had ended by itself shows in the relays.
    return took, 0.0, LEASE_MS / 1000.0 + SLACK_S, "from the closed port to relays safe, seen at the pins"


def own_relays_on(bench) -> None:
    """The virtual board on its own sensors, with the sun on them, until a relay is on; in real time."""
    bench.client.release()
    bench.client.change_settings(QUICK)
    bench.board.set_sensors(CHARGING_MC)
    bench.wait(lambda: any(bench.board.relays()), 20.0, "a relay to come on")


def measure_mishap(bench, kind: int, top_s: float, detail: str):
    """Put a mishap into the sensor chip and time the relays; afterwards the board has to answer again."""
    own_relays_on(bench)
    bench.board.mishap(kind)
    took = bench.wait(lambda: not any(bench.board.relays()), top_s + 10.0, "relays in their safe state")
    bench.board.mishap(MISHAP_NONE)
    bench.board.set_sensors(EVENING_MC)
    bench.reconnect()
    return took, 0.0, top_s, detail


def measure_exception(bench):
    """The sensor chip's driver raises in the middle of a step."""
    # One period until the next reading, and slack.
    top_s = bench.client.facts["period_ms"] / 1000.0 + SLACK_S
    return measure_mishap(bench, MISHAP_RAISE, top_s, "from the exception to relays safe; board answers again")


def measure_hang(bench):
    """The sensor chip's driver never returns."""
    from ..virtual import SLOT_WATCHDOG_MS

    top_s = bench.board.peek(SLOT_WATCHDOG_MS) / 1000.0 + bench.client.facts["period_ms"] / 1000.0 + SLACK_S
    return measure_mishap(bench, MISHAP_HANG, top_s, "from the hang to relays safe, by the watchdog; board answers again")


def measure_reset(bench):
    """Power goes while a relay is on, and comes back."""
    own_relays_on(bench)
    begin = time.monotonic()
    bench.board.power_cut()
    safe_after = bench.wait(lambda: not any(bench.board.relays()), 5.0, "relays in their safe state")
    bench.reconnect()
    took = time.monotonic() - begin
    relays = bench.board.relays()
    bench.board.set_sensors(EVENING_MC)
    if any(relays):
        raise TimeoutError(f"a relay is on right after the start: {relays}")
    return took, 0.0, 3.0, f"from the power cut to an answering board; relays safe after {safe_after:.3f} s"


CHECKS = (
    Check("injection-lease", "the host falls silent while it holds relays", "s", 5, measure_lease),
    Check("host-gone", "the host's port closes while it holds relays", "s", 5, measure_host_gone, "the virtual board"),
    Check("step-exception", "a driver raises while a relay is on", "s", 12, measure_exception, "the virtual board"),
    Check("step-hang", "a driver hangs while a relay is on", "s", 15, measure_hang, "the virtual board"),
    Check("power-cut", "power goes and comes while a relay is on", "s", 12, measure_reset, "the virtual board"),
)
