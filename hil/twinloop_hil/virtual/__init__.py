"""The virtual board: MicroPython in its own process, with simulated chips."""
