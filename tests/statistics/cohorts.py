"""Lids of two cohorts for the tests of adjusted differences."""

from fractions import Fraction

import numpy as np
from scipy import special

from outcomes.statistics.cover_model import CoverModel
from outcomes.statistics.design_matrix import DesignMatrix
from outcomes.statistics.logistic_model import LogisticModel
from outcomes.statistics.two_cohorts import TwoCohorts, two_cohorts


def ridge(strength):
    return lambda slopes: (-strength * slopes, np.full_like(slopes, strength))


def as_given(second, patient, covariates):
    """Lids whose characteristics are used as they are, as the reference values were computed."""
    _, place = np.unique(patient, return_inverse=True)
    later = np.array(second) == 1
    numbers = np.column_stack([np.ones(later.size), later, covariates]).astype(float)
    nothing = np.zeros(numbers.shape[1])
    columns = DesignMatrix(numbers, np.array([0, later.size]), np.arange(later.size), nothing, nothing + 1)
    return TwoCohorts(later, place, columns)


def constant_cover(e, second):
    rows = np.array([[float(Fraction(each)) for each in e]])
    lids = as_given(second, range(len(e)), np.zeros((len(e), 0)))
    return CoverModel(lids, np.ones_like(rows), rows, LogisticModel(lids.columns, [0], lids.second, np.zeros(2)))


def reference_lids(case):
    data = case.input["data"]
    rows = len(data[case.input["cover"]])
    patient = data.get(case.input["cluster"], range(rows))
    return as_given(data[case.input["cover"]], patient, np.column_stack([data[k] for k in case.input["covariates"]]))


def confounded(seed, each=40, effect=0.0):
    rng = np.random.default_rng(seed)
    covariates = rng.normal(size=(2 * each, 3))
    second = np.argsort(np.argsort(covariates[:, 0] + rng.normal(size=2 * each) * 1.2)) >= each
    chance = special.expit(-0.5 + covariates[:, 0] + effect * second)
    return rng.random(2 * each) < chance, two_cohorts(second, range(2 * each), covariates=covariates)
