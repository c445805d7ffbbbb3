"""Hands out work to processes of this machine or of a cluster, and outlives those that die."""

from __future__ import annotations

import os
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, CancelledError, Future, wait
from contextlib import contextmanager, suppress
from typing import Any, Protocol, TypeVar

from turncheck.errors import Fault, TurncheckError

_Job = TypeVar("_Job")
_Result = TypeVar("_Result")

#: Jobs given out for each worker, one at work and what it goes on with; common practice, no source.
_AHEAD = 3
#: So long a cluster may take to answer, s; common practice, no source.
_PATIENCE = 20
#: How often a process looks whether its parent is still there, s; common practice, no source.
_LOOKS_EVERY = 1
#: Each worker has one core, and small matrices gain nothing by more.
_ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}


class Pool(Protocol):
    """Workers, as many as `size`."""

    size: int

    def submit(self, call: Callable[..., Any], /, *given: Any) -> Future[Any]:
        """Hand out a call."""

    def renew(self) -> None:
        """Start again after a worker died, if that has ended all of them."""


class _Processes:
    """Processes of this machine, started when there is work."""

    def __init__(self, size: int) -> None:
        self.size = size
        self._started: Any = None

    def submit(self, call: Callable[..., Any], /, *given: Any) -> Future[Any]:
        if self._started is None:
            from joblib.externals.loky import ProcessPoolExecutor

            self._started = ProcessPoolExecutor(
                self.size,
                initializer=_end_with_the_parent,
                env=_ONE_THREAD,
            )
        done: Future[Any] = self._started.submit(call, *given)
        return done

    def renew(self) -> None:
        self.end()

    def end(self, *, at_once: bool = True) -> None:
        if self._started is not None:
            self._started.shutdown(wait=True, kill_workers=at_once)
            self._started = None


def _end_with_the_parent() -> None:
    """End a worker whose parent was killed; Ctrl-C, which all processes get, ends that alone."""
    import signal
    import threading

    parent = os.getppid()

    def look() -> None:
        while os.getppid() == parent:
            time.sleep(_LOOKS_EVERY)
        os._exit(1)

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=look, daemon=True).start()


class _Cluster:
    """Workers of a Dask cluster, which sees itself to those that die."""

    def __init__(self, client: Any) -> None:
        self.size = max(sum(client.nthreads().values()), 1)
        self._executor = client.get_executor(pure=False)

    def submit(self, call: Callable[..., Any], /, *given: Any) -> Future[Any]:
        done: Future[Any] = self._executor.submit(call, *given)
        return done

    def renew(self) -> None:
        pass


@contextmanager
def on_this_machine(size: int) -> Iterator[Pool]:
    """Give so many processes of this machine; 0 for one a core."""
    if not size:
        from joblib import cpu_count

        size = cpu_count()
    pool = _Processes(size)
    try:
        yield pool
    except BaseException:
        pool.end()
        raise
    pool.end(at_once=False)


@contextmanager
def on_cluster(address: str) -> Iterator[Pool]:
    """Give the workers of the Dask cluster whose scheduler is at an address.

    Raises
    ------
    TurncheckError
        If Dask is not installed, or no scheduler answers there.
    """
    try:
        from distributed import Client
    except ImportError as error:
        says = 'needs Dask, which is not installed; run: pip install "turncheck[cluster]"'
        raise TurncheckError(Fault(says, "--cluster")) from error
    try:
        client = Client(address, timeout=_PATIENCE, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        says = f"no Dask scheduler answers at {address}; start one, or check its address"
        raise TurncheckError(Fault(says, "--cluster")) from error
    with client:
        yield _Cluster(client)


def each(
    call: Callable[[_Job], _Result], jobs: Iterable[_Job], pool: Pool
) -> Iterator[tuple[_Job, _Result | BaseException]]:
    """Yield each job with what a call gave for it, in the order in which they end.

    Or with the error that ended it. Jobs are asked for one by one while workers are at work, since
    that may take time. Where a worker dies that takes all others with it, those that were at work
    are given out again one by one, until the one that killed it is known.
    """
    coming, waiting, alone = iter(jobs), deque[_Job](), deque[_Job]()
    at_work: dict[Future[_Result], _Job] = {}
    more = True
    while more or waiting or alone or at_work:
        if more and not alone:
            job = next(coming, None)
            more = job is not None
            waiting += [] if job is None else [job]
        queue, most = (alone, 1) if alone else (waiting, _AHEAD * pool.size)
        broken = False
        while queue and len(at_work) < most and not broken:
            job = queue.popleft()
            try:
                at_work[pool.submit(call, job)] = job
            except BrokenExecutor:
                queue.appendleft(job)
                broken = True
        at_once = more and not alone
        ended, _ = wait(at_work, 0 if at_once else None, return_when=FIRST_COMPLETED)
        died = []
        for future in ended:
            job = at_work.pop(future)
            error = _error_of(future)
            if isinstance(error, BrokenExecutor):
                broken = True
                died.append((job, error))
            else:
                yield job, error or future.result()
        if broken:
            if queue is alone and died:  # it was at work by itself
                yield died.pop()
            alone.extend(job for job, _ in died)
            alone.extend(at_work.values())
            at_work.clear()
            pool.renew()


def _error_of(future: Future[Any]) -> BaseException | None:
    with suppress(CancelledError):
        return future.exception()
    return CancelledError("the workers are gone")
