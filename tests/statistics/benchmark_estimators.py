"""Times of the estimators, with other programs in the same run where they are installed, for `tests/benchmark.py`.

Medians of several runs, as seconds of the processor and as multiples of one sort of as many numbers; growth is the exponent of
time from the size before. Nothing here passes or fails. Data are invented.
"""

from __future__ import annotations

import importlib.util
import math
import statistics
import time
import tracemalloc
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np

from outcomes.statistics.aalen_johansen import aalen_johansen
from outcomes.statistics.augmented_overlap import overlap_share_difference
from outcomes.statistics.cover_model import cover_model
from outcomes.statistics.gray import gray_test
from outcomes.statistics.interval_logrank import interval_logrank
from outcomes.statistics.kaplan_meier import kaplan_meier
from outcomes.statistics.permutation import midranks, permute_patients
from outcomes.statistics.restricted_mean import interval_restricted_mean
from outcomes.statistics.turnbull import turnbull
from outcomes.statistics.two_cohorts import two_cohorts

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


@dataclass(frozen=True)
class Benchmark:
    """One estimator: the sizes at which it is tried, the programs for a size, and what was asked of it at some sizes.

    `days` tells whether times are whole days, or all different.
    """

    name: str
    sizes: tuple[int, ...]
    programs: Callable[[int, bool], dict[str, Work]]
    targets: dict[int, str] = field(default_factory=dict)
    days: bool = True

    def rows(self) -> Iterator[tuple[str, ...]]:
        """A row a size: our time, as sorts and beside the other programs, and how it grew."""
        before: tuple[int, float] | None = None
        name = f"{self.name}, {'whole days' if self.days else 'distinct times'}"
        for size in self.sizes:
            numbers = np.random.default_rng(0).random(size)
            sort = seconds(lambda numbers=numbers: np.sort(numbers), 5)
            spent = {program: seconds(work, 3) for program, work in self.programs(size, self.days).items()}
            ours = spent.pop(OWN)
            others = ", ".join(f"{program} {each:.4f} s ({each / ours:.1f})" for program, each in spent.items())
            grown = "" if before is None else f"{math.log(ours / before[1]) / math.log(size / before[0]):.2f}"
            yield name, f"{size:,}", f"{ours:.4f} s", f"{ours / sort:.1f}", others, self.targets.get(size, ""), grown
            before = size, ours


def peak_memory(work: Work) -> float:
    """The most memory, in millions of bytes, that the work held at once."""
    tracemalloc.start()
    work()
    most = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    return most


def survival(size: int, days: bool) -> dict[str, Work]:
    lids = register(size, days=days)
    return survival_programs(lids["time"], lids["cause"] == 1)


def incidence(size: int, days: bool) -> dict[str, Work]:
    found = incidence_programs(register(size, days=days))
    return found if size < MILLION or days else {OWN: found[OWN]}


def paired(size: int, days: bool) -> dict[str, Work]:
    lids = register(size, days=days)
    return {OWN: lambda: aalen_johansen(time=lids["time"], cause=lids["cause"], patient=lids["patient"]).limits()}


def gray(size: int, days: bool) -> dict[str, Work]:
    lids = register(size, days=days)
    return {OWN: lambda: gray_test(time=lids["time"], cause=lids["cause"], second=lids["second"])}


def logrank(size: int, days: bool) -> dict[str, Work]:
    rows = reviewed(size, days=days)
    return {OWN: lambda: interval_logrank(**rows, second=np.arange(size) % 5 < 2)}


def adjusted_findings(lids: int, days: bool) -> dict[str, Work]:  # noqa: ARG001 - no times in it
    """As many adjusted shares with their jackknife as the demo has findings, each of other lids, so with its own models."""
    rng = np.random.default_rng(1)
    second, covariates = rng.random(lids) < 0.5, rng.random((lids, 8))
    patient = np.arange(lids) - (np.arange(lids) % 8 == 7)

    def work() -> None:
        for number in range(153):
            seen = np.random.default_rng(number).random(lids) < 0.75
            cohorts = two_cohorts(second[seen], patient[seen], covariates=covariates[seen])
            overlap_share_difference(covariates[seen, number % 8] > 0.6, cover_model(cohorts))

    return {OWN: work}


def restricted(size: int, days: bool) -> dict[str, Work]:
    rows = reviewed(size, days=days)
    return {OWN: lambda: interval_restricted_mean(**rows, until=12)}


def between(size: int, days: bool) -> dict[str, Work]:
    return turnbull_programs(reviewed(size, days=days))


def ranks(size: int, days: bool) -> dict[str, Work]:
    return permutation_programs(register(size, days=days))


FEW, MORE, ROWS = (140, 1_000, 5_000), (10_000, MILLION), (500, 2_000, 10_000, 100_000)
BETWEEN = {2_000: "0.1 s", 10_000: "1 s"}
BENCHMARKS = (
    Benchmark("Kaplan-Meier with limits", (100_000, MILLION), survival, {MILLION: "3 sorts, ahead of each"}),
    Benchmark(
        "Kaplan-Meier with limits", (100_000, MILLION), survival, {MILLION: "8 sorts, ahead of each"}, days=False
    ),
    Benchmark("Aalen-Johansen with limits", MORE, incidence, {MILLION: "1 s"}),
    Benchmark("Aalen-Johansen with limits", MORE, incidence, {MILLION: "1 s"}, days=False),
    Benchmark("Aalen-Johansen, two lids of a patient", MORE, paired, days=False),
    Benchmark("Turnbull", ROWS, between, BETWEEN),
    Benchmark("Turnbull", ROWS[:3], between, BETWEEN, days=False),
    Benchmark("Gray's test with its permutations", FEW, gray, {5_000: "1 s"}),
    Benchmark("Gray's test with its permutations", FEW, gray, {5_000: "1 s"}, days=False),
    Benchmark("interval-censored log-rank test", (140, 2_000, 10_000), logrank),
    Benchmark("permutation of patients, ranks", (140, 5_000, 50_000), ranks, {50_000: "0.5 s"}, days=False),
    Benchmark("153 adjusted shares with their jackknife", (150,), adjusted_findings, {150: "1.5 s"}),
    Benchmark("restricted mean with its jackknife", (1_000,), restricted),
)


def rows() -> Iterator[tuple[str, ...]]:
    """Every estimator at every size, and the memory of the largest."""
    warnings.simplefilter("ignore")
    yield "estimator", "size", "ours", "in sorts", "other programs (times ours)", "asked", "growth"
    for benchmark in BENCHMARKS:
        yield from benchmark.rows()
    for size in (100_000, MILLION):
        lids = register(size, days=False)
        most = peak_memory(lambda lids=lids: aalen_johansen(time=lids["time"], cause=lids["cause"]).limits())
        yield (
            "memory of Aalen-Johansen with limits, distinct times",
            f"{size:,}",
            f"{most:.0f} MB",
            "",
            "",
            "linear",
            "",
        )
