"""Set-up: the absorber behind a data sheet's curve, and the pressure drop of a duct."""

from math import log10, pi

from .properties import REFERENCE_C, viscosity_pa_s

# Folded galvanised duct (common practice).
ROUGHNESS_M = 0.00015
# Where the absorber meets its curve best: irradiance, and mean air above outdoors (ours).
NOON_W_PER_M2 = 700.0
NOON_K = 25.0


def film_factor(eta0, a1, a2, film_w_per_m2_k):
    """Return F' (1): what of the absorber's own gain and loss the curve on air temperature shows.

    Args: `eta0` (1), `a1` (W/m2 K), `a2` (W/m2 K2), all of the curve on mean air temperature;
    `film_w_per_m2_k` (at that flow). Source: F' = 1 - U / h, Duffie and Beckman ch. 6 (from
    memory), with the slope U of the curve's loss between air and absorber at a mild noon.
    """
    above_k = (eta0 * NOON_W_PER_M2 - a1 * NOON_K - a2 * NOON_K**2) / film_w_per_m2_k
    return 1.0 - (a1 + a2 * (2.0 * NOON_K + above_k)) / film_w_per_m2_k


def duct_pa(flow_m3_per_s, bore_m, length_m, fittings, density_kg_per_m3):
    """Return the pressure drop of a round duct and its fittings, Pa.

    Args: `flow_m3_per_s` (m3/s, above 0), `bore_m`, `length_m` (m), `fittings` (1, sum of loss
    coefficients), `density_kg_per_m3` (kg/m3). Source: Darcy-Weisbach; friction 64/Re, and Haaland
    1983 (from memory) where that is more.
    """
    speed = flow_m3_per_s / (pi / 4.0 * bore_m**2)
    reynolds = density_kg_per_m3 * speed * bore_m / viscosity_pa_s(REFERENCE_C)
    rough = (-1.8 * log10((ROUGHNESS_M / bore_m / 3.7) ** 1.11 + 6.9 / max(reynolds, 100.0))) ** -2
    friction = max(64.0 / reynolds, rough)
    return (friction * length_m / bore_m + fittings) * density_kg_per_m3 * speed**2 / 2.0
