"""Every protection, in each duty and topology, without each sensor: it does what the tables say."""

import pytest

from . import hazards, matrix, table

SHOWN = 5
PLACES = matrix.places()
EVERY_LOSS = [(lost, topology) for lost, loss in table.LOSSES.items() for topology in loss.topologies]


@pytest.fixture(scope="session")
def stations(shipped):
    """The matrix of the shipped core."""
    return matrix.Matrix(shipped)


def mismatches(call, combinations):
    """What differs from the tables, the first few."""
    found = []
    for combination in combinations:
        try:
            call(*combination)
        except matrix.MismatchError as fault:
            found.append(str(fault))
            if len(found) == SHOWN:
                break
    return found


@pytest.mark.parametrize(("lost", "topology"), EVERY_LOSS)
def test_every_duty_is_reached_without_the_sensor_or_left_as_the_table_says(stations, topology, lost):
    combinations = [(place,) for place in PLACES if (place.topology, place.lost) == (topology, lost)]
    assert len(combinations) >= len(table.SITUATIONS) - 5
    assert mismatches(stations.reach, combinations) == []


@pytest.mark.parametrize("lost", [lost for lost, loss in table.LOSSES.items() if loss.sensors and not loss.settings])
def test_a_lost_sensor_closes_the_alarm_contact_wherever_the_station_is(stations, lost):
    assert mismatches(stations.lost_alarm, [(place,) for place in PLACES if place.lost == lost]) == []


@pytest.mark.parametrize("lost", [lost for lost, loss in table.LOSSES.items() if loss.settings or lost == table.BESIDE_AIR])
def test_nobody_misses_a_sensor_that_is_not_fitted(stations, lost):
    assert mismatches(stations.no_alarm, [(place,) for place in PLACES if place.lost == lost]) == []


@pytest.mark.parametrize("topology", table.TOPOLOGIES)
@pytest.mark.parametrize("hazard", hazards.HAZARDS, ids=lambda hazard: hazard.name)
def test_what_comes_is_met_everywhere(stations, hazard, topology):
    combinations = [(place, hazard) for place in PLACES if place.topology == topology and matrix.applies(place, hazard)]
    assert bool(combinations) == (topology in hazard.topologies)
    assert mismatches(stations.try_hazard, combinations) == []
