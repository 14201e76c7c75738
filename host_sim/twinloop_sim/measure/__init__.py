"""`make bench`: every figure of speed, size and memory."""
