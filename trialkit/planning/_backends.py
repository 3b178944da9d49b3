"""Where many pieces of work run: here, in processes, or on a cluster."""

from contextlib import contextmanager, nullcontext

NAMES = ("loky", "threading", "dask", "ray")


@contextmanager
def backend_named(name, n_jobs):
    """A function that runs one task after another on the backend, results in order.

    Parameters
    ----------
    name : str or None
        One of `NAMES`; None for processes on this machine, or none when n_jobs is 1.
    n_jobs : int
        How many at once; -1 for all. A cluster decides for itself.

    Yields
    ------
    callable
        ``run(function, tasks)`` with a list of argument tuples gives results in their order.
    """
    if name is not None and name not in NAMES:
        raise ValueError(f"backend must be one of {', '.join(NAMES)}; got {name!r}.")
    if name is None and n_jobs == 1:
        yield lambda function, tasks: (function(*task) for task in tasks)
        return
    from joblib import Parallel, delayed, parallel_config

    jobs = -1 if name in ("dask", "ray") else n_jobs
    with _cluster(name), parallel_config(backend=name or "loky", n_jobs=jobs):

        def run(function, tasks):
            return Parallel(return_as="generator")(delayed(function)(*task) for task in tasks)

        yield run


def _cluster(name):
    if name == "dask":
        return _dask_client()
    if name == "ray":
        _register_ray()
    return nullcontext()


def _dask_client():
    """The client of a running cluster: the current one, or that of Dask's own settings."""
    try:
        from distributed import Client, get_client
    except ImportError as error:
        raise ValueError("backend dask needs the package distributed.") from error
    try:
        return nullcontext(get_client())
    except ValueError:
        return Client()


def _register_ray():
    try:
        from ray.util.joblib import register_ray
    except ImportError as error:
        raise ValueError("backend ray needs the package ray.") from error
    register_ray()
