"""All sequences, for the bench and the tests."""

from . import (
    air,
    apart,
    arrival,
    away,
    charging,
    chatter,
    cold_slug,
    collector,
    frost,
    hot_hands,
    lies,
    outputs,
    pulses,
    restart,
    series,
    tank,
    upkeep,
)

PARTS = (
    *(charging, chatter, pulses, tank, collector, outputs, cold_slug, arrival, apart, restart, frost),
    *(away, upkeep, hot_hands, lies, series, air),
)


def sequences_of(part):
    """The sequences that a part defines, alone or in lists, in the order of their definition."""
    values = [value for module in getattr(part, "MODULES", (part,)) for value in vars(module).values()]
    rows = [row for value in values for row in (value if isinstance(value, list) else [value])]
    return [row for row in rows if isinstance(row, dict) and "script" in row]


SEQUENCES = [sequence for part in PARTS for sequence in sequences_of(part)]
