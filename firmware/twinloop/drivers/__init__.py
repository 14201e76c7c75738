"""Sensor chips, relays, a light and a display, one file each. Pins and clocks are handed in."""
