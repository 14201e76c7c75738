"""Pure decisions: integers in, integers out.

Functions take the arrays `(state, settings, inputs)`, or some of them, and at most a few integers.
They touch no clock, no pin and no heap.
"""
