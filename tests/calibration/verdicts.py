"""Power of the verdict: how often each truth gets which verdict, in whole planned families of 17 measures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np

from demo.clinic.truth import Course
from outcomes.findings.arrays import Lids
from outcomes.findings.decision_rule import Evidence, findable_difference
from outcomes.findings.estimates import Scale, adjusted_estimate, adjusted_result, shares_worth, spread_within
from outcomes.findings.families import with_verdicts
from outcomes.findings.measure_findings import Draft
from outcomes.findings.results import BETTER, MAY_BE, Contrast, Finding, Values
from outcomes.findings.sample import sample_of
from outcomes.protocol import Measure
from tests.calibration.cell import POWER, Cell, Count
from tests.calibration.clinic import (
    PROTOCOL,
    Simulated,
    cohorts,
    comers,
    course,
    measured,
    true_difference,
    values,
    with_good_ones_hidden,
)

NOBODY = Values(0, 0, 0, 0, 0, None, None, None, None, None, ())
MEASURES = {measure.id: measure for measure in PROTOCOL.measures}
NOTHING = Contrast("difference of means", None, None, None)
TRUTHS: dict[str, tuple[str, Course]] = {
    "swelling, 29 points, 0.32 grades": ("oedema", course("oedema", effect=True)),
    "colour, 17 points, 0.60 grades": ("colour_mismatch", course("colour_mismatch", effect=True)),
    "retraction 0.5 mm": ("retraction", replace(course("retraction"), graft=0.5)),
    "retraction 1 mm": ("retraction", replace(course("retraction"), graft=1.0)),
}


def powers(rng: np.random.Generator, each: int, times: int) -> Iterator[Cell]:
    """Every truth in turn among measures that do not differ; and what is said of those, also with good lids hidden."""
    seen = {(name, what): Count(name, POWER, what, each) for name in TRUTHS for what in ("may be or better", "better")}
    worst = Count("no difference, each measure's own good lids hidden", POWER, "measure: may be or better", each)
    none = {
        what: Count("no difference, confounded as planted", POWER, what, each)
        for what in ("measure: may be or better", "family: any better", "family: any may be or better",
                     "retraction: no difference that matters")
    }  # fmt: skip
    hidden = {
        what: Count("no difference, good lids hidden in one cohort", POWER, what, each)
        for what in ("measure: may be or better", "family: any better")
    }
    beside = Count("retraction 0.5 mm, good lids hidden in one cohort", POWER, "no difference that matters", each)
    for _ in range(times):
        lids = cohorts(rng, each)
        family = {
            measure.id: _draft(lids, measure, _seen(rng, lids, measure, course(measure.id)))
            for measure in PROTOCOL.measures
        }
        verdicts = _verdicts(family)
        for verdict in verdicts.values():
            none["measure: may be or better"].hit(verdict in BETTER + MAY_BE)
        none["family: any better"].hit(any(verdict in BETTER for verdict in verdicts.values()))
        none["family: any may be or better"].hit(any(verdict in BETTER + MAY_BE for verdict in verdicts.values()))
        none["retraction: no difference that matters"].hit(verdicts["retraction"] == "no difference that matters")
        for name, (measure_id, truth) in TRUTHS.items():
            measure = PROTOCOL.measure(measure_id)
            one = {**family, measure_id: _draft(lids, measure, _seen(rng, lids, measure, truth))}
            verdict = _verdicts(one)[measure_id]
            seen[name, "may be or better"].hit(verdict in {"better with advanced", "may be better with advanced"})
            seen[name, "better"].hit(verdict == "better with advanced")
        drawn = {measure.id: values(rng, lids, course(measure.id)) for measure in PROTOCOL.measures}
        half = values(rng, lids, replace(course("retraction"), graft=0.5))
        came = comers(rng, lids, sum(_poor(PROTOCOL.measure(name), value) for name, value in drawn.items()))
        away = {
            name: _draft(lids, measure, _came(came, lids, measure, drawn[name])) for name, measure in MEASURES.items()
        }
        verdicts = _verdicts(away)
        for verdict in verdicts.values():
            hidden["measure: may be or better"].hit(verdict in BETTER + MAY_BE)
        hidden["family: any better"].hit(any(verdict in BETTER for verdict in verdicts.values()))
        own = {name: _draft(lids, measure, _own(rng, lids, measure, drawn[name])) for name, measure in MEASURES.items()}
        for verdict in _verdicts(own).values():
            worst.hit(verdict in BETTER + MAY_BE)
        retraction = MEASURES["retraction"]
        troubled = _draft(lids, retraction, _own(rng, lids, retraction, half))
        beside.hit(_verdicts({**away, "retraction": troubled})["retraction"] == "no difference that matters")
    yield from (count.cell() for count in (*seen.values(), *none.values(), *hidden.values(), worst, beside))


def findable(rng: np.random.Generator, each: int, times: int) -> Iterator[Cell]:
    """What the register says it could have found, planted as the truth: how often is it found?"""
    for name in ("retraction", "oedema", "trichiasis"):
        measure, count = PROTOCOL.measure(name), Count("what it could find", POWER, f"{name}: may be or better", each)
        for _ in range(times):
            lids = cohorts(rng, each)
            some = _seen(rng, lids, measure, course(name))
            size = _draft(lids, measure, some).finding.could_find
            if size is None:
                continue
            verdict = _verdicts({name: _draft(lids, measure, _again(rng, lids, measure, some, size))})[name]
            count.hit(verdict in {"better with advanced", "may be better with advanced"})
        yield count.cell()


def _again(rng: np.random.Generator, lids: Simulated, measure: Measure, some: Lids, size: float) -> Lids:
    """Another draw of the same lids with that much less in the advanced: a mean not rounded, a share by more in the grafted."""
    truth = course(measure.id)
    if measure.main_outcome == "share":
        value = _outcome(measure, values(rng, lids, replace(truth, graft=_effect_of_share(measure, size))))
    else:
        value = values(rng, lids, truth) - np.where(lids.second, size, 0.0)
    return replace(some, value=np.where(some.seen, value, np.nan))


EFFECTS = np.arange(0.0, 6.5, 0.5)


@cache
def _differences_of_shares(measure_id: str) -> tuple[float, ...]:
    """By how much the share with a poor result is greater with a graft, for each size of the effect."""
    bound, truth = MEASURES[measure_id].poor.bound, course(measure_id)
    return tuple(-true_difference(replace(truth, graft=float(effect)), bound) for effect in EFFECTS)


def _effect_of_share(measure: Measure, size: float) -> float:
    return float(np.interp(size, _differences_of_shares(measure.id), EFFECTS))


def _seen(rng: np.random.Generator, lids: Simulated, measure: Measure, truth: Course) -> Lids:
    return measured(rng, lids, _outcome(measure, values(rng, lids, truth)))


def _poor(measure: Measure, value: np.ndarray) -> np.ndarray:
    """Which lids have a poor result; of a measure without a rule those in the worse half."""
    bound = measure.poor.bound if measure.poor else float(np.median(value))
    return value >= bound if measure.worse == "higher" else value <= bound


def _came(came: np.ndarray, lids: Simulated, measure: Measure, value: np.ndarray) -> Lids:
    return with_good_ones_hidden(came, lids, _outcome(measure, value))


def _own(rng: np.random.Generator, lids: Simulated, measure: Measure, value: np.ndarray) -> Lids:
    """The lids of one measure of which the good ones with advanced skin come back in 45 %."""
    came = rng.random(value.size) < np.where(~_poor(measure, value) & lids.second, 0.45, 0.9)
    return with_good_ones_hidden(came, lids, _outcome(measure, value))


def _outcome(measure: Measure, value: np.ndarray) -> np.ndarray:
    return (value >= measure.poor.bound).astype(float) if measure.main_outcome == "share" and measure.poor else value


def _draft(lids: Simulated, measure: Measure, some: Lids) -> Draft:
    """The finding and the evidence of one measure, by the functions of the comparison."""
    sample = sample_of(some, some.seen, lids.covariates())
    share = measure.main_outcome == "share"
    field = PROTOCOL.value_field(measure)
    scale = Scale("difference of proportions") if share else Scale("difference of means", field.step or 1.0)
    value = some.value[some.seen]
    found = adjusted_estimate(value, sample, scale)
    evidence = Evidence(
        found.estimate if found else None,
        fewest=sample.fewest,
        too_few=PROTOCOL.rules.too_few_lids,
        more_is_worse=measure.worse == "higher" or share,
        measured=some.measured_shares,
        points=PROTOCOL.rules.follow_up_difference_points,
        spread=spread_within(value, sample),
        important=measure.important_margin,
        shares=shares_worth(value, sample, found and found.effective_n) if share else None,
    )
    finding = Finding(
        measure.id, PROTOCOL.primary_window, "main", "division", NOBODY, NOBODY, NOTHING, adjusted_result(scale.kind, found),
        could_find=findable_difference(evidence, PROTOCOL.rules.power),
    )  # fmt: skip
    return Draft(finding, evidence)


def _verdicts(family: dict[str, Draft]) -> dict[str, str]:
    findings, _ = with_verdicts(PROTOCOL, list(family.values()), [])
    return {finding.measure: str(finding.verdict) for finding in findings}
