"""The difference seen by masked and by unmasked assessors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from outcomes.cohort import CaseSeries
from outcomes.findings.arrays import lid_cube
from outcomes.findings.estimable import excludes_none
from outcomes.findings.measure_findings import contrast_of_shares, contrast_of_values
from outcomes.findings.results import Contrast, Finding
from outcomes.statistics.difference import square_and_add
from outcomes.statistics.result import Interval

Contrasts = dict[tuple[str, str, str], Contrast]


def with_masking(series: CaseSeries, findings: Sequence[Finding]) -> list[Finding]:
    """Put beside each finding of a main measure its contrast from masked and from unmasked reviews, where there are both."""
    masked, unmasked = (_contrasts(series, masked=flag) for flag in (True, False))
    keys = [(finding.measure, finding.window, finding.outcome) for finding in findings]
    return [
        replace(finding, masked=masked[key], unmasked=unmasked[key]) if key in masked and key in unmasked else finding
        for finding, key in zip(findings, keys, strict=True)
    ]


def _contrasts(series: CaseSeries, *, masked: bool) -> Contrasts:
    if not series.cases.height or not series.measures or not series.windows:
        return {}
    cube, found, level = lid_cube(series, clock="division", masked=masked), {}, series.protocol.rules.confidence_level
    for measure, window in ((m, w) for m in series.measures for w in series.windows if m.main):
        lids = cube.at(measure.id, window.id)
        if not (lids.seen & lids.second).any() or not (lids.seen & ~lids.second).any():
            continue
        found[measure.id, window.id, "value"] = contrast_of_values(lids, level)
        if measure.poor is not None and series.protocol.judges(measure, window):
            found[measure.id, window.id, "poor"] = contrast_of_shares(lids, measure.poor, level)
    return found


def mask_difference(finding: Finding) -> Interval | None:
    """The unmasked contrast minus the masked one, with limits by squaring and adding; None when either cannot be said.

    Lids graded by both count twice; their likeness is not used, which errs on the wide side.
    """
    masked, unmasked = (_interval(each) for each in (finding.masked, finding.unmasked))
    return square_and_add(masked, unmasked) if masked is not None and unmasked is not None else None


def _interval(contrast: Contrast | None) -> Interval | None:
    if contrast is None or contrast.estimate is None or contrast.low is None or contrast.high is None:
        return None
    return Interval(contrast.estimate, contrast.low, contrast.high)


def masking_tells(finding: Finding) -> bool:
    """Tell whether masking changes what is seen: the two contrasts differ beyond chance, or only the unmasked one excludes none.

    The second holds only where the masked estimate is less than half of the unmasked one: with few masked reviews an interval
    that is merely wider says nothing against the unmasked.
    """
    masked, unmasked, apart = _interval(finding.masked), _interval(finding.unmasked), mask_difference(finding)
    if masked is None or unmasked is None or apart is None:
        return False
    if excludes_none(apart.low, apart.high):
        return True
    seen_by_one = excludes_none(unmasked.low, unmasked.high) and not excludes_none(masked.low, masked.high)
    return seen_by_one and abs(masked.estimate) < abs(unmasked.estimate) / 2


def measures_masking_tells(findings: Sequence[Finding]) -> frozenset[str]:
    """The measures in which masking changes what is seen, in any window."""
    return frozenset(finding.measure for finding in findings if masking_tells(finding))
