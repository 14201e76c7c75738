"""The collector's efficiency factor F': how much of the absorbed heat the tubes' film lets through.

ISO 9806 gives eta0, a1 and a2 with F' in them, at the flow of the test. Another flow changes the
film in the tubes, F', and with it all three in one proportion: gain and loss fall alike, and the
stagnation temperature stays.

Absorber (common practice): copper sheet 0.2 mm thick on tubes with 8 mm bore, 115 mm apart, which
hold 0.44 L/m2. A harp's tubes are 2 m long and stand side by side; a meander is one tube to a
collector of 2 m2, 17 m. The reference is the plant's own flow, so that no figure moves at that one.
"""

from dataclasses import dataclass

import numpy as np

from .films import tube_nusselt

BORE_M = 0.008
SPACING_M = 0.115
WALL_M = 0.0005
# Copper, 390 W/m K (handbook), 0.2 mm.
SHEET_W_PER_K = 390.0 * 0.0002
# Tube to sheet, ultrasonic or laser seam (common practice: far above the film's).
SEAM_W_PER_M_K = 100.0
HARP_M = 2.0
MEANDER_M = 2.0 / SPACING_M
# Loss of the sheet, for the fin's efficiency only: a1 and a2 of the default plant at 40 K.
LOSS_W_PER_M2_K = 4.1


@dataclass(frozen=True)
class Absorber:
    """Collectors of `area_m2` together, whose tubes are `tube_m` long from inlet to outlet."""

    area_m2: float
    tube_m: float

    @property
    def ways(self):
        """How many tubes share the flow."""
        return self.area_m2 / SPACING_M / self.tube_m


def film_and_reynolds(absorber, fluid, flow_l_per_min):
    """Return the film in the tubes, W/m2 K, and its Reynolds number, over the fluid's grid.

    Args: `absorber`, `fluid` (plates.Fluid), `flow_l_per_min` (L/min, above 0; number or column).
    Source: films.tube_nusselt.
    """
    speed_m_per_s = flow_l_per_min / 60000.0 / absorber.ways / (np.pi / 4.0 * BORE_M**2)
    reynolds = fluid.density * speed_m_per_s * BORE_M / fluid.viscosity
    nusselt = tube_nusselt(reynolds, fluid.prandtl, absorber.tube_m / BORE_M)
    return nusselt * fluid.conductivity / BORE_M, reynolds


def efficiency_factor(film_w_per_m2_k, loss_w_per_m2_k=LOSS_W_PER_M2_K):
    """Return F' (1) of sheet and tube.

    Args: `film_w_per_m2_k` (W/m2 K, on the tube's bore; number or array), `loss_w_per_m2_k`.
    Source: Hottel and Whillier, Duffie and Beckman eq. 6.5.18 (from memory).
    """
    outer_m = BORE_M + 2.0 * WALL_M
    span = np.sqrt(loss_w_per_m2_k / SHEET_W_PER_K) * (SPACING_M - outer_m) / 2.0
    fin = np.tanh(span) / span
    sheet = 1.0 / (loss_w_per_m2_k * (outer_m + (SPACING_M - outer_m) * fin))
    ways = sheet + 1.0 / SEAM_W_PER_M_K + 1.0 / (np.pi * BORE_M * film_w_per_m2_k)
    return 1.0 / (loss_w_per_m2_k * SPACING_M * ways)
