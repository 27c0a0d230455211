"""A cluster of Dask: finding it, seeing that its workers have this program, and joblib's backend for it."""

import logging
import socket
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Future
from contextlib import contextmanager
from importlib.metadata import version
from typing import Any

from distributed import Client, KilledWorker
from distributed.comm.addressing import parse_address, parse_host_port
from joblib._dask import DaskDistributedBackend

from optimise.studies.batch import ClusterError

PROGRAM = "rushlight"
PATIENCE = 10.0
"""Seconds that a scheduler may take to answer."""


@contextmanager
def cluster_at(address: str, wanted: str) -> Iterator[Any]:
    """Yield a client of the cluster at an address, whose workers have this program in the version wanted.

    Raises `ClusterError` where no one answers, where there are no workers, and where they have not.
    """
    for name in ("distributed", "distributed.client"):
        # What matters of it is told by this program, in its own words.
        logging.getLogger(name).setLevel(logging.CRITICAL)
    nobody = f'no cluster answers at "{address}"; an address is tcp://HOST:PORT'
    if "://" in address and not address.startswith(("tcp://", "tls://")):
        raise ClusterError(nobody)
    try:
        # A client that finds no one would say so many seconds later, and more than once.
        socket.create_connection(parse_host_port(parse_address(address)[1]), PATIENCE).close()
        client = Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError, OverflowError) as error:
        raise ClusterError(nobody) from error
    with client:
        _check(client, address, wanted)
        yield client


def _check(client: Any, address: str, wanted: str) -> None:
    found = client.run(version, PROGRAM, on_error="return")
    if not found:
        raise ClusterError(f"the cluster at {address} has no workers")
    for worker, told in sorted(found.items()):
        if told != wanted:
            has = "does not have it" if isinstance(told, Exception) else f"has {told}"
            raise ClusterError(f"every worker needs {PROGRAM} {wanted}; the one at {worker} {has}")


class Backend(DaskDistributedBackend):  # type: ignore[misc]  # the library is not typed
    """Joblib's backend for Dask, which also hears of a case that ended its workers; else it would wait for ever."""

    def effective_n_jobs(self, n_jobs: int) -> int:
        """Return how many cases run at once, but two at least: joblib would do a single one in this process."""
        return max(2, int(super().effective_n_jobs(n_jobs)))

    def submit(self, func: Any, callback: Any = None) -> Any:
        """Submit a batch; `callback` is called with the future where there is no result."""
        future: Future[Any] = super().submit(func, callback)
        if callback is not None:
            future.add_done_callback(lambda ended: None if ended.exception() is None else callback(ended))
        return future

    def retrieve_result_callback(self, out: Any) -> Any:
        """Return the results of a batch. Raises BrokenExecutor where its workers died, else `ClusterError`."""
        if isinstance(out, Future):
            error = out.exception()
            if isinstance(error, KilledWorker):
                raise BrokenExecutor(str(error)) from error
            raise ClusterError(f"the cluster gave no answer ({type(error).__name__})") from error
        try:
            return super().retrieve_result_callback(out)
        except CancelledError as error:
            raise ClusterError("the cluster was lost") from error
