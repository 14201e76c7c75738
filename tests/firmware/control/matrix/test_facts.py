"""A fact of the core hangs on what its table says, and on nothing else."""

import pytest

from . import changes, hazards, matrix, steps

SHOWN = 5


@pytest.fixture(scope="session")
def facts_of(shipped):
    """The facts of the shipped core."""
    return changes.Facts(shipped)


@pytest.fixture(scope="session")
def stations(shipped):
    """The matrix of the shipped core."""
    return matrix.Matrix(shipped)


def test_no_fact_hangs_on_anything_else_wherever_the_station_is(stations, facts_of):
    assert steps.in_places(stations, facts_of)[:SHOWN] == []


def test_no_fact_hangs_on_anything_else_when_it_changes(stations, facts_of):
    watcher = steps.in_steps(stations, facts_of, hazards.HAZARDS)
    assert watcher.found[:SHOWN] == []
    assert len(watcher.seen) > 200


def test_no_fact_hangs_on_anything_else_while_a_sensor_flickers(stations, facts_of):
    assert steps.in_flickers(stations, facts_of)[:SHOWN] == []
