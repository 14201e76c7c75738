"""The small brazed plate exchanger: what each side's film passes, by flow and temperature.

Geometry: 72 mm wide, 278 mm between ports, 2 mm of corrugation at 65 degrees. That is the plate of
Longo and Gasparella, Int. J. Refrigeration 30 (2007) 821-830 (from memory), a size that many makers
sell for solar stations. How many channels a side has follows from its content. The plates' area is
fitted: UA at the nominal flows and `fluids.FLOW_REFERENCE_C` on both sides is the plant's own
figure. The default plant's fit is 0.718 m2, and its geometry has 0.720 m2.
"""

from dataclasses import dataclass

import numpy as np

from .. import fluids
from .films import plate_nusselt

PLATE_WIDTH_M = 0.072
PORT_TO_PORT_M = 0.278
CORRUGATION_M = 0.002
CHEVRON_DEG = 65.0
# Area of the corrugated sheet against a flat one (common practice 1.15 to 1.25).
ENLARGEMENT = 1.2
HYDRAULIC_DIAMETER_M = 2.0 * CORRUGATION_M / ENLARGEMENT
# Stainless steel, 0.4 mm, 15 W/m K (handbook).
WALL_M2_K_PER_W = 0.0004 / 15.0
CHANNEL_L = 1000.0 * PLATE_WIDTH_M * PORT_TO_PORT_M * CORRUGATION_M


@dataclass(frozen=True)
class Fluid:
    """Properties on a grid of temperatures: numpy arrays of one length, in SI units."""

    celsius: np.ndarray
    density: np.ndarray
    viscosity: np.ndarray
    conductivity: np.ndarray
    prandtl: np.ndarray


def fluid(mass_percent, celsius):
    """Return the properties of glycol or water, held at the ends of their fit.

    Args: `mass_percent` (% of propylene glycol by mass, 0 is water), `celsius` (C, array within
    the viscosity table). Returns: Fluid. Source: Melinder 2010 through CoolProp; viscosity beyond
    the fit as `fluids.viscosity_ratios`.
    """
    first, step, count = fluids.VISCOSITY_FROM_C, fluids.VISCOSITY_STEP_K, fluids.VISCOSITY_COUNT
    grid = first + step * np.arange(count)
    reference = fluids.glycol_property("viscosity", fluids.FLOW_REFERENCE_C, mass_percent)
    viscosity = reference * np.interp(celsius, grid, fluids.viscosity_ratios(mass_percent))
    held = np.clip(celsius, fluids.glycol_freezing_c(mass_percent) + 0.5, fluids.GLYCOL_FIT_END_C)
    density, heat, conductivity = (
        np.array([fluids.glycol_property(name, float(t), mass_percent) for t in held])
        for name in ("density", "specific_heat", "conductivity")
    )
    return Fluid(np.asarray(celsius), density, viscosity, conductivity, viscosity * heat / conductivity)


def film_w_per_m2_k(fluid, flow_l_per_min, content_l):
    """Return what a side's film passes, W/m2 K, over the grid of temperatures.

    Args: `fluid` (Fluid), `flow_l_per_min` (L/min, above 0; a number, or a column for a table),
    `content_l` (L, of this side). Returns: array. Source: `films.plate_nusselt`, flow shared evenly
    by content over CHANNEL_L channels.
    """
    return film_and_reynolds(fluid, flow_l_per_min, content_l)[0]


def film_and_reynolds(fluid, flow_l_per_min, content_l):
    """Return the film as `film_w_per_m2_k` and the Reynolds number that it was taken at."""
    section_m2 = content_l / CHANNEL_L * PLATE_WIDTH_M * CORRUGATION_M
    speed_m_per_s = flow_l_per_min / 60000.0 / section_m2
    reynolds = fluid.density * speed_m_per_s * HYDRAULIC_DIAMETER_M / fluid.viscosity
    nusselt = plate_nusselt(reynolds, fluid.prandtl, CHEVRON_DEG)
    return nusselt * fluid.conductivity / HYDRAULIC_DIAMETER_M, reynolds


def area_m2(content_l):
    """Return the plates' area by geometry, m2. Args: `content_l` (L, of one side). Source: two
    plates to a channel.
    """
    return content_l / CHANNEL_L * 2.0 * PLATE_WIDTH_M * PORT_TO_PORT_M * ENLARGEMENT


@dataclass(frozen=True)
class Plates:
    """An exchanger fitted to its nominal UA: percent of glycol, nominal flows, contents, area."""

    mass_percent: float
    glycol_l_per_min: float
    water_l_per_min: float
    glycol_l: float
    water_l: float
    area_m2: float

    def side(self, water):
        """(glycol percent, nominal flow L/min, content L) of the water or the glycol side."""
        if water:
            return 0.0, self.water_l_per_min, self.water_l
        return self.mass_percent, self.glycol_l_per_min, self.glycol_l

    def film_w_per_k(self, water, flow_l_per_min, celsius):
        """Conductance of one side's film, W/K, on a grid of temperatures (C, array)."""
        percent, _, content_l = self.side(water)
        return self.area_m2 * film_w_per_m2_k(fluid(percent, celsius), flow_l_per_min, content_l)

    def nominal_w_per_k(self, water):
        """The same at nominal flow and `fluids.FLOW_REFERENCE_C`, one number."""
        return self.film_w_per_k(water, self.side(water)[1], np.array([fluids.FLOW_REFERENCE_C]))[0]

    def ua_w_per_k(self, glycol_l_per_min, water_l_per_min, glycol_c=None, water_c=None):
        """UA, W/K, at these flows (L/min) and temperatures (C; None: the reference)."""
        resistance = WALL_M2_K_PER_W / self.area_m2
        sides = ((False, glycol_l_per_min, glycol_c), (True, water_l_per_min, water_c))
        for water, flow_l_per_min, celsius in sides:
            at_c = np.array([fluids.FLOW_REFERENCE_C if celsius is None else celsius])
            resistance += 1.0 / self.film_w_per_k(water, flow_l_per_min, at_c)[0]
        return resistance**-1


def fitted(ua_w_per_k, mass_percent, flows_l_per_min, contents_l):
    """Return the Plates whose UA at these flows is this one.

    Args: `ua_w_per_k` (W/K, both sides at their nominal flows and `fluids.FLOW_REFERENCE_C`),
    `mass_percent` (%), `flows_l_per_min`, `contents_l` (pairs of glycol and water). Returns:
    Plates. Source: resistances in series; films do not depend on the area, so the fit is exact.
    """
    flat = Plates(mass_percent, *flows_l_per_min, *contents_l, 1.0)
    area = ua_w_per_k / flat.ua_w_per_k(*flows_l_per_min)
    return Plates(mass_percent, *flows_l_per_min, *contents_l, area)
