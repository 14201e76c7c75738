"""An absence with `away` is never worse than one without it, whatever the radiator can do."""

import pytest
from twinloop.control import latches
from twinloop_sim.measure.away import fortnight, tank


@pytest.mark.parametrize("radiator", ["good", "weak"])
def test_beside_a_radiator_that_works_it_changes_nothing(radiator):
    """No hour of boiling, no hour of a pump, no start."""
    off, away = fortnight("bypass", radiator, "away=no"), fortnight("bypass", radiator, "away=yes")
    assert off == away
    assert off["boiling_h"] == 0.0 and off["collector_pump_h"] > 20.0


@pytest.mark.parametrize(("topology", "radiator"), [("bypass", "dead"), ("series", "dead"), ("none", "")])
def test_without_a_radiator_that_works_it_halves_the_boiling(topology, radiator):
    """The price is pump hours at night; the tank never gets hotter, nor nearly cold."""
    off, away = fortnight(topology, radiator, "away=no"), fortnight(topology, radiator, "away=yes")
    assert off["boiling_h"] > 20.0
    assert away["boiling_h"] < 0.55 * off["boiling_h"]
    assert away["cooling_h"] > 50.0 and off["cooling_h"] == 0.0
    assert away["tank_c"] < off["tank_c"] + 0.5


def test_a_low_tank_limit_boils_no_longer_for_it():
    """The tank keeps its limits on an absence, so that the first day is no worse than at home."""
    off, away = (fortnight("bypass", "dead", *tank(60), f"away={away}", "away_limit=35C") for away in ("no", "yes"))
    assert away["boiling_h"] < off["boiling_h"]


def test_what_it_remembers_outlasts_a_cloudy_day():
    assert 86400 < latches.HELPLESS_S <= 3 * 86400
