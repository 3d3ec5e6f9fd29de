"""Times of the time-to-event and permutation estimators, with other programs in the same run where they are installed.

`python tests/statistics/benchmark_estimators.py` prints medians of several runs, as seconds of the processor and as multiples
of one sort of as many numbers; growth is the exponent of time between the last two sizes. Nothing here passes or fails. Data
are invented.
"""

from __future__ import annotations

import importlib.util
import math
import os
import platform
import statistics
import sys
import time
import tracemalloc
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from outcomes.statistics.aalen_johansen import aalen_johansen
from outcomes.statistics.gray import gray_test
from outcomes.statistics.interval_logrank import interval_logrank
from outcomes.statistics.kaplan_meier import kaplan_meier
from outcomes.statistics.permutation import midranks, permute_patients
from outcomes.statistics.restricted_mean import interval_restricted_mean
from outcomes.statistics.turnbull import turnbull

Work = Callable[[], object]
MILLION = 1_000_000
OWN = "this project"


def seconds(work: Work, repeats: int) -> float:
    """The median processor time of the work; a first run is not counted, unless it takes so long that it is the only one."""
    spent: list[float] = []
    while len(spent) <= repeats and not (spent and spent[0] > 2):
        begun = time.process_time()
        work()
        spent.append(time.process_time() - begun)
    return statistics.median(spent[1:] or spent)


def register(lids: int, *, days: bool, seed: int = 1) -> dict[str, np.ndarray]:
    """Times to an event, a competing death or a loss; whole days of five years, or all different."""
    rng = np.random.default_rng(seed)
    times = rng.random(lids) * 1_826
    return {
        "time": np.ceil(times) if days else times,
        "cause": rng.choice(3, lids, p=[0.6, 0.3, 0.1]),
        "second": rng.random(lids) < 0.4,
        "patient": rng.integers(0, int(0.7 * lids), lids),
    }


def reviewed(lids: int, *, days: bool, seed: int = 1) -> dict[str, np.ndarray]:
    """Between which two reviews the onset lies; reviews about nominal days, or at times that are all different."""
    rng = np.random.default_rng(seed)
    onset = rng.exponential(30, lids)
    if days:
        nominal = np.array([7, 42, 91, 183, 365, 730, 1_095, 1_460])
        reviews = np.sort(np.ceil(nominal * (1 + rng.normal(0, 0.12, (lids, 8)))), axis=1) / 30.4375
    else:
        reviews = np.cumsum(rng.exponential(12, (lids, 6)), axis=1)
    left = np.where(reviews < onset[:, None], reviews, 0).max(axis=1)
    return {"left": left, "right": np.where(reviews >= onset[:, None], reviews, math.inf).min(axis=1)}


def has(library: str) -> bool:
    return importlib.util.find_spec(library) is not None


def survival_programs(time: np.ndarray, event: np.ndarray) -> dict[str, Work]:
    """The Kaplan-Meier curve with limits at every time."""
    found: dict[str, Work] = {OWN: lambda: kaplan_meier(time=time, event=event)}
    if has("statsmodels"):
        from statsmodels.duration.survfunc import SurvfuncRight

        found["statsmodels"] = lambda: SurvfuncRight(time, event.astype(int))
    from scipy.stats import CensoredData, ecdf

    def scipy_curve() -> object:
        curve = ecdf(CensoredData(uncensored=time[event], right=time[~event])).sf
        return curve.confidence_interval(method="log-log")

    found["scipy"] = scipy_curve
    if has("lifelines"):
        from lifelines import KaplanMeierFitter

        found["lifelines"] = lambda: KaplanMeierFitter().fit(time, event)
    if has("sksurv"):
        from sksurv.nonparametric import kaplan_meier_estimator

        found["scikit-survival"] = lambda: kaplan_meier_estimator(event, time, conf_type="log-log")
    return found


def incidence_programs(lids: dict[str, np.ndarray]) -> dict[str, Work]:
    """The cumulative incidence with limits at every time."""
    when, cause = lids["time"], lids["cause"]
    found: dict[str, Work] = {OWN: lambda: aalen_johansen(time=when, cause=cause).limits()}
    if has("statsmodels"):
        from statsmodels.duration.survfunc import CumIncidenceRight

        found["statsmodels"] = lambda: CumIncidenceRight(when, cause)
    if has("sksurv") and np.unique(when).size < 5_000:
        from sksurv.nonparametric import cumulative_incidence_competing_risks

        found["scikit-survival"] = lambda: cumulative_incidence_competing_risks(cause, when, conf_type="log-log")
    return found


def turnbull_programs(rows: dict[str, np.ndarray]) -> dict[str, Work]:
    """The estimate from interval-censored times."""
    found: dict[str, Work] = {OWN: lambda: turnbull(**rows)}
    if has("lifelines") and rows["left"].size <= 500:
        from lifelines import KaplanMeierFitter

        found["lifelines"] = lambda: KaplanMeierFitter().fit_interval_censoring(rows["left"], rows["right"])
    return found


def permutation_programs(lids: dict[str, np.ndarray]) -> dict[str, Work]:
    """The permutation test of a rank sum, 9,999 arrangements; single lids for the other program, which knows no patients."""
    score, second, patient = midranks(lids["time"]), lids["second"], np.arange(lids["time"].size)
    found: dict[str, Work] = {OWN: lambda: permute_patients(score, second, patient)}
    if score.size <= 5_000:
        from scipy.stats import permutation_test

        def difference(x: np.ndarray, y: np.ndarray, axis: int) -> np.ndarray:
            return y.mean(axis=axis) - x.mean(axis=axis)

        groups = score[~second], score[second]
        found["scipy"] = lambda: permutation_test(groups, difference, vectorized=True, n_resamples=9_999, batch=500)
    return found


def show(name: str, size: int, programs: dict[str, Work], repeats: int = 5) -> float:
    """Print one line a program; return our own time."""
    numbers = np.random.default_rng(0).random(size)
    sort, own = seconds(lambda: np.sort(numbers), 5), math.nan
    for program, work in programs.items():
        spent = seconds(work, repeats)
        own = spent if program == OWN else own
        print(
            f"{name:<52} {size:>9,} {program:<16} {spent:>9.4f} s {spent / sort:>8.1f} sorts {spent / own:>8.2f} x ours"
        )
    return own


def grow(name: str, sizes: tuple[int, ...], programs: Callable[[int], dict[str, Work]], repeats: int = 5) -> None:
    """Show it at every size, and how our own time grows between the last two."""
    spent = [show(name, size, programs(size), repeats) for size in sizes]
    print(f"{name:<52} growth {math.log(spent[-1] / spent[-2]) / math.log(sizes[-1] / sizes[-2]):.2f}")


def own(work: Callable[[int], Work]) -> Callable[[int], dict[str, Work]]:
    return lambda size: {OWN: work(size)}


def peak_memory(work: Work) -> float:
    """The most memory, in millions of bytes, that the work held at once."""
    tracemalloc.start()
    work()
    most = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    return most


def main() -> None:
    """Print every figure."""
    warnings.simplefilter("ignore")
    print(
        f"Python {platform.python_version()}, NumPy {np.__version__}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}"
    )
    for days, kind in ((True, "whole days"), (False, "distinct times")):

        def survival(size: int, days: bool = days) -> dict[str, Work]:
            lids = register(size, days=days)
            return survival_programs(lids["time"], lids["cause"] == 1)

        def incidence(size: int, days: bool = days) -> dict[str, Work]:
            lids = register(size, days=days)
            return (
                incidence_programs(lids)
                if size < MILLION or days
                else dict([next(iter(incidence_programs(lids).items()))])
            )

        def paired(size: int, days: bool = days) -> Work:
            lids = register(size, days=days)
            return lambda: aalen_johansen(time=lids["time"], cause=lids["cause"], patient=lids["patient"]).limits()

        def gray(size: int, days: bool = days) -> Work:
            lids = register(size, days=days)
            return lambda: gray_test(time=lids["time"], cause=lids["cause"], second=lids["second"])

        def between(size: int, days: bool = days) -> dict[str, Work]:
            return turnbull_programs(reviewed(size, days=days))

        def logrank(size: int, days: bool = days) -> Work:
            rows = reviewed(size, days=days)
            return lambda: interval_logrank(**rows, second=np.arange(size) % 5 < 2)

        grow(f"Kaplan-Meier with limits, {kind}", (100_000, MILLION), survival)
        grow(f"Aalen-Johansen with limits, {kind}", (10_000, MILLION), incidence, 3)
        grow(f"Aalen-Johansen, two lids of a patient, {kind}", (10_000, MILLION), own(paired), 3)
        grow(f"Gray's test with its permutations, {kind}", (140, 1_000, 5_000), own(gray), 3)
        grow(f"Turnbull, {kind}", (500, 2_000, 10_000, 100_000), between, 3)
        grow(f"interval-censored log-rank test, {kind}", (140, 2_000, 10_000), own(logrank), 3)
    grow(
        "permutation of patients, ranks",
        (140, 5_000, 50_000),
        lambda size: permutation_programs(register(size, days=False)),
        3,
    )
    rows = reviewed(1_000, days=True)
    show(
        "restricted mean with its jackknife, whole days",
        1_000,
        {OWN: lambda: interval_restricted_mean(**rows, until=12)},
        3,
    )
    for size in (100_000, MILLION):
        lids = register(size, days=False)
        most = peak_memory(lambda lids=lids: aalen_johansen(time=lids["time"], cause=lids["cause"]).limits())
        print(f"{'Aalen-Johansen with limits, distinct times':<52} {size:>9,} {'peak memory':<16} {most:>9.0f} MB")


if __name__ == "__main__":
    main()
