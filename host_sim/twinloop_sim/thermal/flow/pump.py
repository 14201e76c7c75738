"""A small circulator against its loop: the factors of `pumps.drive_share` and `pumps.pump_w`.

Common practice for a wet rotor: pressure falls with the square of the flow, to nothing at run-out;
both axes follow the affinity laws; power rises with flow on a straight line. A solar loop works far
to the left on that curve, at a tenth of the run-out, where pressure and power hardly fall: a pump
that holds both is right within 1 % and 6 %.
"""

from dataclasses import dataclass
from math import exp, sqrt


@dataclass(frozen=True)
class PumpCurve:
    """A pump in its loop, against nominal: what the step needs to find flow and power."""

    droop: float
    valve_share: float
    power_slope: float


# Power at no flow against power at run-out, at one speed (common practice for radial wet rotors).
SHUT_POWER_SHARE = 0.6
# A check valve that takes more than this of the pump's pressure is a mistake in the plant's values.
VALVE_SHARE_TOP = 0.9


def pump_curve(nominal_l_per_min, run_out_l_per_min, head_kpa, valve_opening_pa):
    """Return the PumpCurve of a pump that gives `head_kpa` at its nominal flow.

    Args: `nominal_l_per_min`, `run_out_l_per_min` (L/min; the latter against no pressure),
    `head_kpa` (kPa), `valve_opening_pa` (Pa, what the open check valve keeps). Source: common
    practice: a small circulator's pressure falls with the square of the flow, to nothing at
    run-out; its power rises in a straight line from SHUT_POWER_SHARE.
    """
    share = min(nominal_l_per_min / run_out_l_per_min, 0.9)
    rise = (1.0 - SHUT_POWER_SHARE) * share
    droop = share**2 / (1.0 - share**2)
    return PumpCurve(droop, min(valve_opening_pa / 1000.0 / head_kpa, VALVE_SHARE_TOP), rise / (SHUT_POWER_SHARE + rise))


def speed_for(flow_share, curve, drop_share):
    """Return the speed (1, against full) at which a pump gives a flow.

    Args: `flow_share` (1, against nominal), `curve` (PumpCurve), `drop_share` (1, the loop's drop
    at that flow against its nominal one). Source: `pumps.drive_share` solved for the speed.
    """
    pressure = curve.valve_share + (1.0 - curve.valve_share) * drop_share + curve.droop * flow_share**2
    return sqrt(pressure / (1.0 + curve.droop))


def reference_power_w(hydraulic_w):
    """Return the power that the energy label's scale expects of a circulator, W.

    Args: `hydraulic_w` (W, at its best point, 1 to 2500). Source: Regulation (EC) 641/2009, Annex
    II; coefficients read in public code that names it.
    """
    return 1.7 * hydraulic_w + 17.0 * (1.0 - exp(-0.3 * hydraulic_w))


def best_hydraulic_w(shut_kpa, run_out_l_per_min):
    """Return the most that a pump of this curve gives to the water, W.

    Args: `shut_kpa` (kPa, at no flow), `run_out_l_per_min` (L/min). Source: top of p q over the
    parabola, at the root of a third of the run-out.
    """
    return 2.0 / 3.0 / sqrt(3.0) * shut_kpa * run_out_l_per_min / 60.0
