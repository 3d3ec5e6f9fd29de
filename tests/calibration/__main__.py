"""Run every part, and write what was found."""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from itertools import product
from pathlib import Path

from tests.calibration.cell import LIDS, RATES, Cell, Part
from tests.calibration.measured import adjusted_shares, adjusted_values, shares, values
from tests.calibration.tables import result, summary
from tests.calibration.timed import (
    ATTENDED,
    FOLLOWED,
    follow_up,
    gray_errors,
    incidences,
    logrank_errors,
    means,
    states,
)
from tests.calibration.whole import readings

HERE = Path(__file__).parent
WHOLE, BATCH = 70, 10
"""Whole null comparisons of each size of cohort, and how many one processor makes at a time."""


def parts() -> list[Part]:
    """Everything that is simulated."""
    return [*_measured(), *_timed(), *_whole()]


def thinned(part: Part, by: int) -> Part:
    """The same part with fewer simulations, for a machine that has no time for all; the tables say how many."""
    *situation, number = part.arguments
    return replace(part, arguments=(*situation, max(1, number // by)))


def _measured() -> Iterator[Part]:
    for each, rate in product(LIDS, RATES):
        yield Part(f"shares {each} {rate}", shares, (each, (rate, rate), 2000))
    for each, rates in product(LIDS, ((0.0, 0.1), (0.1, 0.3), (0.5, 0.1))):
        yield Part(f"shares apart {each} {rates}", shares, (each, rates, 2000))
    for each, (kind, shift) in product(
        LIDS,
        (
            ("wide", 0.0),
            ("wide", 0.25),
            ("wide", 0.5),
            ("narrow", 0.0),
            ("narrow", 0.25),
            ("narrow", 0.5),
            ("mostly 0", 0.0),
        ),
    ):
        yield Part(f"values {each} {kind} {shift}", values, (each, kind, shift, 2000))
    for each, base, effect in product(LIDS, (0.1, 0.3, 0.5), (0.0, 1.0)):
        yield Part(f"adjusted shares {each} {base} {effect}", adjusted_shares, (each, base, effect, 600))
    for each, shift in product(LIDS, (0.0, 0.25, 0.5)):
        yield Part(f"adjusted values {each} {shift}", adjusted_values, (each, shift, 400))


def _timed() -> Iterator[Part]:
    for each in LIDS:
        yield Part(f"follow up {each}", follow_up, (each, 2000))
    for each, rate in product(LIDS, RATES):
        yield Part(f"incidences {each} {rate}", incidences, (each, rate, 1000))
        yield Part(f"states {each} {rate}", states, (each, rate, 2000))
    for each, rate, how in product(LIDS, (0.03, 0.1, 0.3), FOLLOWED):
        yield Part(f"gray {each} {rate} {how}", gray_errors, (each, rate, how, 1000))
    for each, rate, how in product(LIDS, (0.03, 0.1, 0.3), ATTENDED):
        yield Part(f"logrank {each} {rate} {how}", logrank_errors, (each, rate, how, 2000))
    for each, rate in product(LIDS, (0.1, 0.3, 0.5)):
        yield Part(f"means {each} {rate}", means, (each, rate, 200))


def _whole() -> Iterator[Part]:
    for each, batch in product(LIDS, range(WHOLE // BATCH)):
        yield Part(f"whole {each} {batch}", readings, (each, BATCH))


def added(cells: list[Cell]) -> list[Cell]:
    """Cells of the same situation, simulated in batches, as one."""
    by_place: dict[tuple[object, ...], Cell] = {}
    for cell in cells:
        place = (cell.what, cell.kind, cell.situation, cell.lids)
        held = by_place.get(place)
        if held is None:
            by_place[place] = cell
        else:
            by_place[place] = Cell(
                *place, *(getattr(held, n) + getattr(cell, n) for n in ("simulated", "answered", "hits")), cell.discrete
            )
    return list(by_place.values())


def main() -> None:
    """Simulate what was asked for and write the tables."""
    asked = argparse.ArgumentParser(prog="run.py", description=__doc__)
    asked.add_argument("--only", default="", help="only the parts whose name has this word")
    asked.add_argument("--cores", type=int, default=1, help="how many processors to use")
    asked.add_argument(
        "--thin", type=int, default=1, help="one in so many simulations; whole comparisons are thinned by two"
    )
    given = asked.parse_args()
    chosen = [
        thinned(part, min(given.thin, 2) if part.simulate is readings else given.thin)
        for part in parts()
        if given.only in part.name
    ]
    start = time.monotonic()
    cells: list[Cell] = []
    with ProcessPoolExecutor(given.cores) as pool:
        for number, (part, found) in enumerate(zip(chosen, pool.map(Part.run, chosen), strict=True), start=1):
            cells += found
            print(
                f"\r{number} of {len(chosen)}, {time.monotonic() - start:.0f} s: {part.name}        ",
                end="",
                file=sys.stderr,
            )
    print(file=sys.stderr)
    text = result(added(cells))
    print(text)
    if not given.only:
        (HERE / "RESULT.md").write_text(text, encoding="utf-8")
        (HERE / "SUMMARY.md").write_text(summary(added(cells)), encoding="utf-8")


if __name__ == "__main__":
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    main()
