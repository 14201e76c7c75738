"""Outputs safe first, before anything can fail, with nothing but pin numbers.

`twinloop board flash` fills them in.
"""

from machine import Pin

# Pin and energising level of each relay, from the board's data.
RELAYS = ()

for row in RELAYS:
    Pin(row[0], Pin.OUT, value=1 - row[1])
