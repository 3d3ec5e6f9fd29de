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

from tests.calibration.cell import LIDS, MEASURED_LIDS, RATES, Cell, Part
from tests.calibration.measured import GAPS, OUTCOMES, coverage, wins
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
from tests.calibration.verdicts import findable, powers
from tests.calibration.whole import comparisons

HERE = Path(__file__).parent
REGISTERS, WHOLE, BATCH = 1200, 200, 10
"""Simulated families of each size of cohort, whole null comparisons, and how many one processor makes at a time."""
VERDICT_LIDS = (40, 70, 150)


def parts() -> list[Part]:
    """Everything that is simulated."""
    return [*_whole(), *_measured(), *_timed()]


def thinned(part: Part, registers: int) -> Part:
    """The same part with at most so many registers; batches of families are left out instead."""
    *situation, number = part.arguments
    return replace(part, arguments=(*situation, min(number, registers)))


def wanted(part: Part, registers: int) -> bool:
    """Tell whether a batch is among the first that make so many registers; every other part is wanted."""
    if part.simulate not in {powers, findable, comparisons}:
        return True
    return int(part.name.split()[-1]) * BATCH < registers


def _measured() -> Iterator[Part]:
    for each, outcome, gap in product(MEASURED_LIDS, OUTCOMES, GAPS):
        yield Part(f"coverage {each} {outcome} {gap}", coverage, (each, outcome, gap, 2000))
    for each in MEASURED_LIDS:
        yield Part(f"wins {each}", wins, (each, 2000))


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
    for each, batch in product(VERDICT_LIDS, range(REGISTERS // BATCH)):
        yield Part(f"verdicts {each} {batch}", powers, (each, BATCH))
    for each, batch in product(VERDICT_LIDS, range(REGISTERS // BATCH)):
        yield Part(f"findable {each} {batch}", findable, (each, BATCH))
    for batch in range(WHOLE // BATCH):
        yield Part(f"whole 70 {batch}", comparisons, (70, BATCH))


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
    asked.add_argument("--registers", type=int, default=2000, help="at most so many registers of each situation")
    given = asked.parse_args()
    chosen = [
        thinned(part, given.registers) for part in parts() if given.only in part.name and wanted(part, given.registers)
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
            if not given.only:  # what is known so far, so that a run that is stopped leaves its tables
                (HERE / "RESULT.md").write_text(result(added(cells)), encoding="utf-8")
                (HERE / "SUMMARY.md").write_text(summary(added(cells)), encoding="utf-8")
    print(file=sys.stderr)
    print(result(added(cells)))


if __name__ == "__main__":
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    main()
