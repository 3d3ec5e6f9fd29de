"""How are many drawings made into pictures for print while further ones are drawn?

The drawing library keeps one processor to itself, so a second process makes the pixels. It knows no chart, only drawings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from functools import cache, partial
from multiprocessing import get_context
from pathlib import Path

POINTS_PER_INCH, PRINT_PPI = 72, 300
WIDEST_PIXELS = 2067
"""Across two columns of print (175 mm) at 300 pixels an inch; a wider picture is set smaller there, and needs no more."""


@cache
def _fonts_ready(fonts: Path) -> bool:
    import vl_convert

    vl_convert.register_font_directory(str(fonts))
    return True


def write_png(drawn: str, width: float, to: Path, *, fonts: Path) -> None:
    """Write a drawing that is `width` points wide as PNG, at print resolution for the width at which it is set."""
    import vl_convert

    _fonts_ready(fonts)
    ppi = min(float(PRINT_PPI), POINTS_PER_INCH * WIDEST_PIXELS / width)
    to.write_bytes(vl_convert.svg_to_png(drawn, scale=1, ppi=ppi))


@contextmanager
def printing(fonts: Path) -> Iterator[Callable[[str, float, Path], None]]:
    """Give a function that has a drawing written as PNG by another process; all are written when the block ends.

    A failure there is raised here, when the block ends.
    """
    waiting: list[Future[None]] = []
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        write = partial(write_png, fonts=fonts)
        yield lambda drawn, width, to: waiting.append(pool.submit(write, drawn, width, to))
        for each in waiting:
            each.result()
