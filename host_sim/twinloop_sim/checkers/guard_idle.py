"""The guard never has to act: each time is a defect of the rules."""

from twinloop.control import state as s

NAME = "guard_idle"
TEXT = "the guard had to stop a command"


def check(outcome):
    """On the guard's own count."""
    actions = int(outcome.state[s.GUARD_ACTIONS])
    if actions == 0:
        return None
    return {"at_s": 0.0, "measured": actions, "limit": 0, "unit": "actions"}
