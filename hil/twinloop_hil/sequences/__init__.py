"""The relay-truth sequences: one or more per interlock, as plain data, and their machine.

The tests run them on the control core, on CPython and MicroPython, intact and with each protection
removed. The bench runs them on a whole board through the link.
"""
