"""Impossible input of an estimator: refused with the argument, what was given and what is allowed."""

import math

import numpy as np
import pytest

from outcomes.statistics.validation import (
    check_confidence_level,
    check_finite,
    check_labels,
    check_lengths,
    check_weights,
    check_whole,
    check_yes_no,
)

NAN = math.nan


@pytest.mark.parametrize("level", [0, 1, 95, -0.5, NAN, math.inf])
def test_a_confidence_level_lies_between_0_and_1(level):
    with pytest.raises(ValueError, match=f"confidence_level is {level}: must lie between 0 and 1"):
        check_confidence_level(level)
    assert check_confidence_level(0.9) == 0.9


@pytest.mark.parametrize(
    "check, said",
    [
        (lambda: check_finite("time", [1, NAN]), r"time\[1\] is nan: must be a finite number$"),
        (lambda: check_finite("time", [-1], least=0), r"time\[0\] is -1: must be a finite number, 0 or more"),
        (lambda: check_finite("share", [0, 1.5], least=0, most=1), r"share\[1\] is 1.5: .* from 0 to 1"),
        (lambda: check_finite("time", ["soon"]), "time holds something that is not a number"),
        (lambda: check_finite("until", math.inf), r"until is inf: must be a finite number"),
        (lambda: check_weights([1, -1], 2), r"weight\[1\] is -1: must be a finite number, 0 or more"),
        (lambda: check_weights([0, 0], 2), "weight is 0 for every row"),
        (lambda: check_weights([1], 2), "weight has 1 values: .* 2 rows"),
        (lambda: check_weights([NAN, 1], 2), r"weight\[0\] is nan"),
        (lambda: check_yes_no("event", [0, NAN]), r"event\[1\] is nan: must be 0 or 1"),
        (lambda: check_yes_no("event", [2]), r"event\[0\] is 2: must be 0 or 1"),
        (lambda: check_whole("cause", [1.7]), r"cause\[0\] is 1.7: must be a whole number, 0 or more"),
        (lambda: check_whole("cause", [-1]), r"cause\[0\] is -1"),
        (lambda: check_whole("cause", 0, least=1), "cause is 0: must be a whole number, 1 or more"),
        (lambda: check_whole("cause", [1e300]), r"cause\[0\] is 1e\+300"),
        (lambda: check_labels("patient", [1.0, NAN], 2), r"patient\[1\] is nan: must be a label"),
        (lambda: check_labels("patient", ["a", None], 2), r"patient\[1\] is None: must be a label"),
        (lambda: check_labels("patient", ["a"], 2), "patient has 1 values: .* 2 rows"),
        (lambda: check_lengths(time=[1, 2], event=[1]), "event has 1 values and time has 2"),
        (lambda: check_lengths(time=[[1, 2]]), "time has 2 dimensions"),
        (lambda: check_lengths(time=3.0), "time has 0 dimensions"),
    ],
)
def test_what_is_refused(check, said):
    with pytest.raises(ValueError, match=said):
        check()


def test_what_passes():
    check_lengths(time=[1, 2], event=[0, 1], weight=None)
    assert check_weights(None, 3).tolist() == [1, 1, 1]
    assert check_weights([], 0).tolist() == []
    assert check_weights([0, 1e-10], 2).tolist() == [0, 1e-10]
    assert check_yes_no("event", [0, 1.0, True]).tolist() == [False, True, True]
    assert check_whole("cause", [2.0, 0]).dtype == np.int64
    assert check_labels("patient", None, 2).tolist() == [0, 1]
    assert check_labels("patient", ["b", "a"], 2).tolist() == ["b", "a"]


def test_a_number_in_several_columns_is_named_by_row_and_column():
    with pytest.raises(ValueError, match=r"covariates\[1, 0\] is nan: must be a finite number"):
        check_finite("covariates", [[1.0, 2.0], [math.nan, 3.0]])
