"""The review that counts for each window, and the status of a lid that has none.

Of several values in a window the one nearest to the nominal day counts; on a tie the later one, and of two on one day
the masked one. A lid without a value is *missing* (the window is past), *not yet due* (the window is not over on the
as-of day) or *not applicable* (the pedicle was never divided, or the patient died before the window was over).
"""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import NDArray

from outcomes.cohort.measurements import MeasureValues, Whole
from outcomes.cohort.series import CaseSeries
from outcomes.protocol import Window

SEEN, MISSING, NOT_DUE, NOT_APPLICABLE = "seen", "missing", "not due", "not applicable"
STATUSES = (SEEN, MISSING, NOT_DUE, NOT_APPLICABLE)
DAY_0 = {"division": "divided_on", "operation": "operated_on"}
DAYS, ASSESSORS = 2**18, 2**21  # more days, and more assessors, than there are

Places = NDArray[np.intp]
Codes = NDArray[np.int8]


def counted_days(window: Window) -> tuple[int, int]:
    """Give the first and the last day on which a review counts for a window; none counts before the day after day 0."""
    first, last = window.days
    return max(first, 1), last


def chosen_values(values: MeasureValues, window: Window, *, clock: str, masked: bool | None = None) -> Places:
    """Give the places of the values that count for a window, one a lid that has any, in order of lid.

    With `masked`, only reviews of that kind count. Windows are counted from the day of division or of operation.
    """
    day, (first, last) = values.since[clock], counted_days(window)
    inside = (day >= first) & (day <= last)
    if masked is not None:
        inside &= values.masked == int(masked)
    found = np.flatnonzero(inside)
    found = found[~_further_than_the_next(values.lid[found], np.abs(day[found].astype(np.int32) - window.nominal_days))]
    lid = values.lid[found]
    if not (lid[1:] == lid[:-1]).any():
        return found
    found = found[_least(lid, _rank(values, found, np.abs(day[found].astype(np.int64) - window.nominal_days)))]
    return np.asarray(found[np.append(True, np.diff(values.lid[found]) > 0)])


def _further_than_the_next(lid: Whole, away: Whole) -> NDArray[np.bool_]:
    """Which values lie further from the nominal day than the one before or after; in order of day, the nearest never does."""
    same = lid[1:] == lid[:-1]
    further = np.zeros(lid.size, dtype=np.bool_)
    further[1:] = same & (away[:-1] < away[1:])
    further[:-1] |= same & (away[1:] < away[:-1])
    return further


def _least(lid: Whole, key: NDArray[np.int64]) -> Places:
    """The places of the least key of each lid, several where they are equal."""
    begins = np.flatnonzero(np.append(True, lid[1:] != lid[:-1]))
    least = np.minimum.reduceat(key, begins)
    return np.flatnonzero(key == np.repeat(least, np.diff(np.append(begins, lid.size))))


def _rank(values: MeasureValues, found: Places, away: NDArray[np.int64]) -> NDArray[np.int64]:
    """One number a value, the least for the one that counts: by distance, then the later, the masked, the first assessor."""
    later = DAYS - 1 - (values.reviewed_on[found].astype(np.int64) + DAYS // 2)
    return ((away * DAYS + later) * 4 + 1 - values.masked[found]) * ASSESSORS + values.assessor[found]


def status_without_value(series: CaseSeries, window: Window, *, clock: str) -> Codes:
    """Give the status of each lid of the series in a window unless it has a value, as its place in `STATUSES`."""
    over = pl.col(DAY_0[clock]) + pl.duration(days=window.days[1])
    undivided = pl.col("divided_on").is_null()
    status = (
        pl.when(undivided & (pl.col("division_planned_on") > series.as_of) & pl.col("died_on").is_null())
        .then(STATUSES.index(NOT_DUE))
        .when(undivided | (pl.col("died_on") <= over))
        .then(STATUSES.index(NOT_APPLICABLE))
        .when(over > series.as_of)
        .then(STATUSES.index(NOT_DUE))
        .otherwise(STATUSES.index(MISSING))
    )
    return series.cases.select(status.cast(pl.Int8).alias("status")).get_column("status").to_numpy(writable=True)


def states(series: CaseSeries, *, clock: str = "division", masked: bool | None = None) -> pl.DataFrame:
    """Give one row for each lid, window and measure: case_id, patient_id, cohort, window, measure, status, value.

    The day, masking and assessor of the value that counts stand beside it; arguments as `chosen_values`. This is lids times
    measures times windows: of a large series, ask for one measure and window at a time.
    """
    frames = []
    for measure in sorted(series.measures, key=lambda each: each.id):
        values = series.values(measure.id)
        for window in sorted(series.windows, key=lambda each: each.id):
            chosen = chosen_values(values, window, clock=clock, masked=masked)
            status = status_without_value(series, window, clock=clock)
            status[values.lid[chosen]] = STATUSES.index(SEEN)
            named = {"window": window.id, "measure": measure.id}
            frames.append(_states(series, named, status).join(_seen(series, values, chosen), on="lid", how="left"))
    return pl.concat(frames).drop("lid") if frames else _NOTHING


_NOTHING = pl.DataFrame(
    schema={
        **dict.fromkeys(("case_id", "patient_id", "cohort", "window", "measure", "status"), pl.String),
        "value": pl.Float64,
        "reviewed_on": pl.Date,
        "masked": pl.Boolean,
        "assessor": pl.String,
    }
)


def _states(series: CaseSeries, named: dict[str, str], status: Codes) -> pl.DataFrame:
    words = pl.Series("status", STATUSES).gather(status)
    lids = series.cases.select("case_id", "patient_id", "cohort").with_row_index("lid")
    return lids.with_columns(*(pl.lit(value).alias(name) for name, value in named.items()), words)


def _seen(series: CaseSeries, values: MeasureValues, chosen: Places) -> pl.DataFrame:
    reviews = series.measured[values.review[chosen]].select(
        "lid", "reviewed_on", "masked", pl.col("assessor").cast(pl.String)
    )
    return reviews.insert_column(1, pl.Series("value", values.value[chosen]))
