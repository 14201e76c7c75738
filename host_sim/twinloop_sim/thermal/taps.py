"""From the top of the tank to the tap: mixing valve, tankless gas heater, and the user.

A draw is the flow wanted at the delivery temperature. Hotter water is mixed with cold at the tap,
so less of it is drawn; colder water is heated.
"""

from .jit import kernel


@kernel
def hot_share(hot_c, cold_c, mixed_c):
    """Return the share of hot water in an ideal mix.

    Args: `hot_c`, `cold_c`, `mixed_c` (C). Returns: 0 to 1; 1 when the hot side is colder than the
    mix, 0 when the cold side is hotter. Source: heat balance, (Tm - Tc) / (Th - Tc).
    """
    if hot_c <= mixed_c:
        return 1.0
    if cold_c >= mixed_c:
        return 0.0
    return (mixed_c - cold_c) / (hot_c - cold_c)


@kernel
def heater_w(wanted_w, flow_l_per_min, flowing_s, power_min_w, power_max_w, flow_min_l_per_min, delay_s):
    """Return the heat of a tankless heater to the water.

    Args: `wanted_w` (W to reach its set point), `flow_l_per_min` (L/min), `flowing_s` (s since the
    flow began), `power_min_w`, `power_max_w` (W, heat to water), `flow_min_l_per_min` (L/min),
    `delay_s` (s). Returns: W; 0 below its flow threshold, before its delay is over, or where even
    minimum fire would overheat the water. Source: common practice.
    """
    if flow_l_per_min < flow_min_l_per_min or flowing_s < delay_s or wanted_w < power_min_w:
        return 0.0
    return min(wanted_w, power_max_w)


@kernel
def line_flow_share(line_c, cold_c, delivery_c):
    """Return the share of hot line water in a litre at the delivery temperature.

    Args: `line_c` (C, water that the line would bring unheated), `cold_c` (C), `delivery_c` (C).
    Returns: 0 to 1; 1 unless the line is hotter than wanted. Source: heat balance at the tap.
    """
    if line_c <= delivery_c or cold_c >= delivery_c:
        return 1.0
    return (delivery_c - cold_c) / (line_c - cold_c)
