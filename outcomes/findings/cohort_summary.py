"""One cohort in one window: how many lids were measured, and what was seen in them."""

from __future__ import annotations

import numpy as np

from outcomes.findings.arrays import Lids, Numbers
from outcomes.findings.estimable import estimable
from outcomes.findings.estimates import share_of
from outcomes.findings.results import Share, Values
from outcomes.findings.sample import Sample
from outcomes.statistics.quantiles import quartiles


def share_summary(lids: Lids, value: Numbers, sample: Sample, *, second: bool) -> Share:
    """How many lids of a cohort had a poor result (1 in `value`, an entry a lid of the sample), of how many seen."""
    group = share_of(value, sample, second=second)
    return Share(
        n=group.n,
        **lids.counts(second=second),
        patients=_patients(sample, second=second),
        events=group.events,
        proportion=estimable(group.estimate),
        low=estimable(group.low),
        high=estimable(group.high),
    )


def values_summary(lids: Lids, sample: Sample, *, second: bool) -> Values:
    """The values themselves in a cohort."""
    seen = lids.value[lids.seen & (lids.second == second)]
    q1, median, q3 = quartiles(seen)
    levels, counts = np.unique(seen, return_counts=True)
    return Values(
        n=seen.size,
        **lids.counts(second=second),
        patients=_patients(sample, second=second),
        mean=float(seen.mean()) if seen.size else None,
        sd=float(seen.std(ddof=1)) if seen.size > 1 else None,
        median=estimable(median),
        q1=estimable(q1),
        q3=estimable(q3),
        counts=tuple((float(level), int(count)) for level, count in zip(levels, counts, strict=True)),
    )


def _patients(sample: Sample, *, second: bool) -> int:
    return int(sample.crude.patients_a_cohort[second])
