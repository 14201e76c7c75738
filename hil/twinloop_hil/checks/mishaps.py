"""Mishaps after which the board must become safe by itself, measured in real time."""

from __future__ import annotations

import time

from twinloop.control import settings as cfg
from twinloop.control import state as s

from ..readings import SUNNY_MC, row
from ..virtual.files.slots import MISHAP_HANG, MISHAP_NONE, MISHAP_RAISE, SLOT_WATCHDOG_MS
from .frame import VIRTUAL, Check

ALL_RELAYS = sum(1 << output for output in s.MOVING)
LEASE_MS = 2000
# A pass of the loop, and the delay until the host looks.
SLACK_S = 0.5
EVENING_MC = row(tank_low=30000, tank_high=35000, tap=30000)
# With these settings a relay moves within seconds of real time instead of minutes.
QUICK = {cfg.DUMP_TRAVEL: 1000, cfg.MINIMUM_REST: 0}


def advance_until(client, readings, reached, what: str) -> None:
    """Step on these readings until the answer of a step is what was waited for."""
    for _ in range(200):
        if reached(client.advance(5000, readings)):
            return
    raise TimeoutError(f"waited 1000 s of station time for {what}")


def relays_known(bench) -> bool:
    """Whether the host can see the relays: only on the virtual board, in its registers."""
    return bench.board is not None


def measure_lease(bench):
    hold_relays_on(bench)
    return after_silence(bench, "the injection lease")


def hold_relays_on(bench) -> None:
    """Inject in lock step, with all relays released, until the collector pump is on."""
    client = bench.client
    client.release()
    client.inject(SUNNY_MC, lease_ms=LEASE_MS, mask=ALL_RELAYS)
    advance_until(client, SUNNY_MC, lambda answer: answer[0][s.COLLECTOR_PUMP], "the collector pump")
    if relays_known(bench):
        # A real relay moves at most once in two seconds.
        def moved() -> bool:
            client.advance(100, SUNNY_MC)
            return bench.board.powered()

        bench.wait(moved, 5.0, "a relay to follow the injection")


def after_silence(bench, what: str):
    """The time from now until the relays are safe and the board uses its own sensors."""
    begin = time.monotonic()
    # Status calls do not renew the lease.
    bench.wait(lambda: not bench.client.status()["injecting"], LEASE_MS / 1000.0 + 5.0, f"the end of {what}")
    took = time.monotonic() - begin
    if relays_known(bench) and bench.board.powered():
        raise TimeoutError(f"{what} is over but a relay is still on")
    seen = "relays safe, seen at the pins; board on its own sensors" if relays_known(bench) else "board on its own sensors"
    return took, LEASE_MS / 1000.0 - SLACK_S, LEASE_MS / 1000.0 + SLACK_S, seen


def measure_host_gone(bench):
    hold_relays_on(bench)
    bench.client.close()
    begin = time.monotonic()
    bench.wait(lambda: not bench.board.powered(), LEASE_MS / 1000.0 + 5.0, "relays in their safe state")
    took = time.monotonic() - begin
    bench.reconnect()
    # The new session would end an injection anyway; the relays show that it had ended before.
    return took, 0.0, LEASE_MS / 1000.0 + SLACK_S, "from the closed port to safe relays, seen at the pins"


def own_relays_on(bench) -> None:
    """Let the virtual board run on sunny sensors until a relay is on, in real time."""
    bench.client.release()
    bench.client.change_settings(QUICK)
    bench.board.set_sensors(SUNNY_MC)
    bench.wait(lambda: bench.board.powered(), 20.0, "a relay to come on")


def measure_mishap(bench, kind: int, top_s: float, detail: str):
    """The time from a mishap in the sensor chip to safe relays. The board must answer again."""
    own_relays_on(bench)
    bench.board.mishap(kind)
    took = bench.wait(lambda: not bench.board.powered(), top_s + 10.0, "relays in their safe state")
    bench.board.mishap(MISHAP_NONE)
    bench.board.set_sensors(EVENING_MC)
    bench.reconnect()
    return took, 0.0, top_s, detail


def measure_exception(bench):
    # A period until the next reading, and slack.
    top_s = bench.client.facts["period_ms"] / 1000.0 + SLACK_S
    return measure_mishap(bench, MISHAP_RAISE, top_s, "from the exception to safe relays; the board answers again")


def measure_hang(bench):
    top_s = bench.board.peek(SLOT_WATCHDOG_MS) / 1000.0 + bench.client.facts["period_ms"] / 1000.0 + SLACK_S
    return measure_mishap(bench, MISHAP_HANG, top_s, "from the hang to safe relays, by the watchdog; the board answers again")


def measure_reset(bench):
    own_relays_on(bench)
    begin = time.monotonic()
    bench.board.power_cut()
    safe_after = bench.wait(lambda: not bench.board.powered(), 5.0, "relays in their safe state")
    bench.reconnect()
    took = time.monotonic() - begin
    relays, powered = bench.board.relays(), bench.board.powered()
    bench.board.set_sensors(EVENING_MC)
    if powered:
        raise TimeoutError(f"a relay is on right after the start: {relays}")
    return took, 0.0, 3.0, f"from the power cut to an answering board; relays safe after {safe_after:.3f} s"


# Readings that bring a station from a cold start into each duty.
FULL_TANK = {
    "tank_low": 68000,
    "tank_high": 72000,
    "loop_supply": 80000,
    "loop_return": 60000,
    "tap": 30000,
    "exchanger": 68000,
}
WARM_TANK = {
    "tank_low": 50000,
    "tank_high": 55000,
    "loop_supply": 40000,
    "loop_return": 40000,
    "tap": 30000,
    "exchanger": 50000,
}
DUTIES = {
    s.IDLE: EVENING_MC,
    s.CHARGING: SUNNY_MC,
    s.DUMPING: row(collector=100000, **FULL_TANK),
    s.STAGNATION_HOLD: row(collector=130000, **WARM_TANK),
    s.FROST_GUARD: row(12000, collector=5000, tank_low=30000, tank_high=35000, outdoor=-5000, tap=30000, exchanger=2000),
}
# Readings before, readings within a band, and the duty allowed there: the protective side.
BANDS = {
    "between stop and start difference": (
        SUNNY_MC,
        row(
            collector=35500,
            tank_low=30000,
            tank_high=35000,
            loop_supply=35000,
            loop_return=32000,
            tap=30000,
            exchanger=32000,
        ),
        s.IDLE,
    ),
    "between collector_reset and collector_limit": (
        DUTIES[s.STAGNATION_HOLD],
        row(collector=112000, **WARM_TANK),
        s.STAGNATION_HOLD,
    ),
    "between the resets and limits of the tank": (
        SUNNY_MC,
        row(
            collector=85000,
            tank_low=63000,
            tank_high=72000,
            loop_supply=80000,
            loop_return=70000,
            tap=30000,
            exchanger=65000,
        ),
        s.IDLE,
    ),
    "between dump_collector_stop and _start": (DUTIES[s.DUMPING], row(collector=88000, **FULL_TANK), s.IDLE),
}


def reach(bench, readings, duty: int) -> None:
    """Inject in lock step, with all relays released, until the duty's relays have moved."""
    client = bench.client
    client.release()
    client.inject(readings, lease_ms=10000, mask=ALL_RELAYS)
    advance_until(client, readings, lambda answer: answer[1] == duty, s.DUTY_NAMES[duty])
    for _ in range(40):
        client.advance(5000, readings)


def after_restart(bench, readings, seconds: int = 600) -> set[int]:
    """The duties of a restarted board on these readings; its first step must not move a relay."""
    client = bench.client
    client.inject(readings, lease_ms=10000)
    seen = set()
    for step in range(seconds // 5):
        commands, duty, _, _ = client.advance(5000, readings)
        seen.add(duty)
        if step == 0 and any(commands[output] for output in s.MOVING):
            raise TimeoutError("the first step after the restart moves a relay")
    client.release()
    return seen


def measure_duty_resets(bench):
    bench.client.change_settings(QUICK)
    wrong = []
    for duty, readings in DUTIES.items():
        reach(bench, readings, duty)
        bench.restart()
        if bench.board.powered():
            wrong.append(f"a relay is on after {s.DUTY_NAMES[duty]}")
        if duty not in after_restart(bench, readings):
            wrong.append(f"{s.DUTY_NAMES[duty]} is not resumed")
    bench.restore_settings()
    detail = f"power cuts in {len(DUTIES)} duties: a relay on, or the duty not resumed"
    return len(wrong), 0, 0, "; ".join([detail, *wrong])


def measure_band_resets(bench):
    bench.client.change_settings(QUICK)
    wrong = []
    for name, (before, within, allowed) in BANDS.items():
        client = bench.client
        client.release()
        client.inject(before, lease_ms=10000)
        for _ in range(100):
            client.advance(5000, before)
        bench.restart()
        # Before a value agrees with its neighbours it is unknown, which means fault_stop.
        others = after_restart(bench, within) - {allowed, s.IDLE, s.FAULT_STOP}
        if others:
            wrong.append(f"{name}: {', '.join(s.DUTY_NAMES[duty] for duty in sorted(others))}")
    bench.restore_settings()
    return len(wrong), 0, 0, "; ".join([f"of {len(BANDS)} hysteresis bands with a power cut", *wrong])


CHECKS = (
    Check("injection-lease", "the host falls silent while it holds relays", "s", 5, measure_lease, moves=True),
    Check("host-gone", "the host's port closes while it holds relays", "s", 5, measure_host_gone, VIRTUAL),
    Check("step-exception", "a driver raises an exception while a relay is on", "s", 12, measure_exception, VIRTUAL),
    Check("step-hang", "a driver hangs while a relay is on", "s", 15, measure_hang, VIRTUAL),
    Check("cut-in-every-duty", "the power fails and returns in each duty", "wrong", 6, measure_duty_resets, VIRTUAL),
    Check("cut-in-every-band", "the power fails and returns within each hysteresis band", "wrong", 6, measure_band_resets, VIRTUAL),
    Check("power-cut", "the power fails and returns while a relay is on", "s", 12, measure_reset, VIRTUAL),
)
