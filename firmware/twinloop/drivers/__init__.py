"""Sensor chips, relays and a display, one file each. Pins and clocks are handed in."""
