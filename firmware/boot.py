"""Outputs safe first: before any import that could fail, with nothing but the board's pins."""

import board
from machine import Pin

for number, active in board.RELAYS:
    Pin(number, Pin.OUT, value=1 - active)
