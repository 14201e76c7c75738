"""The outdoor radiator: a passive, shaded heat sink; its content is as cold as the night.

Approximation: conductance is constant in flow and lower at rest. The rise of natural convection
with temperature (about the 0.25th to 0.3th power of the difference) is left out, which errs on the
low side above the rating.
"""

from .jit import kernel
from .pipe import lose

# From this share of the pumped flow up, glycol counts as flowing (ours: stiff glycol moves at a
# third).
FULL_FLOW_SHARE = 0.2


@kernel
def radiator_w_per_k(flow_share, flow_w_per_k, rest_w_per_k, wind_share_s_per_m, wind_m_per_s):
    """Return the radiator's conductance to ambient.

    Args: `flow_share` (1, flow through it against the pumped flow, 0 or more), `flow_w_per_k`,
    `rest_w_per_k` (W/K, whole radiator), `wind_share_s_per_m` (s/m, gain for a m/s of wind),
    `wind_m_per_s` (m/s). Returns: W/K. Source: ours: a straight line from rest to
    `FULL_FLOW_SHARE`, so that a trickle changes little; linear in wind.
    """
    moving = min(flow_share / FULL_FLOW_SHARE, 1.0)
    still = rest_w_per_k + moving * (flow_w_per_k - rest_w_per_k)
    return still * (1.0 + wind_share_s_per_m * wind_m_per_s)


@kernel
def radiate(temperatures_c, first, count, ambient_c, total_w_per_k, node_j_per_k, step_s):
    """Let the radiator's nodes give heat to the air for one step, in place.

    Args: as `pipe.lose`, but `total_w_per_k` (W/K) of the whole radiator. Returns: J given off.
    """
    return lose(temperatures_c, first, count, ambient_c, total_w_per_k / count, node_j_per_k, step_s)
