"""Outputs safe first: before any import that could fail, with nothing but pin numbers. `twinloop board flash` fills them in."""

from machine import Pin

# Pin and energising level of each relay, from the board's data.
RELAYS = ()

for number, active in RELAYS:
    Pin(number, Pin.OUT, value=1 - active)
