"""Checks of what an estimator is given. Each refuses with the argument, what was given and what is allowed."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]


def check_confidence_level(confidence_level: float) -> float:
    """Return the level; ValueError unless it lies above 0 and below 1.

    >>> check_confidence_level(95)
    Traceback (most recent call last):
    ValueError: confidence_level is 95: must lie between 0 and 1, such as 0.95
    """
    if not 0 < confidence_level < 1:
        raise ValueError(f"confidence_level is {confidence_level}: must lie between 0 and 1, such as 0.95")
    return confidence_level


def check_lengths(**column: npt.ArrayLike | None) -> None:
    """Raise ValueError unless every column that is given is a flat list with as many entries as the first.

    >>> check_lengths(time=[1, 2, 3], event=[0, 1])
    Traceback (most recent call last):
    ValueError: event has 2 values and time has 3: must be one of each for every row
    """
    shapes = {name: np.shape(values) for name, values in column.items() if values is not None}
    for name, shape in shapes.items():
        if len(shape) != 1:
            raise ValueError(f"{name} has {len(shape)} dimensions: must be a flat list, one value a row")
    (first, (rows,)), *others = shapes.items()
    for name, (found,) in others:
        if found != rows:
            raise ValueError(f"{name} has {found} values and {first} has {rows}: must be one of each for every row")


def check_finite(name: str, values: npt.ArrayLike, *, least: float = -math.inf, most: float = math.inf) -> FloatArray:
    """Return the values as floats; ValueError unless every one is a finite number from `least` to `most`.

    >>> check_finite("time", [3, float("nan")], least=0)
    Traceback (most recent call last):
    ValueError: time[1] is nan: must be a finite number, 0 or more
    """
    numbers = _floats(name, values)
    allowed = np.isfinite(numbers)
    if least > -math.inf:
        allowed &= numbers >= least
    if most < math.inf:
        allowed &= numbers <= most
    _refuse_first(name, numbers, allowed, "must be a finite number" + _range(least, most))
    return numbers


def check_weights(weight: npt.ArrayLike | None, rows: int) -> FloatArray:
    """Return the weights, 1 each where there are none; ValueError unless finite, 0 or more, and not all 0.

    >>> check_weights([0, 0], 2)
    Traceback (most recent call last):
    ValueError: weight is 0 for every row: must be above 0 for at least one
    """
    if weight is None:
        return np.ones(rows)
    weights = check_finite("weight", weight, least=0)
    if weights.shape != (rows,):
        raise ValueError(f"weight has {weights.size} values: must be one for every row, and there are {rows} rows")
    if rows and not weights.any():
        raise ValueError("weight is 0 for every row: must be above 0 for at least one")
    return weights


def check_yes_no(name: str, values: npt.ArrayLike) -> BoolArray:
    """Return the values as booleans; ValueError unless every one is 0 or 1, or false or true.

    >>> check_yes_no("event", [0, 1, 2])
    Traceback (most recent call last):
    ValueError: event[2] is 2: must be 0 or 1
    """
    answers = np.asarray(values)
    if answers.dtype.kind == "b":
        return answers.astype(np.bool_)
    numbers = _floats(name, answers)
    _refuse_first(name, numbers, (numbers == 0) | (numbers == 1), "must be 0 or 1")
    return np.asarray(numbers != 0)


def check_whole(name: str, values: npt.ArrayLike, *, least: int = 0, most: int = 2**53) -> npt.NDArray[np.int64]:
    """Return the values as whole numbers; ValueError unless every one is a whole number from `least` to `most`.

    >>> check_whole("cause", [0, 1.7])
    Traceback (most recent call last):
    ValueError: cause[1] is 1.7: must be a whole number, 0 or more
    """
    numbers = _floats(name, values)
    allowed = (numbers >= least) & (numbers <= most) & (numbers == np.rint(numbers))
    rule = f", {least} or more" if most == 2**53 else f" from {least} to {most}"
    _refuse_first(name, numbers, allowed, f"must be a whole number{rule}")
    return numbers.astype(np.int64)


def check_labels(name: str, label: npt.ArrayLike | None, rows: int) -> npt.NDArray[np.generic]:
    """Return a label for each row, a label of its own where there are none; ValueError for a missing one.

    Labels are whatever can be told apart and sorted: names or numbers, not both.

    >>> check_labels("patient", ["a", None], 2)
    Traceback (most recent call last):
    ValueError: patient[1] is None: must be a label, as every row belongs to somebody
    """
    if label is None:
        return np.arange(rows)
    labels = np.asarray(label)
    if labels.shape != (rows,):
        raise ValueError(f"{name} has {labels.size} values: must be one for every row, and there are {rows} rows")
    if labels.dtype.kind in "fc":
        known = ~np.isnan(labels)
    elif labels.dtype.kind == "O":
        known = np.array([each is not None and each == each for each in labels], dtype=np.bool_)  # noqa: PLR0124 - nan
    else:
        return labels
    _refuse_first(name, labels, known, "must be a label, as every row belongs to somebody")
    return labels


def numbered(labels: npt.NDArray[np.generic]) -> npt.NDArray[np.intp]:
    """Return the place of each label among the different ones in order, from 0; quick for whole numbers close together.

    >>> numbered(np.array([7, 5, 7])), numbered(np.array(["b", "a"]))
    (array([1, 0, 1]), array([1, 0]))
    """
    if labels.dtype.kind not in "iu" or not labels.size or int(np.ptp(labels)) > 10 * labels.size:
        return np.asarray(np.unique(labels, return_inverse=True)[1], dtype=np.intp)
    above = (labels - labels.min()).astype(np.intp)
    return np.asarray((np.cumsum(np.bincount(above) > 0) - 1)[above])


def _floats(name: str, values: npt.ArrayLike) -> FloatArray:
    try:
        return np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise ValueError(f"{name} holds something that is not a number: must be numbers only") from None


def _refuse_first(name: str, values: npt.NDArray[np.generic], allowed: npt.NDArray[np.bool_], rule: str) -> None:
    if np.all(allowed):
        return
    place = [int(along[0]) for along in np.nonzero(~np.atleast_1d(allowed))]
    found = np.atleast_1d(values)[tuple(place)]
    shown = f"{found:g}" if isinstance(found, np.floating) else repr(found)
    where = f"{name}{place}" if np.ndim(values) else name
    raise ValueError(f"{where} is {shown}: {rule}")


def _range(least: float, most: float) -> str:
    if least > -math.inf and most < math.inf:
        return f" from {least:g} to {most:g}"
    if least > -math.inf:
        return f", {least:g} or more"
    return f", {most:g} or less" if most < math.inf else ""
