"""The patient's values beside the range of values in the lids of each cover."""

from __future__ import annotations

from collections.abc import Mapping

from outcomes.cohort import CaseSeries, column
from outcomes.findings.counsel.results import COVERS, ObservedRange, OutOfRange
from outcomes.protocol import Protocol, Value

HAIR = 1e-9


def observed_ranges(series: CaseSeries, patient: Mapping[str, Value]) -> tuple[ObservedRange, ...]:
    """The range of each cover for every value that is known of the patient, where enough lids have it recorded."""
    ranges, reaches = [], _reaches(series.protocol)
    for name in series.protocol.counsel.ranges:
        value = patient[name]
        for cohort in COVERS if value is not None else ():
            known = series.cohort(cohort).get_column(column(series.protocol.characteristic(name))).drop_nulls()
            if known.len() < series.protocol.counsel.fewest_lids:
                continue
            low, high = float(known.min()), float(known.max())  # type: ignore[arg-type]
            number = float(value)  # type: ignore[arg-type]
            beyond, reach = max(low - number, number - high), reaches.get(name, 0.0)
            ranges.append(
                ObservedRange(name, number, cohort, known.len(), low, high, beyond > 0, beyond > reach + HAIR)
            )
    return tuple(ranges)


def _reaches(protocol: Protocol) -> dict[str, float]:
    """How far a lid may lie from the patient's by the narrowest rule of likeness."""
    return dict(protocol.likeness[0].within) if protocol.likeness else {}


def out_of_range(observed: tuple[ObservedRange, ...], protocol: Protocol) -> tuple[OutOfRange, ...]:
    """Where no lid is like the patient's: one entry where that is so with both covers."""
    matched = _reaches(protocol)
    entries = []
    for name in dict.fromkeys(each.characteristic for each in observed if each.unlike):
        ranges = [each for each in observed if each.characteristic == name]
        unlike = [each for each in ranges if each.unlike]
        for part in [unlike] if len(unlike) == len(ranges) else [[each] for each in unlike]:
            low, high = min(each.low for each in part), max(each.high for each in part)
            entries.append(OutOfRange(name, "both" if len(part) > 1 else part[0].cohort, low, high, name in matched))
    return tuple(entries)
