"""Glycol and water: the properties the model needs, from CoolProp, read once at set-up.

Each fluid has a constant heat capacity by volume (density times specific heat), taken at 50 C, for
storage and transport alike: no heat can hide in a property, and the balance closes to rounding. The
error for propylene glycol at 40 mass per cent: -2.0 % at -10 C, -0.7 % at 20 C, +0.3 % at 100 C;
for water +1.8 % at 5 C and -1.7 % at 90 C (a test holds these). Viscosity, which changes thirtyfold
between a frosty morning and noon, is a table.

Per cent of glycol is always by mass here; `volume_to_mass_percent` converts a label's figure.
"""

import json
import os
from contextlib import suppress
from functools import lru_cache
from importlib.metadata import version
from math import exp, log
from pathlib import Path

# Common practice: the middle of both loops' range over a year.
STORAGE_REFERENCE_C = 50.0
# The temperature at which a builder reads the flow meter on a sunny noon (common practice).
FLOW_REFERENCE_C = 50.0

# Viscosity table: from the coldest roof to a stagnating collector; 5 K steps keep the interpolation
# error under 2 %.
VISCOSITY_FROM_C = -40.0
VISCOSITY_STEP_K = 5.0
VISCOSITY_COUNT = 42

# CoolProp's MPG fit ends here (its Tmax, RUN CoolProp 8.0.0); above it the table extrapolates on
# purpose.
GLYCOL_FIT_END_C = 100.0
# Three bar absolute: a filled and cold loop. Liquid properties hardly depend on it.
LIQUID_PRESSURE_PA = 3.0e5
CELSIUS_ZERO_K = 273.15
STANDARD_GRAVITY_M_PER_S2 = 9.80665  # CGPM 1901, by definition


# Answers kept on disk; random plants would make them ever more.
KEPT_TOP = 5000


def _kept_at():
    """The file of what this version of CoolProp answered: importing it takes two seconds."""
    base = os.environ.get("TWINLOOP_CACHE") or os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(base) / "twinloop" / f"coolprop-{version('CoolProp')}.jsonl"


@lru_cache(maxsize=1)
def _kept():
    """Its answers by call. A line that a full disk tore is left out."""
    kept = {}
    with suppress(OSError):
        for line in _kept_at().read_text().splitlines():
            with suppress(ValueError):
                call, answer = json.loads(line)
                kept[call] = answer
    return kept


def _ask(*call):
    """CoolProp's PropsSI, asked once for each call on this computer."""
    kept, key = _kept(), repr(call)
    if key not in kept:
        from CoolProp.CoolProp import PropsSI

        kept[key] = PropsSI(*call)
        if len(kept) <= KEPT_TOP:
            with suppress(OSError):
                _kept_at().parent.mkdir(parents=True, exist_ok=True)
                with _kept_at().open("a") as file:
                    file.write(json.dumps([key, kept[key]]) + "\n")
    return kept[key]


def _glycol_name(mass_percent):
    return f"INCOMP::MPG[{mass_percent / 100.0:.6f}]"


@lru_cache(maxsize=64)
def glycol_property(quantity, celsius, mass_percent):
    """Return one property of propylene glycol and water inside the range of the fit.

    Args: `quantity` "density" (kg/m3), "specific_heat" (J/kg K), "viscosity" (Pa s) or
    "conductivity" (W/m K); `celsius` (C); `mass_percent` (% by mass, 0 to 60). Returns: the
    property in the unit above. Raises: ValueError from CoolProp outside freezing point to 100 C.
    Source: Melinder 2010, through CoolProp `INCOMP::MPG`.
    """
    key = {"density": "D", "specific_heat": "C", "viscosity": "V", "conductivity": "L"}[quantity]
    kelvin = celsius + CELSIUS_ZERO_K
    return _ask(key, "T", kelvin, "P", LIQUID_PRESSURE_PA, _glycol_name(mass_percent))


def glycol_freezing_c(mass_percent):
    """Return the temperature (C) at which the first ice appears. Args: `mass_percent` (%, 0 to 60).

    Raises: ValueError from CoolProp outside that range. Source: Melinder 2010, through CoolProp.
    """
    return _ask("T_freeze", "T", 300.0, "P", 101325.0, _glycol_name(mass_percent)) - CELSIUS_ZERO_K


def volume_to_mass_percent(volume_percent):
    """Convert a glycol share by volume, as drums often state it, into the share by mass used here.

    Args: `volume_percent` (% of the volume of the unmixed parts at 20 C, 0 to 60). Returns: % by
    mass. Raises: ValueError outside 0 to 60. Source: definition; density of pure propylene glycol
    1036 kg/m3 at 20 C (from memory), of water 998.2 kg/m3 (CoolProp).
    """
    if not 0.0 <= volume_percent <= 60.0:
        raise ValueError(f"volume_percent = {volume_percent}: allowed 0 to 60 %")
    glycol_kg = volume_percent * 1036.0
    water_kg = (100.0 - volume_percent) * 998.2
    return 100.0 * glycol_kg / (glycol_kg + water_kg)


def glycol_j_per_l_k(mass_percent):
    """Return the glycol's heat capacity by volume, J/(L K), at `STORAGE_REFERENCE_C`.

    Args: `mass_percent` (% by mass). Raises: ValueError outside 0 to 60 %. Source: density times
    specific heat, Melinder 2010 through CoolProp.
    """
    density = glycol_property("density", STORAGE_REFERENCE_C, mass_percent)
    return density * glycol_property("specific_heat", STORAGE_REFERENCE_C, mass_percent) / 1000.0


def _water(quantity, celsius):
    return _ask(quantity, "T", celsius + CELSIUS_ZERO_K, "P", LIQUID_PRESSURE_PA, "Water")


@lru_cache(maxsize=1)
def water_j_per_l_k():
    """Return water's heat capacity by volume, J/(L K), at `STORAGE_REFERENCE_C`.

    Source: density times specific heat, IAPWS-95 through CoolProp.
    """
    return _water("D", STORAGE_REFERENCE_C) * _water("C", STORAGE_REFERENCE_C) / 1000.0


@lru_cache(maxsize=64)
def buoyancy_pa_per_m_k(mass_percent):
    """Return the pressure of a metre of column per kelvin of difference.

    Args: `mass_percent` (% by mass; 0 means water). Returns: Pa/(m K) around `STORAGE_REFERENCE_C`.
    Raises: ValueError outside 0 to 60 %. Source: gravity times the slope of density between 30 and
    70 C, Melinder 2010 through CoolProp.
    """
    cold_kg_per_m3 = glycol_property("density", 30.0, mass_percent)
    hot_kg_per_m3 = glycol_property("density", 70.0, mass_percent)
    return STANDARD_GRAVITY_M_PER_S2 * (cold_kg_per_m3 - hot_kg_per_m3) / 40.0


@lru_cache(maxsize=64)
def viscosity_ratios(mass_percent):
    """Return the glycol's viscosity relative to `FLOW_REFERENCE_C`, on an even temperature grid.

    Args: `mass_percent` (% by mass, 0 to 60). Returns: tuple of `VISCOSITY_COUNT` ratios
    (dimensionless), first at `VISCOSITY_FROM_C`, `VISCOSITY_STEP_K` apart. Raises: ValueError from
    CoolProp outside 0 to 60 %. Source: Melinder 2010 through CoolProp; beyond the fit (colder than
    the freezing point, hotter than 100 C) ln(viscosity) continues as a straight line in 1/T
    (Andrade 1930, from memory): a pump must get a finite flow of slush or nearly boiling glycol,
    where CoolProp raises an error.
    """
    lowest_c = glycol_freezing_c(mass_percent) + 0.5
    reference = glycol_property("viscosity", FLOW_REFERENCE_C, mass_percent)

    def by_fit(celsius):
        return glycol_property("viscosity", celsius, mass_percent) / reference

    def continued(celsius, end_c, inner_c):
        end, inner, here = (1.0 / (t + CELSIUS_ZERO_K) for t in (end_c, inner_c, celsius))
        slope = (log(by_fit(end_c)) - log(by_fit(inner_c))) / (end - inner)
        return exp(log(by_fit(end_c)) + slope * (here - end))

    ratios = []
    for index in range(VISCOSITY_COUNT):
        celsius = VISCOSITY_FROM_C + VISCOSITY_STEP_K * index
        if celsius < lowest_c:
            ratios.append(continued(celsius, lowest_c, lowest_c + 10.0))
        elif celsius > GLYCOL_FIT_END_C:
            ratios.append(continued(celsius, GLYCOL_FIT_END_C, GLYCOL_FIT_END_C - 20.0))
        else:
            ratios.append(by_fit(celsius))
    return tuple(ratios)


def standard_pressure_pa(altitude_m):
    """Return the standard pressure (Pa) at a height. Args: `altitude_m` (m, -500 to 5000).

    Source: ICAO standard atmosphere (ISO 2533), troposphere formula.
    """
    return 101325.0 * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588


def water_mole_share(mass_percent):
    """Return the share (0 to 1) of water among the molecules. Args: `mass_percent` (%, 0 to 60).

    Source: molar masses 18.015 and 76.095 g/mol, from the formulas H2O and C3H8O2.
    """
    water, glycol = (100.0 - mass_percent) / 18.015, mass_percent / 76.095
    return water / (water + glycol)


def boiling_point_c(pressure_pa, mass_percent=0.0):
    """Return the temperature at which the collector's fluid begins to boil.

    Args: `pressure_pa` (Pa absolute, above 1000), `mass_percent` (% propylene glycol by mass, 0 to
    60). Returns: C. Raises: ValueError from CoolProp beyond the critical pressure. Source: IAPWS-95
    saturation line through CoolProp at the pressure over water's mole share (Raoult's law; the
    glycol's own vapour, under 1 % of the pressure at 120 C, is left out).
    """
    return _ask("T", "P", pressure_pa / water_mole_share(mass_percent), "Q", 0.0, "Water") - CELSIUS_ZERO_K
