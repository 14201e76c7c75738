"""Bare rows in compiled code give the same numbers as arrays; a wrong array is refused."""

import numba
import numpy as np
import pytest
from numba.core.errors import TypingError
from twinloop_sim.engine.bare import bare


def turn(state, settings, flux):
    """Reads, writes and arithmetic as in core and plant."""
    for index in range(4):
        state[index] += settings[3 - index] * 3
    state[1] //= 7
    state[2] |= 1 << 30
    # As in any 32-bit row, higher bits are cut off.
    state[3] = settings[0] * 5
    flux[0] += state[0] / 7
    flux[1] = settings[1]


def arrays():
    return (
        np.array([1, -200, 3, 4], dtype=np.int32),
        np.array([2**30 + 7, 5, -6, 7], dtype=np.int32),
        np.array([0.5, 0.0]),
    )


def test_the_same_numbers_as_with_arrays():
    compiled = numba.njit(turn)

    @numba.njit
    def on_bare(state, settings, flux):
        compiled(bare(state, "state"), bare(settings, "settings"), bare(bare(flux, "flux"), "flux"))

    plain, rows = arrays(), arrays()
    compiled(*plain)
    on_bare(*rows)
    for left, right in zip(plain, rows, strict=True):
        assert np.array_equal(left, right)
    assert not np.array_equal(rows[0], arrays()[0])


def test_interpreted_it_is_the_array_itself():
    state = arrays()[0]
    assert bare(state, "state") is state


@pytest.mark.parametrize(
    ("array", "role", "first"),
    [
        (np.zeros(4), "state", lambda array: bare(array, "state")[0]),
        (np.zeros(4, dtype=np.int64), "state", lambda array: bare(array, "state")[0]),
        (np.zeros(8, dtype=np.int32)[::2], "state", lambda array: bare(array, "state")[0]),
        (np.zeros((2, 2)), "plant", lambda array: bare(array, "plant")[0]),
        (np.zeros(4, dtype=np.int32), "plant", lambda array: bare(array, "plant")[0]),
    ],
)
def test_what_is_no_contiguous_row_of_the_roles_kind_is_refused(array, role, first):
    """Read by its address, a wrong type or layout would give wrong numbers."""
    with pytest.raises(TypingError, match=f"{role}: .*allowed a contiguous row of"):
        numba.njit(first)(array)
