"""Plant and firmware in lock step, interpreted or compiled by numba."""
