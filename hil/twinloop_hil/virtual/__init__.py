"""The virtual board: MicroPython in a process of its own, with simulated chips."""
