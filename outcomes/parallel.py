"""Run functions of modules in two further processes, with plain data in and out."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from importlib import import_module
from multiprocessing import connection, get_context, parent_process
from typing import Any, ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


class OneByOne(Executor):
    """Does at once, and here, whatever is asked; a failure is raised where it was asked."""

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Do it, and give a promise that is already kept."""
        kept: Future[T] = Future()
        kept.set_result(fn(*args, **kwargs))
        return kept


@contextmanager
def processors(*needed: str) -> Iterator[Executor]:
    """Two further processes, or this one alone where the computer has one processor; they end with the block.

    They import the modules `needed` while this process does something else, so that they are ready when work comes.
    When the block ends by a failure, what was not begun is dropped.
    """
    if (os.cpu_count() or 1) == 1:
        yield OneByOne()
        return
    pool = ProcessPoolExecutor(2, mp_context=get_context("spawn"), initializer=_begin, initargs=needed)
    try:
        pool.submit(os.getpid)  # starts the processes
        yield pool
    except BaseException:
        pool.shutdown(cancel_futures=True)
        raise
    pool.shutdown()


def _begin(*needed: str) -> None:
    """Leave the stop key to the process that asked, end when that one ends, and import what will be needed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    for name in needed:
        import_module(name)


def _end_with_parent() -> None:
    parent: Any = parent_process()
    connection.wait([parent.sentinel])
    os._exit(1)
