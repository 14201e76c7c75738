"""Many runs at once: the same function on many items, on as many processes as the caller wants, results in the order of the items.

joblib does the work, so a caller may put the same call on a cluster that joblib knows: wrap it in `joblib.parallel_config`, for
example with `backend="dask"` after a `distributed.Client` was made (the extra `cluster`). The result never depends on how many work
on it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

WORKERS_TOP = 256


def check_workers(workers: int) -> None:
    """A number of workers that can be had, or ValueError that says so."""
    if not 1 <= workers <= WORKERS_TOP:
        raise ValueError(f"--workers {workers}: allowed 1 to {WORKERS_TOP}")


def each(function: Callable, items: Iterable[tuple], workers: int = 1) -> Iterator:
    """Yield `function(*item)` for every item, in order.

    Args: `function` (importable, so that other processes find it), `items` (tuples of arguments), `workers` (processes; 1 stays in
    this one unless a joblib configuration says otherwise). Errors: what the function raises.
    """
    from joblib import Parallel, delayed
    from joblib.parallel import LokyBackend, get_active_backend

    here = isinstance(get_active_backend()[0], LokyBackend)
    if here and workers == 1:
        return (function(*item) for item in items)
    pool = Parallel(n_jobs=workers, return_as="generator") if here else Parallel(return_as="generator")
    return pool(delayed(function)(*item) for item in items)
