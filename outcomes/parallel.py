"""Share work between this process and further ones: functions of modules, with plain data in and out."""

from __future__ import annotations

import atexit
import gc
import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from functools import partial
from importlib import import_module
from multiprocessing import connection, get_context, parent_process
from typing import Any, ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")
MOST = 2
"""How many further processes there are at most."""


class OneByOne(Executor):
    """Does at once, and here, whatever is asked; a failure is raised where it was asked."""

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Do it, and give a promise that is already kept."""
        kept: Future[T] = Future()
        kept.set_result(fn(*args, **kwargs))
        return kept


@contextmanager
def processors(*needed: str) -> Iterator[Executor]:
    """A further process for each further processor, or this one alone where there is one; they end with the block.

    They import the modules `needed` while this process does something else, so that they are ready when work comes.
    When the block ends by a failure, what was not begun is dropped.
    """
    further = min((os.cpu_count() or 1) - 1, MOST)
    if further == 0:
        yield OneByOne()
        return
    begin = partial(_begin, gc.get_threshold(), needed)
    pool = ProcessPoolExecutor(further, mp_context=get_context("spawn"), initializer=begin)
    try:
        for _ in range(further):
            pool.submit(os.getpid)  # starts a process
        yield pool
    except BaseException:
        pool.shutdown(cancel_futures=True)
        raise
    pool.shutdown()


def shared(elsewhere: Executor, tasks: Sequence[Callable[[], T]]) -> list[T]:
    """Do all tasks and give their results in order: there from the first on, and here from the last on.

    What differs much in length comes first or last, and what is short in between, where both meet.
    """
    promised = [elsewhere.submit(task) for task in tasks]
    here = {at: tasks[at]() for at in reversed(range(len(tasks))) if promised[at].cancel()}
    return [here[at] if at in here else each.result() for at, each in enumerate(promised)]


def _begin(garbage: tuple[int, int, int], needed: tuple[str, ...]) -> None:
    """Leave the stop key to the process that asked, end when that one ends, and import what will be needed."""
    gc.set_threshold(*garbage)
    atexit.register(gc.freeze)  # what is left at the end is not looked through
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    for name in needed:
        import_module(name)


def _end_with_parent() -> None:
    parent: Any = parent_process()
    connection.wait([parent.sentinel])
    os._exit(1)
