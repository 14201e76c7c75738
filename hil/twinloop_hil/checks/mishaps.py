"""What must end safe by itself: a host that goes silent or dies, an exception, a hang, a reset. Measured in real time."""

from __future__ import annotations

import time

from twinloop.control import settings as cfg
from twinloop.control import state as s

from ..virtual.files.slots import MISHAP_HANG, MISHAP_NONE, MISHAP_RAISE, SLOT_WATCHDOG_MS
from .frame import VIRTUAL, Check

ALL_RELAYS = sum(1 << output for output in s.MOVING)
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


# Readings that bring a station from its cold start into each duty, and to which one, with sensors in the order of state.py.
DUTIES = {
    s.IDLE: EVENING_MC,
    s.CHARGING: CHARGING_MC,
    s.DUMPING: (100000, 68000, 72000, 80000, 60000, 20000, 30000, 68000),
    s.STAGNATION_HOLD: (130000, 50000, 55000, 40000, 40000, 20000, 30000, 50000),
    s.FROST_GUARD: (5000, 30000, 35000, 12000, 12000, -5000, 30000, 2000),
}
# Readings within a hysteresis band: what was on before must not simply go on, and what protects has to be assumed.
BANDS = {
    "between stop and start difference": (CHARGING_MC, (35500, 30000, 35000, 35000, 32000, 20000, 30000, 32000), s.IDLE),
    "between collector_reset and collector_limit": (
        DUTIES[s.STAGNATION_HOLD],
        (112000, 50000, 55000, 40000, 40000, 20000, 30000, 50000),
        s.STAGNATION_HOLD,
    ),
    "between the resets and limits of the tank": (CHARGING_MC, (85000, 63000, 72000, 80000, 70000, 20000, 30000, 65000), s.IDLE),
    "between dump_collector_stop and _start": (DUTIES[s.DUMPING], (88000, 68000, 72000, 80000, 60000, 20000, 30000, 68000), s.IDLE),
}


def reach(bench, readings, duty: int) -> None:
    """Inject, in lock step, until the duty is in force and its relays were told, with every relay free to move."""
    client = bench.client
    client.release()
    client.inject(readings, lease_ms=10000, mask=ALL_RELAYS)
    for _ in range(200):
        if client.advance(5000, readings)[1] == duty:
            break
    else:
        raise TimeoutError(f"waited 1000 s of station time for {s.DUTY_NAMES[duty]}")
    for _ in range(40):
        client.advance(5000, readings)


def after_restart(bench, readings, seconds: int = 600) -> set[int]:
    """The board has started anew: the duties that it goes through on these readings; the first steps have to move nothing."""
    client = bench.client
    client.inject(readings, lease_ms=10000)
    seen = set()
    for step in range(seconds // 5):
        commands, duty, _, _ = client.advance(5000, readings)
        seen.add(duty)
        if step == 0 and any(commands[output] for output in s.MOVING):
            raise TimeoutError("a relay is told to move in the first step after the restart")
    client.release()
    return seen


def measure_duty_resets(bench):
    """The power goes in each duty: relays on afterwards, or a duty that is not found again."""
    bench.client.change_settings(QUICK)
    wrong = []
    for duty, readings in DUTIES.items():
        reach(bench, readings, duty)
        bench.restart()
        if any(bench.board.relays()):
            wrong.append(f"a relay on after {s.DUTY_NAMES[duty]}")
        if duty not in after_restart(bench, readings):
            wrong.append(f"{s.DUTY_NAMES[duty]} not found again")
    bench.restore_settings()
    return (
        len(wrong),
        0,
        0,
        f"of {len(DUTIES)} duties with a power cut: relay on, or not found again" + "".join(f"; {text}" for text in wrong),
    )


def measure_band_resets(bench):
    """The power goes with a reading within each hysteresis band: bands in which the protective side was not assumed."""
    bench.client.change_settings(QUICK)
    wrong = []
    for name, (before, within, allowed) in BANDS.items():
        client = bench.client
        client.release()
        client.inject(before, lease_ms=10000)
        for _ in range(100):
            client.advance(5000, before)
        bench.restart()
        # Until a value agrees with its neighbours nothing is known, which is a fault stop.
        others = after_restart(bench, within) - {allowed, s.IDLE, s.FAULT_STOP}
        if others:
            wrong.append(f"{name}: {', '.join(s.DUTY_NAMES[duty] for duty in sorted(others))}")
    bench.restore_settings()
    return len(wrong), 0, 0, f"of {len(BANDS)} hysteresis bands with a power cut in them" + "".join(f"; {text}" for text in wrong)


CHECKS = (
    Check("injection-lease", "the host falls silent while it holds relays", "s", 5, measure_lease, moves=True),
    Check("host-gone", "the host's port closes while it holds relays", "s", 5, measure_host_gone, VIRTUAL),
    Check("step-exception", "a driver raises while a relay is on", "s", 12, measure_exception, VIRTUAL),
    Check("step-hang", "a driver hangs while a relay is on", "s", 15, measure_hang, VIRTUAL),
    Check("cut-in-every-duty", "power goes and comes in each duty", "wrong", 6, measure_duty_resets, VIRTUAL),
    Check("cut-in-every-band", "power goes and comes within each hysteresis band", "wrong", 6, measure_band_resets, VIRTUAL),
    Check("power-cut", "power goes and comes while a relay is on", "s", 12, measure_reset, VIRTUAL),
)
