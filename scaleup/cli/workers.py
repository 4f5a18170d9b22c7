"""Who does the work of many studies: this process, processes of its own, or a cluster."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing.process import BaseProcess
from typing import TYPE_CHECKING, Any

from scaleup.cli.threads import THREADS
from scaleup.errors import Fault, InputError

if TYPE_CHECKING:
    from scaleup.answers.many import Executor

WORKER_LOST = "a worker ended without an answer, perhaps for want of memory"
PATIENCE = 10.0
"""Seconds in which a scheduler must answer."""


@contextmanager
def at_work(workers: int, scheduler: str | None) -> Iterator[Executor | None]:
    """Yield who takes the work, None for this process itself; at the end nobody is left behind.

    Raises
    ------
    InputError
        If there is no client for a cluster, or no scheduler at the address.
    """
    if scheduler is not None:
        with _cluster(scheduler) as client:
            yield client
    elif workers == 1:
        yield None
    else:
        with _processes(workers) as pool:
            yield pool


@contextmanager
def _processes(workers: int) -> Iterator[Executor]:
    """Yield a pool of processes with one thread each; where it is left early, they are ended."""
    os.environ.update(dict.fromkeys(THREADS, "1"))  # a process reads it when numpy is loaded
    before = set(multiprocessing.active_children())
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(workers, mp_context=context, initializer=_begin_worker)
    try:
        _begin(pool, workers)
        yield pool
    except BrokenExecutor as error:
        _end(pool, before)
        raise ArithmeticError(WORKER_LOST) from error
    except BaseException:
        _end(pool, before)
        raise
    pool.shutdown()


def _begin(pool: ProcessPoolExecutor, workers: int) -> None:
    """Start the processes; one that still loads would answer an interruption by a traceback."""
    known = signal.signal(signal.SIGINT, signal.SIG_IGN)  # which they inherit
    try:
        for _ in range(workers):
            pool.submit(int)
    finally:
        signal.signal(signal.SIGINT, known)


def _end(pool: ProcessPoolExecutor, before: set[BaseProcess]) -> None:
    """End the processes of a pool, and give back what they shared."""
    for each in set(multiprocessing.active_children()) - before:
        each.terminate()
    pool.shutdown(cancel_futures=True)


def _begin_worker() -> None:
    """End when the parent is gone."""
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


@contextmanager
def _cluster(address: str) -> Iterator[Executor]:
    """Yield the client of a running cluster; closed, it takes back what nobody waits for."""
    with _client(address) as client:
        from distributed.scheduler import KilledWorker  # noqa: PLC0415

        try:
            yield client
        except KilledWorker as error:
            raise ArithmeticError(WORKER_LOST) from error


def _client(address: str) -> Any:
    """Return a client."""
    try:
        from distributed import Client  # noqa: PLC0415  an extra
    except ImportError:
        mend = "Install it: pip install 'scaleup[cluster]'."
        found = "no client of a cluster"
        raise InputError(Fault("", "--scheduler", found, "the package distributed", mend)) from None
    try:
        return Client(address, timeout=PATIENCE)  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as error:
        told = " ".join(str(error).split())[:200] or type(error).__name__
        allowed = 'the address of a running scheduler, such as "tcp://10.0.0.5:8786"'
        found = f'"{address}" ({told})'
        raise InputError(Fault("", "--scheduler", found, allowed)) from None
