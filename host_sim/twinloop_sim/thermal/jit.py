"""The one way in which functions of the thermal model are compiled."""

import numba

# A division by zero gives an infinity as in numpy; Python's check for it would cost a branch at each division.
# Compile caching belongs to the engine, which knows all files that a cached result depends on.
kernel = numba.njit(error_model="numpy")
