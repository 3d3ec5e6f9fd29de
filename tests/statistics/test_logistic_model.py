"""The model of all lids: groups of lids, a start from a part of them, and another program's fit with the penalty's rows."""

import numpy as np
import pytest
import statsmodels.api as sm

from outcomes.statistics import design_matrix, logistic_model
from outcomes.statistics.design_matrix import COVER
from outcomes.statistics.logistic_model import all_but_cover, all_columns

LIDS, GROUPS = 2000, 4


@pytest.fixture(params=[0, 10_000], ids=["groups", "a column a group"])
def columns(request, monkeypatch):
    monkeypatch.setattr(design_matrix, "FEWEST_A_GROUP", request.param)
    rng = np.random.default_rng(9)
    series = design_matrix.design_matrix(rng.normal(size=(LIDS, 3)), rng.integers(0, GROUPS, LIDS))
    return series.of_lids(np.ones(LIDS, dtype=bool), rng.random(LIDS) < 0.5).standardised()[0]


def outcome_of(columns):
    told = columns.dense()
    odds = 0.3 * told[:, 1] + 0.8 * told[:, 2] - 0.5 * told[:, 5]
    return (np.random.default_rng(2).random(LIDS) < 1 / (1 + np.exp(-odds))).astype(float)


@pytest.mark.parametrize("part", [100, 10_000], ids=["from a part", "from nothing"])
@pytest.mark.parametrize("places_of", [all_columns, all_but_cover])
def test_another_program_fits_the_same(columns, places_of, part, monkeypatch):
    monkeypatch.setattr(logistic_model, "PART", part)
    outcome, places = outcome_of(columns), places_of(columns)
    ours = logistic_model.logistic_model(columns, outcome, places)
    theirs = columns.dense()[:, places]
    slopes = places.size - 1
    rows = np.vstack([theirs, np.hstack([np.zeros((slopes, 1)), np.eye(slopes)])])
    events = np.concatenate([outcome, np.full(slopes, 0.5)])
    fit = sm.GLM(np.column_stack([events, 1 - events]), rows, family=sm.families.Binomial()).fit(tol=1e-14)
    assert ours.coefficients[places] == pytest.approx(fit.params, abs=1e-8)
    assert (ours.coefficients[COVER] == 0) == (places.size < columns.size)
    assert ours.chance == pytest.approx(fit.predict(theirs), abs=1e-8)
    assert np.linalg.inv(ours.information) == pytest.approx(fit.cov_params(), rel=1e-6, abs=1e-12)


def test_what_a_lid_does_is_what_a_little_less_of_it_does(columns):
    """The derivative, by counting one lid a little less; the slope asked for is that of the first characteristic."""
    outcome = outcome_of(columns)
    model = logistic_model.logistic_model(columns, outcome, all_columns(columns))
    slope = np.eye(columns.size)[2]
    counted = np.ones((3, LIDS))
    counted[1, 7] = counted[2, 1900] = 1 - 1e-3
    moved = logistic_model.fit_each_left_out(model, counted)[:, 2] - model.coefficients[2]
    assert -1e3 * moved[1:] == pytest.approx(model.influence(slope)[[7, 1900]], rel=1e-2)


def test_where_it_starts_it_ends_the_same(columns, monkeypatch):
    outcome, places = outcome_of(columns), all_columns(columns)
    plain = logistic_model.logistic_model(columns, outcome, places).coefficients
    climbed = []
    climb = logistic_model._climbed
    monkeypatch.setattr(logistic_model, "PART", 200)
    monkeypatch.setattr(logistic_model, "_climbed", lambda model: climbed.append(climb(model)) or climbed[-1])
    assert logistic_model.logistic_model(columns, outcome, places).coefficients == pytest.approx(plain, abs=1e-9)
    part, _ = climbed
    assert part.outcome.size == 200
    assert part.coefficients == pytest.approx(plain, abs=0.6)  # as near as 200 of the same lids come
    assert not np.allclose(part.coefficients, plain, atol=1e-4)


def test_lids_all_alike_have_no_model(columns):
    nothing = logistic_model.logistic_model(columns, np.zeros(LIDS), all_columns(columns))
    assert not nothing.settled
    assert np.isnan(nothing.chance).all()
