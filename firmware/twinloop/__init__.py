"""Twinloop's firmware: the same files on a board, on a laptop and in the simulation."""

VERSION = "0.1.0"
