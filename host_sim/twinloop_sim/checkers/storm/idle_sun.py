"""A station under a fault goes on collecting heat where the fault does not forbid it."""

from .. import missed_sun

NAME = "idle_sun"
TEXT = "the collector was warm and the tank had room, but a fault that forbids nothing kept the collector pump off"
# Two retries of what was given up, and the evidence for each.
PATIENCE_S = 5400


def check(outcome):
    """As missed_sun, with more patience, while nothing but harmless faults act."""
    return missed_sun.find(outcome, NAME, PATIENCE_S)
