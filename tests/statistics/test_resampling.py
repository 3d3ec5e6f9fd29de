"""Resampling of patients and the interval made of it, against theory and what must hold."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm, t

from outcomes.statistics.overlap import weighted_difference
from outcomes.statistics.resampling import percentile_interval, resample_patients

lids = st.lists(st.tuples(st.integers(0, 12), st.booleans()), min_size=1, max_size=30)


@given(lids, st.integers(0, 100))
def test_patients_are_drawn_whole_and_each_cohort_keeps_its_number(rows, seed):
    patient, second = (np.array(column) for column in zip(*rows, strict=True))
    drawn = resample_patients(patient, second, resamples=20, seed=seed)
    assert drawn.shape == (20, len(rows))
    covers = {label: frozenset(second[patient == label].tolist()) for label in patient}
    for row in drawn:
        of_patient = {label: set(row[patient == label]) for label in covers}
        assert all(len(counts) == 1 for counts in of_patient.values())
        for pattern in set(covers.values()):
            alike = [label for label in covers if covers[label] == pattern]
            assert sum(of_patient[label].copy().pop() for label in alike) == len(alike)


def test_the_same_seed_gives_the_same_draws():
    arguments = (list("aabcdef"), [0, 1, 0, 0, 1, 1, 1])
    assert np.array_equal(resample_patients(*arguments), resample_patients(*arguments))
    assert not np.array_equal(resample_patients(*arguments), resample_patients(*arguments, seed=3))


def test_the_spread_is_that_of_theory():
    # The variance of a resampled mean is the plain variance over n; of a difference, the sum of two.
    generator = np.random.default_rng(5)
    value, second = generator.normal(size=80), np.arange(80) < 30
    drawn = resample_patients(range(80), second, resamples=20_000)
    gaps = weighted_difference(value, second, drawn)
    theory = value[second].var() / 30 + value[~second].var() / 50
    assert gaps.var() == pytest.approx(theory, rel=0.05)
    assert gaps.mean() == pytest.approx(
        value[second].mean() - value[~second].mean(), abs=4 * math.sqrt(theory / 20_000)
    )


def test_the_interval_of_a_mean_is_nearly_students():
    # Hesterberg TC. Am Stat 2015;69:371-386 (from memory): the widened percentiles bring back what plain ones lose to
    # n - 1 and to the normal curve, so that for normal values the interval is Student's.
    generator = np.random.default_rng(2)
    value = norm.ppf((np.arange(15) + 0.5) / 15)
    drawn = generator.multinomial(15, np.full(15, 1 / 15), size=40_000) @ value / 15
    ours = percentile_interval(value.mean(), drawn, 15)
    half = t.ppf(0.975, 14) * value.std(ddof=1) / math.sqrt(15)
    assert ours.high == pytest.approx(half, rel=0.04)
    assert ours.low == pytest.approx(-half, rel=0.04)


@given(st.lists(st.integers(-6, 6).map(lambda half: half / 2), min_size=1, max_size=60), st.integers(2, 60))
def test_signs_flip_and_limits_are_values_that_occurred(resampled, patients):
    ours = percentile_interval(0.0, resampled, patients)
    mirror = percentile_interval(0.0, [-value for value in resampled], patients)
    assert (ours.low, ours.high) == (-mirror.high, -mirror.low)
    assert {ours.low, ours.high} <= set(resampled)
    assert ours.low <= ours.high


def test_fewer_patients_widen_the_interval():
    resampled = np.linspace(-1, 1, 2001)
    intervals = [percentile_interval(0.0, resampled, patients) for patients in (6, 12, 40, 10_000)]
    widths = [interval.high - interval.low for interval in intervals]
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] == pytest.approx(1.9, abs=0.01)


def test_resamples_that_gave_nothing():
    few = [math.nan] * 4 + [0.0, 1.0] * 48
    many = [math.nan] * 6 + [0.0, 1.0] * 47
    assert percentile_interval(0.5, few, 20).low == 0.0
    assert math.isnan(percentile_interval(0.5, many, 20).low)
    assert math.isnan(percentile_interval(0.5, [], 20).high)
    assert math.isnan(percentile_interval(0.5, [0.0, 1.0], 1).high)
    assert math.isnan(percentile_interval(math.nan, [0.0, 1.0], 20).high)


@pytest.mark.parametrize(
    "given, said",
    [
        ({"second": [0, 2]}, r"second\[1\] is 2: must be 0 or 1"),
        ({"second": [1]}, "second has 1 values and patient has 2"),
        ({"patient": ["a", None]}, r"patient\[1\] is None"),
        ({"resamples": 0}, "resamples is 0: must be a whole number, 1 or more"),
    ],
)
def test_impossible_input_is_refused(given, said):
    with pytest.raises(ValueError, match=said):
        resample_patients(**{"patient": [1, 2], "second": [0, 1], **given})


@pytest.mark.parametrize(
    "patients, level, said",
    [(20, 95, "confidence_level is 95"), (-1, 0.95, "patients is -1"), (2.5, 0.95, "patients is 2.5")],
)
def test_an_impossible_interval_is_refused(patients, level, said):
    with pytest.raises(ValueError, match=said):
        percentile_interval(0.5, [0.0, 1.0], patients, confidence_level=level)
