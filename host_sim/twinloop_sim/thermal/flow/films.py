"""Heat transfer and friction in tubes and between chevron plates, by correlations of others.

All take and return floats or numpy arrays. Reynolds and Nusselt numbers count on the hydraulic
diameter, friction factors are Darcy's.
"""

import numpy as np

# Flow in a round tube is laminar below the first and turbulent above the second; between them both
# figures go over on a straight line. Source: Gnielinski, Int. J. Heat Mass Transfer 63 (2013)
# 134-140 (from memory).
LAMINAR_TO = 2300.0
TURBULENT_FROM = 4000.0


def _between(reynolds, laminar, turbulent):
    # `laminar` and `turbulent` are functions; each is asked inside its own range only.
    share = np.clip((reynolds - LAMINAR_TO) / (TURBULENT_FROM - LAMINAR_TO), 0.0, 1.0)
    low = laminar(np.minimum(reynolds, LAMINAR_TO))
    return (1.0 - share) * low + share * turbulent(np.maximum(reynolds, TURBULENT_FROM))


def tube_friction(reynolds):
    """Return Darcy's friction factor of a smooth round tube.

    Args: `reynolds` (1, above 0). Returns: 1. Source: Hagen-Poiseuille 64/Re; Blasius 0.3164
    Re^-0.25 (both handbook). Drawn copper counts as smooth.
    """
    return _between(reynolds, lambda re: 64.0 / re, lambda re: 0.3164 * re**-0.25)


def tube_nusselt(reynolds, prandtl, bores_long):
    """Return the mean Nusselt number of a round tube, thermal entry included.

    Args: `reynolds` (1, above 0), `prandtl` (1), `bores_long` (1, length over bore). Returns: 1.
    Source: laminar at constant wall temperature and turbulent after Gnielinski, VDI Heat Atlas G1
    (from memory).
    """

    def laminar(re):
        entry = 1.615 * (re * prandtl / bores_long) ** (1.0 / 3.0)
        return (3.66**3 + 0.7**3 + np.maximum(entry - 0.7, 0.0) ** 3) ** (1.0 / 3.0)

    def turbulent(re):
        eighth = (1.8 * np.log10(re) - 1.5) ** -2 / 8.0
        plain = eighth * (re - 1000.0) * prandtl / (1.0 + 12.7 * np.sqrt(eighth) * (prandtl ** (2.0 / 3.0) - 1.0))
        return plain * (1.0 + bores_long ** (-2.0 / 3.0))

    return _between(reynolds, laminar, turbulent)


def plate_friction(reynolds, chevron_deg):
    """Return Darcy's friction factor of a channel between chevron plates.

    Args: `reynolds` (1, above 0), `chevron_deg` (deg, corrugation against the flow, 0 to 80).
    Returns: 1, on the straight way from port to port. Source: Martin, Chem. Eng. Process. 35 (1996)
    301-310, in the form of `ht` and `fluids`; below Re 2000 its laminar branch.
    """
    angle = np.radians(chevron_deg)
    laminar = np.asarray(reynolds) < 2000.0
    turbulent_re = np.where(laminar, 2000.0, reynolds)
    f0 = np.where(laminar, 16.0 / reynolds, (1.56 * np.log(turbulent_re) - 3.0) ** -2)
    f1 = np.where(laminar, 149.0 / reynolds + 0.9625, 9.75 * turbulent_re**-0.289)
    along = np.cos(angle) / np.sqrt(0.045 * np.tan(angle) + 0.09 * np.sin(angle) + f0 / np.cos(angle))
    across = (1.0 - np.cos(angle)) / np.sqrt(3.8 * f1)
    return 4.0 / (along + across) ** 2


def plate_nusselt(reynolds, prandtl, chevron_deg):
    """Return the Nusselt number of a channel between chevron plates.

    Args: as `plate_friction`, `prandtl` (1). Returns: 1. Source: Martin 1996, fitted for Re 200 to
    10000: heat transfer follows from friction (Leveque). A small solar exchanger runs at 50 to 400:
    below 200 this continues it. The wall's own viscosity is left out (the 6th root of a ratio near
    1).
    """
    friction = plate_friction(reynolds, chevron_deg)
    leveque = friction * reynolds**2 * np.sin(np.radians(2.0 * chevron_deg))
    return 0.122 * prandtl ** (1.0 / 3.0) * leveque**0.374
