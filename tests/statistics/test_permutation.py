"""Permutation of patients, against full enumeration, other programs and what must hold."""

import itertools
import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import fisher_exact, norm, rankdata

from outcomes.statistics.permutation import midranks, permute_patients
from tests.reference import close_enough, reference_case

# Lids as (half points, second cover, patient): few patients, so that some have two lids, of one cover or of both.
lids = st.lists(st.tuples(st.integers(0, 4), st.booleans(), st.integers(0, 6)), min_size=2, max_size=10)


def by_enumeration(score, second, patient):
    """A second implementation, in fractions: every choice of patients and every swap, one at a time."""
    score = [Fraction(value) for value in score]
    covers = {
        label: {later for later, whose in zip(second, patient, strict=True) if whose == label} for label in patient
    }
    whole = [label for label in covers if len(covers[label]) == 1]
    split = [label for label in covers if len(covers[label]) == 2]
    chosen = sum(covers[label] == {True} for label in whole)

    def gap(now_second):
        later = [value for value, is_later in zip(score, now_second, strict=True) if is_later]
        earlier = [value for value, is_later in zip(score, now_second, strict=True) if not is_later]
        return Fraction(sum(later), len(later)) - Fraction(sum(earlier), len(earlier))

    gaps = []
    for picked in itertools.combinations(whole, chosen):
        for swapped in itertools.product([False, True], repeat=len(split)):
            swap = dict(zip(split, swapped, strict=True))
            gaps.append(
                gap([
                    later != swap[label] if label in swap else label in picked
                    for later, label in zip(second, patient, strict=True)
                ])
            )  # fmt: skip
    return Fraction(sum(abs(each) >= abs(gap(second)) for each in gaps), len(gaps)), len(gaps)


def test_reference_of_whole_patients():
    case = reference_case("n07_permutation_patients")
    for key, register in case.input["sets"].items():
        rows = list(zip(register["events"], register["eyes"], register["treated"], strict=True))
        pooled = permute_patients(
            [place < events for events, eyes, _ in rows for place in range(eyes)],
            [treated for _, eyes, treated in rows for _ in range(eyes)],
            [number for number, (_, eyes, _) in enumerate(rows) for _ in range(eyes)],
        )
        of_patients = permute_patients(
            [events / eyes for events, eyes, _ in rows], register["treated"], range(len(rows))
        )
        for name, ours in (("pooled_difference", pooled), ("mean_of_patient_proportions", of_patients)):
            expected = case.expected[key][name]
            assert ours.exact
            assert close_enough(ours.statistic, expected["observed"], case.tolerance)
            assert close_enough(ours.arrangements, expected["relabellings"], case.tolerance)
            assert close_enough(ours.p, expected["p_two_sided"], case.tolerance)


def test_reference_of_swaps_within_patients():
    case = reference_case("n08_permutation_within_patient")
    for key, pairs in case.input["pairs"].items():
        ours = permute_patients(
            [value for pair in pairs for value in pair], [True, False] * len(pairs), np.repeat(range(len(pairs)), 2)
        )
        expected = case.expected[key]
        assert close_enough(ours.statistic * len(pairs), expected["sum_of_differences"], case.tolerance)
        assert close_enough(ours.arrangements, expected["assignments"], case.tolerance)
        assert close_enough(ours.p, expected["p_two_sided"], case.tolerance)


def test_litters_of_any_size():
    # The rat litters of Rao JNK, Scott AJ. Biometrics 1992;48:577-585: counting all 601,080,390 ways to share out the
    # litters gave 0.0889 by another program, where ignoring litters gives 0.0029.
    groups = reference_case("n01_cluster_rats").input["data"]["rats"].values()
    litters = [
        (events, size, treated)
        for treated, group in enumerate(groups)
        for events, size in zip(group["events"], group["size"], strict=True)
    ]
    ours = permute_patients(
        [place < events for events, size, _ in litters for place in range(size)],
        [treated for _, size, treated in litters for _ in range(size)],
        [number for number, (_, size, _) in enumerate(litters) for _ in range(size)],
    )
    assert ours.exact
    assert ours.arrangements == 601_080_390
    assert round(ours.p, 4) == 0.0889


@pytest.mark.parametrize("name", ["c01_mannwhitney_permeability", "c03_mannwhitney_pain", "c05_mannwhitney_asat"])
def test_reference_of_rank_sums(name):
    case = reference_case(name)
    x, y = case.input["x"], case.input["y"]
    ours = permute_patients(
        midranks(x + y), [False] * len(x) + [True] * len(y), range(len(x) + len(y)), limit=1_000_000
    )
    assert ours.exact
    assert close_enough(ours.p, case.expected["p_exact_permutation"], case.tolerance)


def test_reference_of_rank_sums_at_the_edges():
    case = reference_case("c06_mannwhitney_edges")
    for key, groups in case.input["sets"].items():
        x, y = groups["x"], groups["y"]
        ours = permute_patients(midranks(x + y), [False] * len(x) + [True] * len(y), range(len(x) + len(y)))
        assert close_enough(ours.p, case.expected[key]["p_exact_permutation"], case.tolerance)


@settings(max_examples=60)
@given(lids)
def test_every_arrangement_is_counted(rows):
    score, second, patient = (list(column) for column in zip(*rows, strict=True))
    ours = permute_patients(np.array(score) / 2, second, patient)
    if all(second) or not any(second):
        assert math.isnan(ours.p)
        return
    p, arrangements = by_enumeration(score, second, patient)
    assert ours.exact
    assert ours.arrangements == arrangements
    assert ours.p == pytest.approx(float(p), abs=1e-12)


@given(lids, st.randoms(use_true_random=False))
def test_covers_swapped_flip_the_sign_and_order_does_not_matter(rows, random):
    shuffled = random.sample(rows, len(rows))
    ours = permute_patients(*(list(column) for column in zip(*rows, strict=True)))
    score, second, patient = (list(column) for column in zip(*shuffled, strict=True))
    mirror = permute_patients(score, [not later for later in second], patient)
    assert mirror.statistic == pytest.approx(-ours.statistic, abs=1e-12, nan_ok=True)
    assert mirror.p == pytest.approx(ours.p, abs=1e-9, nan_ok=True)


@given(st.integers(0, 25), st.integers(1, 25), st.integers(0, 25), st.integers(1, 25))
def test_lone_lids_and_two_answers_are_the_hypergeometric_test(hits, misses, more_hits, more_misses):
    # The same arrangements as Fisher's test; its two-sided p orders tables by chance and ours by difference, so that
    # they agree where the groups are of one size.
    n = max(hits + misses, more_hits + more_misses)
    first, second = [1] * hits + [0] * (n - hits), [1] * more_hits + [0] * (n - more_hits)
    ours = permute_patients(first + second, [False] * n + [True] * n, range(2 * n))
    table = [[hits, n - hits], [more_hits, n - more_hits]]
    assert ours.p == pytest.approx(fisher_exact(table).pvalue, abs=1e-9)


def test_two_covers_in_every_patient_is_the_sign_test():
    # Seven patients whose lids differ, six of them one way: 2 (1 + 7) / 128.
    ours = permute_patients([1, 0] * 6 + [0, 1] + [1, 1], [True, False] * 8, np.repeat(range(8), 2))
    assert ours.p == pytest.approx(2 * 8 / 128)


def test_a_drawn_p_is_within_its_stated_error_and_the_same_each_time():
    generator = np.random.default_rng(0)
    score = np.round(generator.normal(size=60), 1)
    second, patient = np.arange(60) % 2 == 0, np.arange(60) // 3
    whole = permute_patients(score, second, patient, limit=10_000_000)
    drawn, again = (permute_patients(score, second, patient, limit=1) for _ in range(2))
    assert whole.exact
    assert not drawn.exact
    assert drawn == again
    assert abs(drawn.p - whole.p) < 4 * drawn.monte_carlo_error


def test_a_drawn_p_is_never_nothing():
    drawn = permute_patients(np.arange(60) ** 2, [False] * 30 + [True] * 30, range(60), limit=1)
    assert drawn.p == pytest.approx(1 / 10_000)


def test_an_empty_group_is_not_estimable():
    for second in ([], [True, True], [False]):
        ours = permute_patients([1.0] * len(second), second, range(len(second)))
        assert math.isnan(ours.statistic)
        assert math.isnan(ours.p)
        assert ours.arrangements == 0


@given(st.lists(st.integers(0, 6).map(lambda half: half / 2), max_size=30))
def test_midranks_as_another_program(values):
    assert midranks(values).tolist() == rankdata(values).tolist()


def shifted(patients, shift, seed=7):
    """Values of as many patients, the second half of them that many standard deviations higher."""
    second = np.arange(patients) >= patients // 2
    return np.random.default_rng(seed).normal(size=patients) + shift * second, second, np.arange(patients)


@pytest.mark.parametrize("patients", [5_000, 7_000, 20_000, 50_000])
def test_a_shift_of_one_standard_deviation_is_seen_at_every_size(patients):
    """From some 5,200 values on 64-bit numbers used to overflow (p = 1.0 at 7,000), and at 20,000 it could not be printed."""
    score, second, patient = shifted(patients, 1.0)
    test = permute_patients(midranks(score), second, patient)
    assert test.p == pytest.approx(1 / 10_000)
    assert "inf" in repr(test)


@pytest.mark.parametrize("shape", ["ranks", "values", "pairs", "unequal groups", "both covers"])
def test_a_large_draw_agrees_with_the_normal_curve(shape):
    """A large permutation distribution is normal: z of the sum over its exact permutation variance, by hand."""
    score, second, patient = shifted(6_000, 0.03)
    if shape == "ranks":
        score = midranks(score)
    if shape == "pairs":
        patient = patient // 2
    if shape == "unequal groups":
        second = np.arange(6_000) >= 5_400
        score = score + 0.05 * second
    if shape == "both covers":
        second, patient = np.arange(6_000) % 2 == 1, patient // 2
        score = score + 0.03 * second
    test = permute_patients(score, second, patient)
    sums = np.bincount(patient, score - score.mean())
    if shape == "both covers":
        spread = np.sqrt(sum((score[1::2] - score[::2]) ** 2))
        z = (score[1::2] - score[::2]).sum() / spread
    else:
        chosen, number = np.unique(patient[second]).size, sums.size
        variance = chosen * (number - chosen) / number * sums.var(ddof=1)
        z = (score - score.mean())[second].sum() / np.sqrt(variance)
    assert not test.exact
    assert test.p == pytest.approx(2 * norm.sf(abs(z)), abs=5 * test.monte_carlo_error)


def test_yes_or_no_is_exact_at_any_size():
    """60,000 lids, one a patient: the arrangements of the hypergeometric distribution, by another program."""
    event, second = np.zeros(60_000), np.arange(60_000) % 2 == 0
    event[second] = np.arange(30_000) < 10_300
    event[~second] = np.arange(30_000) < 10_000
    test = permute_patients(event, second, range(60_000))
    assert test.exact
    assert test.p == pytest.approx(fisher_exact([[10_300, 19_700], [10_000, 20_000]]).pvalue, rel=1e-6)


@pytest.mark.parametrize(
    "given, said",
    [
        ({"score": [1, math.nan]}, r"score\[1\] is nan: must be a finite number"),
        ({"score": [1]}, "second has 2 values and score has 1"),
        ({"second": [0, 2]}, r"second\[1\] is 2: must be 0 or 1"),
        ({"patient": [1.0, math.nan]}, r"patient\[1\] is nan"),
        ({"patient": [1]}, "patient has 1 values and score has 2"),
        ({"limit": -1}, "limit is -1: must be a whole number, 0 or more"),
    ],
)
def test_impossible_input_is_refused(given, said):
    with pytest.raises(ValueError, match=said):
        permute_patients(**{"score": [1, 2], "second": [0, 1], "patient": [1, 2], **given})


def test_a_rank_of_nothing_is_refused():
    with pytest.raises(ValueError, match=r"value\[1\] is nan"):
        midranks([1, math.nan])


def test_scores_beyond_any_whole_number_are_told_apart():
    """1e300 and 1 have no common unit: they are compared in millionths of the range."""
    test = permute_patients([1e300, 1, 2, 3e300], [1, 0, 0, 1], range(4))
    assert test.p == pytest.approx(2 / 6)


def test_of_many_patients_sums_are_counted_only_where_that_is_quicker_than_drawing():
    """400 patients with ten kinds of score have too many sums, with two kinds they have few."""
    second = np.tile([False, True], 200)
    drawn = permute_patients(np.arange(400) % 10, second, range(400), draws=999)
    assert (drawn.exact, drawn.p * 1000 == pytest.approx(round(drawn.p * 1000))) == (False, True)
    assert drawn.monte_carlo_error == pytest.approx(math.sqrt(drawn.p * (1 - drawn.p) / 999))
    assert permute_patients(np.arange(400) % 2, second, range(400), draws=999).exact


def test_patients_are_told_apart_by_lids_and_score_also_below_none():
    """A swap of a patient with both covers adds a score below none: such kinds must not be taken for others."""
    score, second, patient = [5, 0, 0, 5, 1, 2, 4, 3], [0, 1, 0, 1, 0, 1, 0, 1], [1, 1, 2, 2, 3, 3, 4, 5]
    means = []
    for swapped in itertools.product([False, True], repeat=3):
        for whole in ([0, 1], [1, 0]):
            cover = [
                each ^ swapped[who - 1] if who <= 3 else whole[who - 4]
                for each, who in zip(second, patient, strict=True)
            ]
            sides = [[s for s, c in zip(score, cover, strict=True) if c == side] for side in (0, 1)]
            means.append(sum(sides[1]) / 4 - sum(sides[0]) / 4)
    observed = (0 + 5 + 2 + 3) / 4 - (5 + 0 + 1 + 4) / 4
    expected = sum(abs(each) >= abs(observed) - 1e-12 for each in means) / len(means)
    assert permute_patients(score, second, patient).p == pytest.approx(expected)
