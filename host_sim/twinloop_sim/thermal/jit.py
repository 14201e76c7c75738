"""How functions of the thermal model are compiled."""

import numba

# Division by zero gives an infinity as in numpy; Python's check would cost a branch each time.
# No C code calls these functions: without C wrappers they compile faster.
# The engine does the caching, because it knows all files that a cached result depends on.
# SLP puts similar sums, such as the eight sensor lags, side by side into one instruction: a seventh
# of a year's run time, with the same rounding.
numba.config.SLP_VECTORIZE = 1
# Small functions cost less inside their callers: a third of a year's run time.
kernel = numba.njit(error_model="numpy", no_cfunc_wrapper=True, forceinline=True)
