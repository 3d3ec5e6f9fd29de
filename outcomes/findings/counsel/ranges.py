"""The patient's values beside the range of values in the lids of each cover."""

from __future__ import annotations

from collections.abc import Mapping

from outcomes.cohort import CaseSeries, column
from outcomes.findings.counsel.outcome_figures import COVERS
from outcomes.findings.counsel.results import ObservedRange, OutOfRange
from outcomes.protocol import Protocol, Value


def observed_ranges(series: CaseSeries, patient: Mapping[str, Value]) -> tuple[ObservedRange, ...]:
    """The range of each cover for every value that is known of the patient, where enough lids have it recorded."""
    ranges = []
    for name in series.protocol.counsel.ranges:
        value = patient[name]
        for cohort in COVERS if value is not None else ():
            known = series.cohort(cohort).get_column(column(series.protocol.characteristic(name))).drop_nulls()
            if known.len() < series.protocol.counsel.fewest_lids:
                continue
            low, high = float(known.min()), float(known.max())  # type: ignore[arg-type]
            number = float(value)  # type: ignore[arg-type]
            ranges.append(ObservedRange(name, number, cohort, known.len(), low, high, not low <= number <= high))
    return tuple(ranges)


def out_of_range(observed: tuple[ObservedRange, ...], protocol: Protocol) -> tuple[OutOfRange, ...]:
    """Where the patient lies outside the ranges: one entry where that is so with both covers."""
    matched = {name for rule in protocol.likeness for name, _ in rule.within}
    entries = []
    for name in dict.fromkeys(each.characteristic for each in observed if each.outside):
        ranges = [each for each in observed if each.characteristic == name]
        outside = [each for each in ranges if each.outside]
        for part in [outside] if len(outside) == len(ranges) else [[each] for each in outside]:
            low, high = min(each.low for each in part), max(each.high for each in part)
            entries.append(OutOfRange(name, "both" if len(part) > 1 else part[0].cohort, low, high, name in matched))
    return tuple(entries)
