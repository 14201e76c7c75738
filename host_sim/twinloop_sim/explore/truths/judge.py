"""All truths together: remember, judge, keep."""

from . import air, outputs, ranges, reasons
from .glycol import remember_loop
from .memory import keep, remember

TOPICS = (*reasons.ROW_TOPICS, outputs, air, reasons, ranges)
# In the order of the bits of `broken`.
TRUTHS = tuple(truth for topic in TOPICS for truth in topic.TRUTHS)


def judged(m, state, settings, inputs):
    """Which truths are broken, as bits; core.py puts all truths compiled into one in its place."""
    bits = 0
    for index in range(len(TRUTHS)):
        if TRUTHS[index](m, state, settings, inputs):
            bits |= 1 << index
    return bits


def broken(m, state, settings, inputs):
    """Which truths this step broke, as bits in the order of TRUTHS; carries the memory on."""
    remember(m, state, settings, inputs)
    remember_loop(m, state, settings, inputs)
    bits = judged(m, state, settings, inputs)
    keep(m, state, inputs)
    return bits


def names_of(bits):
    """Names of the truths in a bit set."""
    return [truth.__name__ for index, truth in enumerate(TRUTHS) if int(bits) >> index & 1]
