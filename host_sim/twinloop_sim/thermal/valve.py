"""The three-way dump valve: power turns it to the exchanger, its spring to the radiator."""

from .jit import kernel


@kernel
def move_valve(position, powered, travel_s, step_s):
    """Return the valve's position after one step, from 0 at the radiator to 1 at the exchanger.

    Args: `position` (1), `powered` (0 or 1), `travel_s` (s, end to end), `step_s` (s). Source:
    constant speed, common practice for a motor with spring return.
    """
    way = step_s / travel_s
    if powered:
        return min(position + way, 1.0)
    return max(position - way, 0.0)


@kernel
def exchanger_share(position, seat_leak, crossover_open):
    """Return the share of glycol that goes to the exchanger, or -1 when the valve blocks all.

    Args: `position` (0 to 1), `seat_leak` (1, share that goes the closed way at either end),
    `crossover_open` (0 or 1: whether glycol passes while the valve travels).
    Returns: 0 to 1, or -1. Source: ours; an open crossover splits in proportion to the position.
    """
    if position >= 1.0:
        return 1.0 - seat_leak
    if position <= 0.0:
        return seat_leak
    if crossover_open:
        return seat_leak + position * (1.0 - 2.0 * seat_leak)
    return -1.0
