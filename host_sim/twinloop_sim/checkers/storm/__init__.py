"""Harms that only a storm judges: they need many days, or another life to compare with.

`outcome.beside` has two of them: `reference()`, the rows of a rule that knows the true state of the
same faulty plant, and `sound()`, those of the same station to which nothing happens.
"""

from __future__ import annotations

from . import avoidable_boiling, carried_out, idle_sun, relay_operations, silence

ALL = (avoidable_boiling, carried_out, relay_operations, silence, idle_sun)
# What the control core does not master yet, and each judge that waits for it: `--everything` asks
# them as well.
WAITING = {
    avoidable_boiling: "in series a hot collector waits while the outdoor sensor is lost and the radiator may hold frost",
    carried_out: "exchanged with the collector, tank_low takes heat out by day and in frost; so does a radiator left in series",
    relay_operations: "without a bypass a weak sun brings frosty glycol in up to 180 pulses a day",
}
