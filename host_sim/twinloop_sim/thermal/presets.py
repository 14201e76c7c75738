"""Generic collectors for a builder without a data sheet: common practice, no product."""

from __future__ import annotations

from difflib import get_close_matches

# ISO 9806 coefficients on gross area and mean fluid temperature (common practice). Data sheet
# coefficients for the aperture area give too much heat on gross area. An evacuated tube's incidence
# modifier acts across its length; the flat-plate form can only take a mean (common practice). Its
# mass is that of a heat pipe or U-tube with little content.
COLLECTORS = {
    "flat-plate": {
        "collector_eta0": 0.78,
        "collector_a1_w_per_m2_k": 3.5,
        "collector_a2_w_per_m2_k2": 0.015,
        "collector_b0": 0.10,
        "collector_heat_j_per_m2_k": 9000.0,
        "collector_sky_w_per_m2_k": 0.7,
    },
    "flat-plate-unselective": {
        "collector_eta0": 0.75,
        "collector_a1_w_per_m2_k": 5.5,
        "collector_a2_w_per_m2_k2": 0.020,
        "collector_b0": 0.10,
        "collector_heat_j_per_m2_k": 9000.0,
        "collector_sky_w_per_m2_k": 1.1,
    },
    "evacuated-tube": {
        "collector_eta0": 0.65,
        "collector_a1_w_per_m2_k": 1.5,
        "collector_a2_w_per_m2_k2": 0.006,
        "collector_b0": 0.0,
        "collector_heat_j_per_m2_k": 6000.0,
        "collector_sky_w_per_m2_k": 0.2,
    },
}


def collector(name, where="collector"):
    """Return the plant values of a generic collector.

    Args: `name` (one of `COLLECTORS`), `where` (text that begins an error). Returns: dict of plant
    value to number, for parameters.plant_values. Raises: ValueError with one line that names what
    is allowed. Source: common practice.
    """
    if type(name) is not str or name not in COLLECTORS:
        close = get_close_matches(str(name), COLLECTORS, n=1)
        hint = f" (did you mean {close[0]}?)" if close else ""
        raise ValueError(f"{where} = {name}: allowed {', '.join(COLLECTORS)}{hint}")
    return dict(COLLECTORS[name])
