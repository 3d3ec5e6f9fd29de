"""Leaving patients out by derivatives agrees with fitting every model again without each of them."""

import numpy as np
import pytest

from outcomes.statistics import linearised
from outcomes.statistics.augmented_overlap import _outcome_chances, _overlap_shares, overlap_share_difference
from outcomes.statistics.cover_model import CoverModel, cover_model
from outcomes.statistics.inverse_measured import inverse_measured_difference
from outcomes.statistics.linearised_shares import linearised_shares
from outcomes.statistics.log_f_logistic import log_f
from outcomes.statistics.logistic_model import fit_each_left_out
from outcomes.statistics.overlap_mean import overlap_mean_difference
from outcomes.statistics.two_cohorts import two_cohorts
from outcomes.statistics.win_probability import overlap_win_probability

LIDS, PATIENTS = 480, 900


def invented():
    draw = np.random.default_rng(3)
    known = draw.normal(size=(LIDS, 4))
    second = draw.random(LIDS) < 1 / (1 + np.exp(0.4 - 0.6 * known[:, 0]))
    value = 0.5 * known[:, 0] + 0.3 * second + draw.normal(size=LIDS)
    event = (draw.random(LIDS) < 1 / (1 + np.exp(1 - 0.5 * known[:, 1] - 0.4 * second))).astype(float)
    measured = draw.random(LIDS) < 1 / (1 + np.exp(-1 - 0.5 * known[:, 0]))
    lids = two_cohorts(second, draw.integers(0, PATIENTS, LIDS), covariates=known)
    return lids, value, event, np.where(measured, value, np.nan)


def rare(event, second):
    few = np.zeros_like(event)
    few[[*np.flatnonzero(second)[:3], *np.flatnonzero(~second)[:6]]] = 1.0
    return few


def estimates():
    """One of each estimator that leaves patients out."""
    lids, value, event, seen = invented()
    cover = cover_model(lids)
    return {
        "share": overlap_share_difference(event, cover).difference,
        "rare share": overlap_share_difference(rare(event, lids.second), cover).difference,
        "mean": overlap_mean_difference(value, cover),
        "win probability": overlap_win_probability(np.round(value).clip(-1, 2), cover),
        "inverse measured": inverse_measured_difference(seen, lids),
        "all measured": inverse_measured_difference(value, lids),
    }


def test_both_ways_agree(monkeypatch):
    found = estimates()
    monkeypatch.setattr(linearised, "REFITTED_UP_TO", LIDS)
    for name, refitted in estimates().items():
        assert found[name].estimate == pytest.approx(refitted.estimate, abs=1e-9), name
        assert found[name].standard_error == pytest.approx(refitted.standard_error, rel=0.03), name
        assert found[name].standard_error != refitted.standard_error
        assert found[name].p == pytest.approx(refitted.p, abs=0.02), name


@pytest.mark.parametrize("patients,large", [(300, False), (301, True)])
def test_up_to_300_patients_each_is_left_out_in_fact(patients, large):
    lids = two_cohorts([0, 1] * (patients // 2) + [0] * (patients % 2), range(patients))
    assert cover_model(lids).chance.shape[0] == (1 if large else patients + 1)


def test_what_a_lid_does_to_the_shares_is_what_a_little_less_of_it_does():
    """The derivative, by counting one lid a little less in both models."""
    draw = np.random.default_rng(8)
    known, second = draw.normal(size=(LIDS, 3)), draw.random(LIDS) < 0.4
    event = (draw.random(LIDS) < 1 / (1 + np.exp(1 - known[:, 1] - 0.8 * second))).astype(float)
    lids, less = two_cohorts(second, range(LIDS), covariates=known), 1e-5
    of_all = cover_model(lids)
    counted = np.ones((5, LIDS))
    counted[np.arange(1, 5), [3, 50, 200, 479]] -= less
    chance = 1 / (
        1 + np.exp(-fit_each_left_out(of_all.of_all, counted) @ lids.columns.dense()[:, of_all.of_all.places].T)
    )
    fewer = CoverModel(lids, counted, chance, of_all.of_all)
    for augmented in (True, False):
        shares = _overlap_shares(event, fewer, _outcome_chances(event, fewer, log_f) if augmented else None)
        ours = linearised_shares(event, of_all, augmented=augmented)
        assert shares[0] == pytest.approx(ours[0], abs=1e-9)
        moved = (shares[1:] - shares[0]) / less
        assert moved == pytest.approx((ours[1:] - ours[0])[[3, 50, 200, 479]], rel=1e-3, abs=1e-6)
