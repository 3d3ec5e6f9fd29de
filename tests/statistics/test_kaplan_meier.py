"""Kaplan-Meier and median follow-up against R, published data and hand-made fractions."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.statistics.kaplan_meier import kaplan_meier, median_follow_up
from outcomes.statistics.proportion import wilson
from tests.reference import close_enough, reference_case

GROUPED = ("d01_km_gehan", "d03_km_lung", "d04_km_veteran", "d06_km_colon")


def groups(sample):
    labels = np.array([str(label) for label in sample["group"]])
    for label in sorted(set(labels)):
        yield label, {key: np.array(sample[key])[labels == label] for key in ("time", "event")}


def check_curve(sample, expected, tolerance):
    """Every listed value at every listed time; R carries a curve on past the last follow-up, ours does not."""
    curve = kaplan_meier(time=sample["time"], event=sample["event"])
    for place, t in enumerate(expected["at"]):
        survival, error = expected["surv"][place], expected["greenwood_se"][place]
        assert close_enough(int((np.array(sample["time"]) >= t).sum()), expected["n_risk"][place], tolerance)
        if t > max(sample["time"]) and survival > 0:
            assert math.isnan(curve.at(t).estimate)
            continue
        row = int(np.searchsorted(curve.time, t, side="right")) - 1
        assert close_enough(curve.at(t).estimate, survival, tolerance)
        assert close_enough(curve.standard_error[row], error, tolerance)
        if survival < 1:
            assert close_enough(curve.at(t).low, expected["loglog_lower"][place], tolerance)
            assert close_enough(curve.at(t).high, expected["loglog_upper"][place], tolerance)
    median = curve.median()
    assert close_enough(median.estimate, expected["median_first"], tolerance)
    return median


@pytest.mark.parametrize("case", GROUPED)
def test_published_data_in_groups(case):
    reference = reference_case(case)
    for label, sample in groups(reference.input):
        expected = reference.expected[label]
        median = check_curve(sample, expected, reference.tolerance)
        assert close_enough([median.low, median.high], expected["median_loglog"], reference.tolerance)


@pytest.mark.parametrize("name", list(reference_case("d08_km_edges").expected))
def test_edges(name):
    reference = reference_case("d08_km_edges")
    check_curve(reference.input["sets"][name], reference.expected[name], reference.tolerance)


def test_nothing_yet_is_not_certainty():
    """The formula's limits are 1 to 1 where nothing happened (d08); ours are those of none of those still followed."""
    still_free = kaplan_meier(time=[1, 2, 3, 4], event=[0, 0, 0, 0]).at(2)
    assert still_free.estimate == still_free.high == 1
    assert still_free.low == pytest.approx(wilson(3, 3).low)


@pytest.mark.parametrize("name", list(reference_case("d16_reverse_km").expected))
def test_median_follow_up(name):
    reference = reference_case("d16_reverse_km")
    sample = reference.input["sets"][name]
    parts = [("all", sample)] if sample["group"] is None else groups(sample)
    for label, part in parts:
        expected = reference.expected[name][label]
        median = median_follow_up(time=part["time"], event=part["event"])
        assert close_enough(median.estimate, expected["median_first"], reference.tolerance)
        if expected["median_followup"] is not None:
            assert close_enough([median.low, median.high], expected["median_ci_loglog"], reference.tolerance)


def test_fractions_by_hand():
    """Times 2 3 3 3 5 6 with losses at 3 and 5: 5/6, then 5/6 x 3/5, then 0."""
    curve = kaplan_meier(time=[2, 3, 3, 3, 5, 6], event=[1, 1, 0, 1, 0, 1])
    by_hand = [Fraction(1), Fraction(5, 6), Fraction(1, 2), Fraction(1, 2), Fraction(0)]
    assert curve.survival == pytest.approx([float(share) for share in by_hand])


def test_statsmodels_agrees():
    from statsmodels.duration.survfunc import SurvfuncRight

    rng = np.random.default_rng(5)
    time, event = rng.integers(1, 30, 60), rng.random(60) < 0.5
    other = SurvfuncRight(time, event.astype(int))
    curve = kaplan_meier(time=time, event=event)
    rows = np.searchsorted(curve.time, other.surv_times)
    assert curve.survival[rows] == pytest.approx(other.surv_prob)
    kept = other.surv_prob > 0
    assert curve.standard_error[rows][kept] == pytest.approx(other.surv_prob_se[kept])


def test_nobody_at_all():
    curve = kaplan_meier(time=[], event=[])
    assert math.isnan(curve.at(1).estimate)
    assert math.isnan(curve.at(0).low)
    assert math.isnan(curve.at(0).estimate)
    assert np.isnan(curve.survival).all()
    assert math.isnan(median_follow_up(time=[], event=[]).estimate)


@pytest.mark.parametrize("time", [[1, -1], [1, math.nan], [1, math.inf]])
def test_impossible_times_are_refused(time):
    with pytest.raises(ValueError, match=r"time\[1\] is .*: must be a finite number, 0 or more"):
        kaplan_meier(time=time, event=[1, 0])


@pytest.mark.parametrize(
    "given, said",
    [
        ({"event": [1, math.nan]}, r"event\[1\] is nan: must be 0 or 1"),
        ({"event": [1, 2]}, r"event\[1\] is 2: must be 0 or 1"),
        ({"event": [1]}, "event has 1 values and time has 2"),
        ({"weight": [0, 0]}, "weight is 0 for every row"),
        ({"weight": [1, -1]}, r"weight\[1\] is -1"),
        ({"confidence_level": 95}, "confidence_level is 95: must lie between 0 and 1"),
    ],
)
def test_impossible_input_is_refused(given, said):
    with pytest.raises(ValueError, match=said):
        kaplan_meier(**{"time": [1, 2], "event": [1, 0], **given})
    with pytest.raises(ValueError, match="t is nan"):
        kaplan_meier(time=[1, 2], event=[1, 0]).at(math.nan)


@given(st.lists(st.tuples(st.floats(0, 1e6), st.booleans()), min_size=1, max_size=20))
@settings(deadline=None)
def test_times_of_any_kind_count_as_their_ranks_do(lids):
    """Fractions are counted by another way than whole days: the curve may only depend on the order of the times."""
    time, event = (np.array(column) for column in zip(*lids, strict=True))
    places = np.unique(np.append(time, 0.0), return_inverse=True)[1][:-1]
    ours, ranked = kaplan_meier(time=time, event=event), kaplan_meier(time=places, event=event)
    weighted = kaplan_meier(time=time, event=event, weight=np.ones(time.size))
    for field in ("survival", "low", "high", "at_risk", "events", "standard_error"):
        assert getattr(ours, field) == pytest.approx(getattr(ranked, field), nan_ok=True, abs=1e-12)
        assert getattr(ours, field) == pytest.approx(getattr(weighted, field), nan_ok=True, abs=1e-12)
    assert ours.time.tolist() == np.unique(np.append(time, 0.0)).tolist()


def test_the_curve_carries_its_level():
    assert kaplan_meier(time=[1, 2], event=[1, 0], confidence_level=0.9).confidence_level == 0.9


def test_a_weight_for_each_row():
    with pytest.raises(ValueError, match="weight has 1 values and time has 2"):
        kaplan_meier(time=[1, 2], event=[1, 0], weight=[1])


rows = st.lists(st.tuples(st.integers(0, 12), st.booleans(), st.integers(1, 3)), min_size=1, max_size=12)


@given(rows, st.randoms())
@settings(deadline=None)
def test_order_is_irrelevant_and_a_weight_is_a_repetition(lids, shuffler):
    time, event, weight = (np.array(column) for column in zip(*lids, strict=True))
    weighted = kaplan_meier(time=time, event=event, weight=weight)
    repeated = list(zip(np.repeat(time, weight), np.repeat(event, weight), strict=True))
    shuffler.shuffle(repeated)
    written_out = kaplan_meier(time=[t for t, _ in repeated], event=[e for _, e in repeated])
    for field in ("time", "survival", "low", "high", "at_risk", "events", "standard_error"):
        assert getattr(weighted, field) == pytest.approx(getattr(written_out, field), nan_ok=True)


@given(rows)
@settings(deadline=None)
def test_the_curve_only_falls_and_lies_within_its_limits(lids):
    time, event, _ = (np.array(column) for column in zip(*lids, strict=True))
    curve = kaplan_meier(time=time, event=event)
    assert (np.diff(curve.survival) <= 0).all()
    known = ~np.isnan(curve.low)
    assert (curve.low[known] <= curve.survival[known] + 1e-12).all()
    assert (curve.survival[known] <= curve.high[known] + 1e-12).all()
