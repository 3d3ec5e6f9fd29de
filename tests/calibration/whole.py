"""Of whole comparisons in which the cover changes nothing, how many read anything as better with either cover?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import numpy as np

from demo.clinic.truth import Choice, Division, Mortality
from outcomes.cohort import Selection
from outcomes.findings import case_series, compare, stamp
from outcomes.protocol import default_protocol
from tests.calibration.cell import ERROR, Cell, Count
from tests.rows import RowRegister
from tests.whole.planted.registers import QUIET, RECURS, chosen, rows_of, tidy

CLOSING = date(2026, 6, 30)
DEFAULT = default_protocol()
PROTOCOL = replace(DEFAULT, rules=replace(DEFAULT.rules, resamples=200))
UNEVEN = {"grafted": (0.95, 0.92, 0.9, 0.88, 0.85, 0.8), "advanced": (0.92, 0.85, 0.8, 0.78, 0.7, 0.6)}
TRUTH = replace(
    QUIET, patients=170, both_lids=17, choice=Choice(weights={"distraction": 0.5, "width": -0.4, "year": 0.1}),
    division=Division(grafted=(21, 28), advanced=(21, 28)), mortality=Mortality(yearly_at_72=0.03, moves_yearly=0.01), tumour=RECURS,
    follow_up=replace(QUIET.follow_up, attendance=UNEVEN, scatter=0.1, gives_up=0.1, blank=0.03, photographed=0.2, others_grade=0.2),
)  # fmt: skip
"""The covers were chosen by the defect and drifted over the years; nothing hangs on the cover, nor on the defect."""


def readings(rng: np.random.Generator, each: int, times: int) -> Iterator[Cell]:
    """How many registers have a reading in favour of a cover: by the clock of division and in time, and anywhere at all."""
    main = Count("whole comparison: a primary finding reads better", ERROR, "no effect anywhere", each)
    told = Count("whole comparison: any reading is better", ERROR, "no effect anywhere", each)
    anywhere = Count("whole comparison: any, also by the clock of operation", ERROR, "no effect anywhere", each)
    for _ in range(times):
        seed = int(rng.integers(1, 2**31))
        rows = tidy(rows_of(seed, chosen(seed, TRUTH, grafted=each, advanced=each), TRUTH))
        series = case_series(RowRegister(rows, PROTOCOL), PROTOCOL, Selection(CLOSING))
        found = compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))
        better = [one for one in (*found.findings, *found.timing) if one.reading.startswith("better")]
        main.test(0.0 if any(getattr(one, "primary", False) for one in better) else 1.0)
        told.test(0.0 if any(one.clock == "division" or hasattr(one, "event") for one in better) else 1.0)
        anywhere.test(0.0 if better else 1.0)
    yield from (count.cell() for count in (main, told, anywhere))
