"""Films of exchanger and absorber as tables for the step, from a plant's own figures."""

from functools import lru_cache

import numpy as np

from ..fluids import FLOW_REFERENCE_C
from . import absorber, loop, plates
from .lookup import COLUMNS, FROM_C, ROOT_STEP, ROWS, STEP_K

CELSIUS = FROM_C + STEP_K * np.arange(COLUMNS)
# Flows that are asked for when a flow is wanted: up to twice the nominal one, which is among them.
_ASKED = np.arange(1, 401) / 200.0
# Flow against nominal; the first row is a trickle instead of nothing, for the correlations' sake.
FLOW_SHARES = np.maximum((ROOT_STEP * np.arange(ROWS)) ** 2, 1e-4)[:, None]


@lru_cache(maxsize=64)
def fluid_on_grid(mass_percent):
    """Properties of glycol or water on the tables' temperatures (plates.Fluid)."""
    return plates.fluid(mass_percent, CELSIUS)


def film_table(exchanger, water, rest_w_per_k):
    """Return one side's film, W/K, as a row of the table.

    Args: `exchanger` (plates.Plates), `water` (bool, which side), `rest_w_per_k` (W/K, through both
    standing layers). Returns: float64 array of `lookup.SIZE`. Source: `plates`; a film never passes
    less than the standing layer of its side, which has twice the conductance of both.
    """
    percent, nominal_l_per_min, content_l = exchanger.side(water)
    films = exchanger.area_m2 * plates.film_w_per_m2_k(fluid_on_grid(percent), FLOW_SHARES * nominal_l_per_min, content_l)
    layer = min(2.0 * rest_w_per_k, exchanger.nominal_w_per_k(water))
    # With no standing layers at all: next to nothing, but no division by zero.
    return np.maximum(films, max(layer, 1e-9)).ravel()


def absorber_table(area_m2, tube_m, mass_percent, nominal_l_per_min):
    """Return F' against that at nominal flow and `FLOW_REFERENCE_C`, as a row of the table.

    Args: `area_m2` (m2, above 0), `tube_m` (m, inlet to outlet), `mass_percent` (%),
    `nominal_l_per_min` (L/min). Returns: float64 array of `lookup.SIZE`. Source: `absorber`. At
    rest, the first row, absorber and content are one node without a film: the plant's own figures
    count, and a trickle goes over to them without a jump.
    """
    tubes = absorber.Absorber(area_m2, tube_m)
    glycol = fluid_on_grid(mass_percent)
    factors = absorber.efficiency_factor(absorber.film_and_reynolds(tubes, glycol, FLOW_SHARES * nominal_l_per_min)[0])
    nominal = factors[int(1.0 / ROOT_STEP), list(CELSIUS).index(FLOW_REFERENCE_C)]
    factors[0] = nominal
    return (factors / nominal).ravel()


def flow_table(roof, curve, mass_percent, nominal_l_per_min):
    """Return the pumped flow against nominal, as a row of the table.

    Args: `roof` (loop.Loop), `curve` (pump.PumpCurve), `mass_percent` (%), `nominal_l_per_min`
    (L/min). Returns: float64 array of `lookup.SIZE`; rows are roots of `pumps.drive_share` in the
    place of roots of flow. Source: where pump and loop meet, read backwards from the loop's drop.
    """
    drops = loop.drop_share(roof, fluid_on_grid(mass_percent), _ASKED, nominal_l_per_min)
    left = 1.0 - curve.valve_share
    taken = (left * drops + curve.droop * _ASKED[:, None] ** 2) / (left + curve.droop)
    asked, grid = np.append(0.0, _ASKED), (ROOT_STEP * np.arange(ROWS)) ** 2
    return np.array([np.interp(grid, np.append(0.0, column), asked) for column in taken.T]).T.ravel()
