"""Proportions of lids that share patients, against published design effects and what must hold."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.statistics.clusters import (
    effective_difference,
    effective_proportion,
    independent_lids,
    likeness,
    rao_scott_design_effect,
)
from outcomes.statistics.difference import newcombe
from outcomes.statistics.proportion import wilson
from tests.reference import close_enough, reference_case

CASES = ("n01_cluster_rats", "n03_cluster_cbpp", "n05_cluster_eyes", "n06_cluster_edges")

# Patients with one to three lids each, as (events, lids).
patients = st.lists(
    st.integers(1, 3).flatmap(lambda lids: st.tuples(st.integers(0, lids), st.just(lids))), min_size=1, max_size=30
)


def lids_of(counts):
    """One entry a lid, from (events, lids) a patient."""
    event = [place < events for events, lids in counts for place in range(lids)]
    patient = [number for number, (_, lids) in enumerate(counts) for _ in range(lids)]
    return np.array(event, dtype=float), np.array(patient)


def effective_counts(group):
    """Our design effect and interval of one group of a case; what is arithmetic of the test's own is not compared."""
    event, patient = lids_of(list(zip(group["events"], group["size"], strict=True)))
    share, effect = event.mean(), rao_scott_design_effect(event, patient)
    n = event.size / effect
    limits = None if math.isnan(effect) else (wilson(share * n, n).low, wilson(share * n, n).high)
    return {"deff": effect, "wilson_effective": limits}, (share * n, n)


@pytest.mark.parametrize("name", CASES)
def test_reference(name):
    case = reference_case(name)
    for key, groups in case.input["data"].items():
        ours = {group: effective_counts(counts) for group, counts in groups.items()}
        for group, (numbers, _) in ours.items():
            expected = case.expected[key]["groups"][group]
            for number, value in numbers.items():
                if expected[number] is None:
                    assert value is None or math.isnan(value)
                else:
                    assert close_enough(value, expected[number], case.tolerance)
        comparison = case.expected[key].get("comparison", {})
        if comparison.get("newcombe_effective") is not None:
            (_, first), (_, second) = ours.values()  # the case subtracts its second group from its first
            gap = newcombe(second, first)
            assert close_enough(gap.estimate, comparison["difference"], case.tolerance)
            assert close_enough((gap.low, gap.high), comparison["newcombe_effective"], case.tolerance)


@given(st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_one_lid_a_patient_is_the_plain_score_interval(counts):
    events, n = counts
    ours, plain = effective_proportion([1] * events + [0] * (n - events), range(n)), wilson(events, n)
    assert (ours.events, ours.n, ours.effective_n) == (events, n, n)
    assert (ours.estimate, ours.low, ours.high) == pytest.approx((plain.estimate, plain.low, plain.high), abs=1e-12)


@given(patients)
def test_sharing_patients_never_adds_knowledge(counts):
    event, patient = lids_of(counts)
    ours = effective_proportion(event, patient)
    fewest = event.size**2 / sum(lids**2 for _, lids in counts)  # as if the lids of one patient were one
    assert fewest - 1e-9 <= ours.effective_n <= event.size + 1e-9
    plain = wilson(event.sum(), event.size)
    assert ours.low <= plain.low + 1e-12
    assert ours.high >= plain.high - 1e-12


def test_two_lids_that_always_agree_count_as_one():
    paired = effective_proportion([1, 1, 0, 0, 1, 1, 0, 0, 0, 0], [1, 1, 2, 2, 3, 3, 4, 4, 5, 5])
    alone = wilson(2, 5)
    assert paired.effective_n == pytest.approx(5)
    assert (paired.low, paired.high) == pytest.approx((alone.low, alone.high))


@pytest.mark.parametrize("event", [0, 1])
def test_no_events_or_nothing_but_events_in_pairs(event):
    # Ten lids of six patients, four of them with two: squares 4 x 4 + 2 = 18, so that they know as much as 100 / 18.
    ours = effective_proportion([event] * 10, [1, 1, 2, 2, 3, 3, 4, 4, 5, 6])
    assert ours.effective_n == pytest.approx(100 / 18)
    assert ours.estimate == event
    assert (ours.low == 0) if event == 0 else (ours.high == 1)
    assert (ours.high if event == 0 else 1 - ours.low) == pytest.approx(wilson(0, 100 / 18).high)


def test_likeness_by_hand():
    # Four pairs, each with one event: the share is 1/2, the products within pairs are all -1/4, the correlation is -1.
    # Raised from 0 by one over the root of four pairs.
    assert likeness([1, 0, 1, 0, 1, 0, 1, 0], [1, 1, 2, 2, 3, 3, 4, 4]) == pytest.approx(0.5)
    # Nine pairs that agree but for three: products 6/4 - 3/4 over 9/4 make a third, and a third more is two thirds.
    events = [1, 1] * 3 + [0, 0] * 3 + [1, 0] * 3
    assert likeness(events, np.repeat(np.arange(9), 2)) == pytest.approx(2 / 3)
    assert likeness([1, 0, 1], ["a", "b", "c"]) == 0
    assert likeness([1, 0], ["a", "a"]) == 1


@given(patients, st.floats(0.01, 100), st.randoms(use_true_random=False))
def test_order_labels_and_the_unit_of_the_weights_do_not_matter(counts, unit, random):
    event, patient = lids_of(counts)
    weight = np.array([random.uniform(0.05, 1) for _ in event])
    order = random.sample(range(event.size), event.size)
    ours = effective_proportion(event, patient, weight=weight)
    other = effective_proportion(
        event[order], [f"patient {label}" for label in patient[order]], weight=unit * weight[order]
    )
    assert ours.effective_n == pytest.approx(other.effective_n)
    assert (ours.estimate, ours.low, ours.high) == pytest.approx((other.estimate, other.low, other.high), abs=1e-9)


def test_weights_by_hand():
    # Weights 1, 1, 2 of three patients: 16 / 6; the first two being one patient: 16 / ((1 + 1)^2 + 4); half-way 16 / 7.
    assert independent_lids([1, 1, 2], [1, 2, 3], alike=1.0) == pytest.approx(16 / 6)
    assert independent_lids([1, 1, 2], [1, 1, 3], alike=1.0) == pytest.approx(2)
    assert independent_lids([1, 1, 2], [1, 1, 3], alike=0.5) == pytest.approx(16 / 7)
    weighted = effective_proportion([1, 0, 0], [1, 2, 3], weight=[1, 1, 2])
    expected = wilson(0.25 * 16 / 6, 16 / 6)
    assert (weighted.estimate, weighted.low, weighted.high) == pytest.approx((0.25, expected.low, expected.high))


def test_nothing_observed():
    nothing = effective_proportion([], [])
    assert (nothing.events, nothing.n, nothing.effective_n) == (0, 0, 0)
    assert all(math.isnan(part) for part in (nothing.estimate, nothing.low, nothing.high))
    assert math.isnan(effective_difference(nothing, effective_proportion([1], [1])).low)


def test_the_level_is_carried_and_two_levels_are_not_mixed():
    wide, narrow = (effective_proportion([1, 0], [1, 2], confidence_level=level) for level in (0.99, 0.95))
    assert wide.interval.confidence_level == 0.99
    assert effective_difference(wide, wide).confidence_level == 0.99
    with pytest.raises(ValueError, match=r"confidence levels \[0.95, 0.99\]: must have the same"):
        effective_difference(wide, narrow)


@pytest.mark.parametrize(
    "call, message",
    [
        (lambda: effective_proportion([1, 0], [1, 2], weight=[0, 0]), "weight is 0 for every row"),
        (lambda: effective_proportion([1, 0], [1, 2], weight=[1, -1]), r"weight\[1\] is -1"),
        (lambda: effective_proportion([1, 0], [1, 2], weight=[1, math.nan]), r"weight\[1\] is nan"),
        (lambda: effective_proportion([1, 0.5], [1, 2]), r"event\[1\] is 0.5: must be 0 or 1"),
        (lambda: effective_proportion([1, math.nan], [1, 2]), r"event\[1\] is nan"),
        (lambda: effective_proportion([1, 0], [1]), "patient has 1 values and event has 2"),
        (lambda: effective_proportion([1, 0], ["a", None]), r"patient\[1\] is None"),
        (lambda: effective_proportion([1, 0], [1, 2], confidence_level=95), "confidence_level is 95"),
        (lambda: rao_scott_design_effect([1, math.nan], [1, 2]), r"score\[1\] is nan"),
        (lambda: likeness([1, 0], [1]), "patient has 1 values"),
        (lambda: independent_lids([-1, 1], [1, 2], alike=0.5), r"weight\[0\] is -1"),
        (lambda: independent_lids([1, 1], [1, 2], alike=2), "alike is 2"),
    ],
)
def test_impossible_input_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_the_difference_of_lone_lids_is_that_of_print():
    # Newcombe RG. Stat Med 1998;17:873-890, Table II, example (d): 5/56 minus 0/29.
    first = effective_proportion([0] * 29, range(29))
    second = effective_proportion([1] * 5 + [0] * 51, range(56))
    gap = effective_difference(first, second)
    assert (round(gap.low, 4), round(gap.high, 4)) == (-0.0381, 0.1926)
