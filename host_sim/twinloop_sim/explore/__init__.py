"""The walk of the control core's reachable states."""
