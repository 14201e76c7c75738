"""The one way in which functions of the thermal model are compiled."""

import numba

# A division by zero gives an infinity as in numpy; Python's check for it would cost a branch at each division.
# No C code calls these functions: without wrappers for it they compile sooner.
# Compile caching belongs to the engine, which knows all files that a cached result depends on.
# Rows of like sums, such as eight sensors that follow their places, go side by side through one instruction: a seventh of a year's
# time, in the same order of rounding.
numba.config.SLP_VECTORIZE = 1
kernel = numba.njit(error_model="numpy", no_cfunc_wrapper=True)
