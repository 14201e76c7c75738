"""The flow that a draw profile takes at the tap in each control step."""

from dataclasses import dataclass

import numpy as np

from ..thermal.fluids import water_j_per_l_k

DAY_S = 86400.0
MINUTE_S = 60.0
WH_J = 3600.0
# Delivery temperature of the wash-house (ours). The plant value `heater_set_c` replaces it.
DELIVERY_C = 45.0


@dataclass(frozen=True)
class Variation:
    """Random differences between days.

    The heat of each draw is multiplied by a random factor of mean 1, and its start moves by up to
    some minutes. `seed` (0 or more; a day draws from the seed and its own number), `heat_percent`
    (standard deviation of the factor's logarithm in per cent; lognormal, ours), `shift_min`
    (minutes either way, uniform, ours; never past midnight).
    """

    seed: int
    heat_percent: float
    shift_min: float

    def of_day(self, day, draws):
        """Factors, and shifts in minutes, of the draws of day `day`; `draws` is their number."""
        random = np.random.default_rng([self.seed, day])
        spread = self.heat_percent / 100.0
        factors = np.exp(spread * random.standard_normal(draws) - spread * spread / 2.0)
        return factors, random.uniform(-self.shift_min, self.shift_min, draws)


def draw_table(
    profile, days, step_s, cold_main_c, *, scale=1.0, delivery_c=DELIVERY_C, absent_days=(), skip_days=0, variation=None
):
    """Return the flow drawn at the tap, at delivery temperature, averaged over each control step.

    Args: `profile` (sequence of Draw), `days` (count, 1 or more), `step_s` (s, must divide a day),
    `cold_main_c` (C, a number or an array of one value per step), `scale` (1, factor on the heat of
    each draw: it lasts longer at the same flow), `delivery_c` (C), `absent_days` (days of the run
    without draws, counted from 0), `skip_days` (count, the table begins this many days into the
    run), `variation` (Variation, or None for days that are all alike). Returns: float64 array
    (steps,), L/min; the volume of each draw is exact however it falls on the steps. Raises:
    ValueError, one line, for a wrong call. Source: litres from heat, Q / (rho cp (delivery -
    cold)), with the model's water.
    """
    steps_per_day = DAY_S / step_s if step_s > 0.0 else 0.5
    if days < 1 or days != int(days):
        raise ValueError(f"days = {days}: allowed whole numbers from 1")
    if steps_per_day != int(steps_per_day):
        raise ValueError(f"step_s = {step_s:g}: must divide a day (86400 s)")
    if not 0.0 <= scale < float("inf"):
        raise ValueError(f"scale = {scale:g}: allowed 0 or more")
    steps_per_day = int(steps_per_day)
    cold = np.broadcast_to(np.asarray(cold_main_c, dtype=float), (days * steps_per_day,))
    if cold.max() >= delivery_c:
        raise ValueError(f"delivery_c = {delivery_c:g}: must be above the cold main's {cold.max():g} C")
    litres = np.zeros((days, steps_per_day))
    for day in range(days):
        if skip_days + day not in absent_days:
            wanted = {"profile": profile, "scale": scale, "delivery_c": delivery_c, "variation": variation}
            _pour_day(litres[day], cold[day * steps_per_day :], step_s, skip_days + day, **wanted)
    return litres.reshape(-1) * (MINUTE_S / step_s)


def draw_litres(draw, scale, cold_c, delivery_c):
    """Return the volume (L) of one draw at the delivery temperature. Source: Q / (rho cp dT).

    Args: `draw` (Draw), `scale` (1), `cold_c`, `delivery_c` (C).
    """
    return scale * draw.heat_wh * WH_J / (water_j_per_l_k() * (delivery_c - cold_c))


def _pour_day(litres, cold, step_s, day, *, profile, scale, delivery_c, variation):
    # Adds the draws of one day, each with the cold main of the step in which it starts.
    factors, shifts = (np.ones(len(profile)), np.zeros(len(profile)))
    if variation is not None:
        factors, shifts = variation.of_day(day, len(profile))
    for draw, factor, shift_min in zip(profile, factors.tolist(), shifts.tolist(), strict=True):
        start_s = min(max(draw.minute + shift_min, 0.0) * MINUTE_S, DAY_S - step_s)
        volume_l = draw_litres(draw, scale * factor, cold[int(start_s / step_s)], delivery_c)
        if variation is not None:
            start_s = max(min(start_s, DAY_S - volume_l / draw.flow_l_per_min * MINUTE_S), 0.0)
        _pour(litres, start_s, volume_l, draw, scale, step_s)


def _pour(litres, start_s, volume_l, draw, scale, step_s):
    # Adds one draw to its day, to each step in proportion to their overlap.
    end_s = start_s + volume_l / draw.flow_l_per_min * MINUTE_S
    if end_s > DAY_S:
        clock = f"{draw.minute // 60:02d}:{draw.minute % 60:02d}"
        raise ValueError(f"scale = {scale:g}: the draw at {clock} would last past midnight; use a smaller scale")
    first, last = int(start_s / step_s), int(np.ceil(end_s / step_s))
    edges_s = np.clip(np.arange(first, last + 1) * step_s, start_s, end_s)
    litres[first:last] += np.diff(edges_s) * (draw.flow_l_per_min / MINUTE_S)
