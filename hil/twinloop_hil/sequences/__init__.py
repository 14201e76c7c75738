"""The relay-truth sequences: one or more an interlock, as plain data, and the machine that runs them.

The tests run them on the control core itself, on CPython and on MicroPython, whole and with each protection taken away; the bench
runs them through the link of a whole board.
"""
