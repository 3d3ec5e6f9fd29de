"""Families of comparisons: which findings are corrected together for multiplicity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from outcomes.cohort import CaseSeries
from outcomes.findings.decision_rule import Evidence, read
from outcomes.findings.estimable import estimable
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import Contrast, Finding, Outcome
from outcomes.protocol import Protocol
from outcomes.statistics.multiplicity import holm


def is_main_result(protocol: Protocol, measure: str, window: str, outcome: Outcome) -> bool:
    """Tell whether this is what is told first of a main measure: the share where there is a rule for a poor result."""
    held = protocol.measure(measure)
    return held.main and (outcome == "poor") == protocol.judges(held, protocol.window(window))


def is_primary(protocol: Protocol, measure: str, window: str, outcome: Outcome) -> bool:
    """Tell whether this is a main result in the primary window."""
    return window == protocol.primary_window and is_main_result(protocol, measure, window, outcome)


def corrected(contrasts: Sequence[Contrast]) -> list[Contrast]:
    """Correct the p values of one family by Holm (Scand J Stat 1979;6:65-70); a contrast without p stays without."""
    values = holm([contrast.p for contrast in contrasts])
    return [replace(contrast, p_adjusted=estimable(p)) for contrast, p in zip(contrasts, values, strict=True)]


def correct_families(
    findings: Sequence[Finding], others: dict[str, Contrast]
) -> tuple[list[Finding], dict[str, Contrast]]:
    """Correct the primary findings among themselves, and all the rest together with the tests of timed events.

    The primary family is the main measures in the primary window; everything else is one family, however large.
    """
    primary = iter(corrected([finding.contrast for finding in findings if finding.primary]))
    rest = corrected([*(finding.contrast for finding in findings if not finding.primary), *others.values()])
    remaining, tests = iter(rest), rest[len(rest) - len(others) :]
    done = [replace(finding, contrast=next(primary if finding.primary else remaining)) for finding in findings]
    return done, dict(zip(others, tests, strict=True))


def with_readings(
    series: CaseSeries, choice: CoverChoice, findings: Sequence[Finding], masking_tells: frozenset[str]
) -> list[Finding]:
    """Read each finding by the one rule; `masking_tells` names the measures that masked assessors saw otherwise."""
    done = []
    for finding in findings:
        reading, reasons = read(_evidence(series, choice, finding, masking_tells=finding.measure in masking_tells))
        done.append(replace(finding, reading=reading, reasons=reasons))
    return done


def _evidence(series: CaseSeries, choice: CoverChoice, finding: Finding, *, masking_tells: bool) -> Evidence:
    rules, measure = series.protocol.rules, series.protocol.measure(finding.measure)
    return Evidence(
        finding.contrast,
        finding.adjusted,
        finding.if_missing,
        fewest=min(finding.grafted.n, finding.advanced.n),
        too_few=rules.too_few_lids,
        more_is_worse=finding.outcome == "poor" or measure.worse == "higher",
        reviewed_apart=reviewed_apart(finding, rules.follow_up_difference_points),
        no_overlap=choice.no_overlap,
        as_planned=finding.as_planned,
        masking_tells=masking_tells,
        alpha=1 - rules.confidence_level,
    )


def reviewed_apart(finding: Finding, points: float) -> bool:
    """Tell whether the share reviewed of those due differs between the covers by more than the protocol allows."""
    shares = reviewed_shares(finding)
    return shares is not None and abs(shares[0] - shares[1]) * 100 > points + 1e-9


def reviewed_shares(finding: Finding) -> tuple[float, float] | None:
    """The share reviewed of the lids that were due in the window, grafted then advanced; None when none was due in one."""
    due = [side.due for side in (finding.grafted, finding.advanced)]
    if not all(due):
        return None
    return finding.grafted.n / due[0], finding.advanced.n / due[1]
