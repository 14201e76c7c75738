"""The `board`, `wiring` and `doctor` commands."""
