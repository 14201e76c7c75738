"""Harms that only a storm judges: they need many days, or another life to compare with.

`outcome.beside` has three of them: `reference()`, the rows of a rule that knows the true state of
the same faulty plant, `sound_life()`, those of the same station to which nothing happens, and
`blameless()`, those of the station to which only people and supply do what they do.
"""

from __future__ import annotations

from . import avoidable_boiling, carried_out, idle_sun, relay_operations, silence

ALL = (avoidable_boiling, carried_out, relay_operations, silence, idle_sun)
