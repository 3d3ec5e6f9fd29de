"""What an outcome is in a lid: a poor result at its boundary, a score, and a revised lid."""

from dataclasses import replace

import numpy as np
import pytest

from outcomes.findings.outcomes import counting_revision, is_poor, more_is_worse, outcome_values, outcomes_of
from outcomes.protocol import Threshold, default_protocol
from tests.findings.lids import lids

PROTOCOL = default_protocol()
NOTCH, SATISFACTION, ENTROPION, OEDEMA, MARGIN = (
    PROTOCOL.measure(name) for name in ("notching", "satisfaction", "entropion", "oedema", "margin_position")
)


def test_poor_from_the_bound_on_and_never_where_not_measured():
    assert is_poor(np.array([0.9, 1.0, np.nan]), Threshold(at_least=1)).tolist() == [False, True, False]
    assert is_poor(np.array([6.0, 7.0, np.nan]), Threshold(at_most=6)).tolist() == [True, False, False]


@pytest.mark.parametrize("measure, window, outcomes", [
    (NOTCH, "six_months", ("main", "poor")),
    (OEDEMA, "six_months", ("main", "value", "poor")),
    (OEDEMA, "six_weeks", ("main", "value")),
    (ENTROPION, "six_months", ("main",)),
    (MARGIN, "six_months", ("main",)),
])  # fmt: skip
def test_which_outcomes_a_measure_has(measure, window, outcomes):
    assert outcomes_of(measure, PROTOCOL.window(window), PROTOCOL) == outcomes


def test_a_score_is_higher_where_the_lid_is_better():
    some = lids([0, 2], [1, 3])
    assert outcome_values(some, OEDEMA, "value").tolist() == [0, -2, -1, -3]
    assert outcome_values(some, SATISFACTION, "value").tolist() == [0, 2, 1, 3]
    assert not more_is_worse(OEDEMA, "value")
    assert more_is_worse(SATISFACTION, "poor")
    assert not more_is_worse(SATISFACTION, "main")


def test_a_revised_lid_counts_as_seen_or_as_no_better_than_poor():
    some = lids([0, 0.5, 2], [0, None], revised=[0, 2])
    assert counting_revision(some, NOTCH, "as seen").tolist()[:4] == [0, 0.5, 2, 0]
    assert counting_revision(some, NOTCH, "poor").tolist()[:4] == [1, 0.5, 2, 0]
    assert counting_revision(lids([9, 3], [9], revised=[0, 1]), SATISFACTION, "poor").tolist() == [6, 3, 9]
    poor = outcome_values(some, replace(NOTCH, after_revision="poor"), "poor")
    assert poor[:4].tolist() == [1, 0, 1, 0]
    assert np.isnan(poor[4])
