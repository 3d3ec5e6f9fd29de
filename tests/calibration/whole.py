"""Whole comparisons, by the program, of invented clinics in which the cover changes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import numpy as np

from demo.clinic.truth import COURSES, THE_CLINIC
from outcomes.cohort import Selection
from outcomes.findings import case_series, compare, stamp
from outcomes.findings.results import BETTER
from outcomes.protocol import default_protocol
from tests.calibration.cell import POWER, Cell, Count
from tests.rows import RowRegister
from tests.whole.planted.registers import chosen, rows_of, tidy

CLOSING = date(2026, 6, 30)
PROTOCOL = default_protocol()
NOTHING = {name: replace(course, graft=0.0, fade_graft=0.0, kindness=0.0) for name, course in COURSES.items()}
TRUTH = replace(THE_CLINIC, patients=420, courses=NOTHING)
"""The invented clinic, confounded and with its gaps, but no effect of the cover and no kindness of its assessor."""


def comparisons(rng: np.random.Generator, each: int, times: int) -> Iterator[Cell]:
    """How many registers have a planned finding that is better, and any finding at all in any window or time."""
    what = "whole comparison, no effect anywhere, confounded as planted"
    planned, anywhere = (Count(what, POWER, label, each) for label in ("a planned finding better", "anything better"))
    for _ in range(times):
        seed = int(rng.integers(1, 2**31))
        rows = tidy(rows_of(seed, chosen(seed, TRUTH, grafted=each, advanced=each), TRUTH))
        series = case_series(RowRegister(rows, PROTOCOL), PROTOCOL, Selection(CLOSING))
        found = compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))
        better = [one for one in (*found.findings, *found.timing) if one.verdict in BETTER]
        planned.hit(any(getattr(one, "family", "") == "planned" for one in better))
        anywhere.hit(bool(better))
    yield from (count.cell() for count in (planned, anywhere))
