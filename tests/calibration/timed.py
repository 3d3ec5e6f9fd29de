"""Dated events with death competing, states seen only at reviews, mean times, and how long lids were followed."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
from numpy.typing import NDArray

from outcomes.statistics import gray
from outcomes.statistics.aalen_johansen import aalen_johansen
from outcomes.statistics.arrangements import cover_arrangements
from outcomes.statistics.difference import square_and_add
from outcomes.statistics.interval_logrank import interval_logrank
from outcomes.statistics.kaplan_meier import median_follow_up
from outcomes.statistics.restricted_mean import interval_restricted_mean, restricted_mean_difference
from outcomes.statistics.turnbull import proportion_by
from tests.calibration.cell import COVERAGE, ERROR, Cell, Count
from tests.calibration.lids import Numbers, fates, patients, second

LEAST = 5
"""The protocol's `at_risk_minimum`: nothing is said of a month that fewer lids of a cohort reached."""
REVIEWS = np.array([7, 42, 91, 183, 365, 730, 1096, 1461]) / (365.25 / 12)
FOLLOWED = {"alike": ((8, 60), (8, 60)), "advanced for less long": ((20, 80), (6, 40))}
"""Months from operation to the closing date, from and to, grafted and advanced."""
ATTENDED = {"alike": (0.85, 0.85), "advanced less often": (0.90, 0.70), "advanced for less long": (0.85, 0.85)}
"""Share of the reviews that were kept; in the last way the closing date comes sooner as well."""
DRAWS = 999
"""Arrangements drawn for Gray's test here, in place of 9,999: the test is as valid with fewer, and ten times as fast."""


def dated(
    rng: np.random.Generator, each: int, rate: float, followed: str
) -> tuple[Numbers, NDArray[np.int64], Numbers]:
    """Months, cause, and months to the closing date: the event by two years in `rate`, death first in 15 %."""
    fate, when = fates(rng, patients(each)), 24 * rng.random(2 * each)
    cause = np.where(fate < rate, 1, np.where(fate < rate + 0.15, 2, 0))
    time = np.where(cause > 0, when, np.inf)
    first, advanced = FOLLOWED[followed]
    low, high = (np.where(second(each), advanced[end], first[end]) for end in (0, 1))
    until = low + (high - low) * rng.random(2 * each)
    return np.minimum(time, until), np.where(time <= until, cause, 0), until


def incidences(rng: np.random.Generator, each: int, rate: float, times: int) -> Iterator[Cell]:
    """The share by 12 and 24 months and its difference, the advanced followed for less long."""
    counts = {
        (month, what): Count(what, COVERAGE, f"{rate:g} by 24 months, at {month}", each, discrete=True)
        for month in (12, 24) for what in ("Aalen-Johansen share", "difference of Aalen-Johansen shares")
    }  # fmt: skip
    patient, sides = patients(each), (~second(each), second(each))
    for _ in range(times):
        time, cause, due = dated(rng, each, rate, "advanced for less long")
        for month in (12, 24):
            shares = [
                aalen_johansen(time=time[side], cause=cause[side], patient=patient[side]).at(month)
                if _reaches(due[side], month)
                else None
                for side in sides
            ]
            said = shares[1]
            apart = square_and_add(*shares) if None not in shares else None
            counts[month, "Aalen-Johansen share"].interval(said and said.low, said and said.high, rate * month / 24)
            counts[month, "difference of Aalen-Johansen shares"].interval(
                apart and apart.low, apart and apart.high, 0.0
            )
    yield from (count.cell() for count in counts.values())


def _reaches(months: Numbers, month: float) -> bool:
    return int((months >= month).sum()) >= LEAST


def gray_errors(rng: np.random.Generator, each: int, rate: float, followed: str, times: int) -> Iterator[Cell]:
    """Gray's test when nothing differs but how long the covers were followed."""
    gray.cover_arrangements = partial(cover_arrangements, limit=DRAWS, draws=DRAWS)
    test = Count("Gray's test", ERROR, f"{rate:g} by 24 months, followed {followed}", each)
    for _ in range(times):
        time, cause, _ = dated(rng, each, rate, followed)
        test.test(gray.gray_test(time=time, cause=cause, second=second(each), patient=patients(each)).p)
    gray.cover_arrangements = cover_arrangements
    yield test.cell()


def reviewed(rng: np.random.Generator, each: int, rate: float, attended: str) -> tuple[Numbers, Numbers, Numbers]:
    """Last review free, first with the state, and last review at all; it begins within a year in `rate`, a quarter lost."""
    size = 2 * each
    begins = np.where(fates(rng, patients(each)) < rate, 12 * rng.random(size), np.inf)
    days = REVIEWS * (1 + 0.1 * rng.uniform(-1, 1, (size, REVIEWS.size)))
    share = np.where(second(each), ATTENDED[attended][1], ATTENDED[attended][0])[:, None]
    came = rng.random(days.shape) < share
    first, advanced = FOLLOWED[attended if attended in FOLLOWED else "alike"]
    low, high = (np.where(second(each), advanced[end], first[end]) for end in (0, 1))
    closing = low + (high - low) * rng.random(size)
    lost = np.where(rng.random(size) < 0.25, np.minimum(closing, 24 * rng.random(size)), closing)[:, None]
    came &= days <= lost
    came[~came.any(axis=1), 0] = True
    with_state = came & (days >= begins[:, None])
    right = np.where(with_state, days, np.inf).min(axis=1)
    left = np.where(came & (days < begins[:, None]), days, 0.0).max(axis=1)
    return left, right, np.where(came, days, 0.0).max(axis=1)


def states(rng: np.random.Generator, each: int, rate: float, times: int) -> Iterator[Cell]:
    """The share by 3, 6 and 12 months of a state seen only at reviews, and its difference."""
    counts = {
        (month, what): Count(what, COVERAGE, f"{rate:g} by 12 months, at {month}", each, discrete=True)
        for month in (3, 6, 12) for what in ("Turnbull share", "difference of Turnbull shares")
    }  # fmt: skip
    patient, sides = patients(each), (~second(each), second(each))
    for _ in range(times):
        left, right, latest = reviewed(rng, each, rate, "advanced less often")
        for month in (3, 6, 12):
            shares = [
                proportion_by(left=left[side], right=right[side], at=month, patient=patient[side])
                if _reaches(latest[side], month)
                else None
                for side in sides
            ]
            said, apart = shares[1], square_and_add(*shares) if None not in shares else None
            counts[month, "Turnbull share"].interval(said and said.low, said and said.high, rate * month / 12)
            counts[month, "difference of Turnbull shares"].interval(apart and apart.low, apart and apart.high, 0.0)
    yield from (count.cell() for count in counts.values())


def logrank_errors(rng: np.random.Generator, each: int, rate: float, attended: str, times: int) -> Iterator[Cell]:
    """The interval-censored log-rank test when nothing differs but how often the covers were reviewed."""
    test = Count("interval-censored log-rank test", ERROR, f"{rate:g} by 12 months, reviewed {attended}", each)
    for _ in range(times):
        left, right, _ = reviewed(rng, each, rate, attended)
        test.test(interval_logrank(left=left, right=right, second=second(each), patient=patients(each)).p)
    yield test.cell()


def means(rng: np.random.Generator, each: int, rate: float, times: int) -> Iterator[Cell]:
    """The difference of the mean time up to 12 months without a state seen only at reviews."""
    apart = Count("difference of restricted means", COVERAGE, f"{rate:g} by 12 months", each)
    patient = patients(each)
    for _ in range(times):
        left, right, latest = reviewed(rng, each, rate, "alike")
        sides = (~second(each), second(each))
        if not all(_reaches(latest[side], 12) for side in sides):
            apart.interval(None, None, 0.0)
            continue
        first, other = (
            interval_restricted_mean(left=left[side], right=right[side], until=12, patient=patient[side]).interval()
            for side in sides
        )
        found = restricted_mean_difference(first, other)
        apart.interval(found.low, found.high, 0.0)
    yield apart.cell()


def follow_up(rng: np.random.Generator, each: int, times: int) -> Iterator[Cell]:
    """The median follow-up, when the dead would have been followed on: 6 to 60 months, so 33 in the middle."""
    middle = Count("median follow-up", COVERAGE, "6 to 60 months, 8 % die a year", each)
    patient = patients(each)[:each]
    for _ in range(times):
        followed = (6 + 54 * rng.random(each))[patient]
        dies = rng.exponential(12 / 0.08, each)[patient]
        found = median_follow_up(time=np.minimum(followed, dies), event=dies <= followed)
        middle.interval(found.low, np.inf if np.isnan(found.high) and not np.isnan(found.low) else found.high, 33.0)
    yield middle.cell()
