"""The progress of a long command, shown on standard error and only on a terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Progress = Callable[[int, int], None]


@contextmanager
def bar(label: str) -> Iterator[Progress]:
    """Give a function that is told (done, of all) and draws a bar; it draws nothing where nobody watches."""
    if not sys.stderr.isatty():
        yield _unseen
        return
    from rich.console import Console
    from rich.progress import Progress as Drawn

    with Drawn(console=Console(stderr=True), transient=True) as drawn:
        task = drawn.add_task(label, total=None)
        yield lambda done, of_all: drawn.update(task, completed=done, total=of_all)


def _unseen(done: int, of_all: int) -> None:
    """Draw nothing."""


@contextmanager
def steps() -> Iterator[Callable[[str], None]]:
    """Give a function that is told the step now begun and shows it; it shows nothing where nobody watches."""
    if not sys.stderr.isatty():
        yield lambda step: None  # noqa: ARG005
        return
    from rich.console import Console

    with Console(stderr=True).status("") as status:
        yield status.update
