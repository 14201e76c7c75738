"""Many runs in parallel: one function over many items, with results in the order of the items.

joblib does the work, so the same call also runs on a cluster: wrap it in `joblib.parallel_config`,
for example with `backend="dask"` after creating a `distributed.Client` (extra `cluster`). The
result never depends on the number of workers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

WORKERS_TOP = 256


def check_workers(workers: int) -> None:
    """Raise ValueError unless this number of workers is allowed."""
    if not 1 <= workers <= WORKERS_TOP:
        raise ValueError(f"--workers {workers}: allowed 1 to {WORKERS_TOP}")


def each(function: Callable, items: Iterable[tuple], workers: int = 1) -> Iterator:
    """Yield `function(*item)` for every item, in order.

    The function must be importable. With one worker everything runs here, unless joblib is
    configured otherwise.
    """
    from joblib import Parallel, delayed
    from joblib.parallel import LokyBackend, get_active_backend

    here = isinstance(get_active_backend()[0], LokyBackend)
    if here and workers == 1:
        return (function(*item) for item in items)
    pool = Parallel(n_jobs=workers, return_as="generator") if here else Parallel(return_as="generator")
    return pool(delayed(function)(*item) for item in items)
