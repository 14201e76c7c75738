"""Plant and firmware in lock step, interpreted or through numba."""
