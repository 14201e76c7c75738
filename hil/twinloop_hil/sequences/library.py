"""All sequences, for the bench and the tests."""

from . import arrival, away, charging, cold_slug, collector, frost, lies, outputs, restart, tank, upkeep

PARTS = (charging, tank, collector, outputs, cold_slug, arrival, restart, frost, away, upkeep, lies)

SEQUENCES = [sequence for part in PARTS for sequence in part.SEQUENCES]
