"""Dry air at one pressure: density, heat capacity, viscosity.

Set-up only. Moisture is left out: at 20 C and half saturated, air is 0.4 % lighter and holds 0.3 %
more heat by volume (a test holds both). Water that condenses in a cold collector is not in it.
"""

from ..fluids import CELSIUS_ZERO_K, STANDARD_GRAVITY_M_PER_S2, standard_pressure_pa

# ICAO standard atmosphere (ISO 2533).
GAS_J_PER_KG_K = 287.053
# At 20 C; within 0.1 % from -40 to 40 C (a test holds it).
AIR_J_PER_KG_K = 1006.0
# Volumes of fans and rooms count at this temperature (common practice).
REFERENCE_C = 20.0
GRAVITY_M_PER_S2 = STANDARD_GRAVITY_M_PER_S2
ZERO_K = CELSIUS_ZERO_K


def density_kg_per_m3(celsius, altitude_m):
    """Return the density of dry air. Args: `celsius` (C), `altitude_m` (m). Returns: kg/m3.

    Source: ideal gas at the standard atmosphere's pressure.
    """
    return standard_pressure_pa(altitude_m) / (GAS_J_PER_KG_K * (celsius + CELSIUS_ZERO_K))


def viscosity_pa_s(celsius):
    """Return the viscosity of dry air. Args: `celsius` (C). Returns: Pa s. Source: Sutherland
    (from memory).
    """
    kelvin = celsius + CELSIUS_ZERO_K
    return 1.716e-5 * (kelvin / 273.15) ** 1.5 * (273.15 + 110.4) / (kelvin + 110.4)
