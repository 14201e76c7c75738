"""Pure decisions: integers in, integers out.

Every function takes the arrays `(state, settings, inputs)` and nothing else, touches no clock, no pin and no heap. Loops over
sensors or outputs add one index.
"""
