"""Twinloop's firmware: the same files run on a board, in MicroPython on a laptop, and in the simulation."""

VERSION = "0.1.0"
