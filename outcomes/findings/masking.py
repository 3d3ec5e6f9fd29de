"""Did those who did not know the cover see the same difference as those who did?"""

from __future__ import annotations

from outcomes.cohort import CaseSeries
from outcomes.findings.cover_choice import CoverChoice
from outcomes.findings.estimable import excludes_none
from outcomes.findings.lid_findings import compare_shares, compare_values
from outcomes.findings.lids import lid_cube
from outcomes.findings.results import Contrast, Finding
from outcomes.protocol import Protocol, Window
from outcomes.statistics.difference import square_and_add
from outcomes.statistics.result import Interval

Contrasts = dict[tuple[str, str, str], Contrast]


def masked_contrasts(series: CaseSeries, choice: CoverChoice, *, masked: bool) -> Contrasts:
    """Give the contrast of each main measure in the primary window from masked, or from unmasked, reviews only.

    Empty when the window was not asked for, or when either cohort has no such review.
    """
    window = next((each for each in series.windows if each.id == series.protocol.primary_window), None)
    if window is None or not series.cases.height or not series.measures:
        return {}
    cube, found = lid_cube(series, clock="division", masked=masked), {}
    for measure in series.measures:
        lids, outcome = cube.at(measure.id, window.id), _outcome(series.protocol, measure.id, window)
        if not measure.main or not (lids.seen & lids.second).any() or not (lids.seen & ~lids.second).any():
            continue
        if outcome == "poor" and measure.poor is not None:
            compared = compare_shares(lids, measure.poor, choice, series.protocol.rules.confidence_level)
        else:
            compared = compare_values(lids, measure, series.protocol, choice)
        found[measure.id, window.id, outcome] = compared.contrast
    return found


def _outcome(protocol: Protocol, measure: str, window: Window) -> str:
    return "poor" if protocol.judges(protocol.measure(measure), window) else "value"


def mask_difference(finding: Finding) -> Interval | None:
    """The unmasked contrast minus the masked one, with limits by squaring and adding; None when either cannot be said.

    Lids graded by both count twice; their likeness is not used, which errs on the wide side.
    """
    masked, unmasked = finding.masked, finding.unmasked
    if masked is None or unmasked is None:
        return None
    sides = [_interval(masked), _interval(unmasked)]
    return None if None in sides else square_and_add(*(side for side in sides if side is not None))


def _interval(contrast: Contrast) -> Interval | None:
    if contrast.estimate is None or contrast.low is None or contrast.high is None:
        return None
    return Interval(contrast.estimate, contrast.low, contrast.high)


def masking_tells(finding: Finding) -> bool:
    """Tell whether masking changes what is seen: the two contrasts differ beyond chance, or only the unmasked one excludes none.

    The second holds only where the masked estimate is less than half of the unmasked one: with few masked reviews an interval
    that is merely wider says nothing against the unmasked.
    """
    masked, unmasked, apart = finding.masked, finding.unmasked, mask_difference(finding)
    if masked is None or unmasked is None or masked.estimate is None or unmasked.estimate is None:
        return False
    if apart is not None and excludes_none(apart.low, apart.high):
        return True
    shrinks = masked.estimate / unmasked.estimate < 1 / 2 if unmasked.estimate else False
    return excludes_none(unmasked.low, unmasked.high) and not excludes_none(masked.low, masked.high) and shrinks
