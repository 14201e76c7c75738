"""Years of random weather, plants, settings and faults."""
