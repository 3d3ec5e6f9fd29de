"""How does a test make the lids of one question from a few values?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from outcomes.cohort import MISSING, SEEN
from outcomes.findings.arrays import Lids
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import Adjustment
from outcomes.protocol import default_protocol

LEVEL = 0.95
NOTCH = default_protocol().measure("notching")
"""A measure in millimetres, poor from 1 mm on."""


def lids(grafted, advanced, *, last=(), patient=None, planned=None):
    """Lids with these values, None for one that was due and not seen; `last` tells what those were before, in order."""
    values = [*grafted, *advanced]
    value = np.array([np.nan if each is None else each for each in values], dtype=float)
    known, earlier = value.copy(), list(last)
    for place in np.flatnonzero(np.isnan(value)):
        known[place] = earlier.pop(0) if earlier else np.nan
    second = np.array([False] * len(grafted) + [True] * len(advanced))
    return Lids(
        second,
        second if planned is None else np.array(planned, dtype=bool),
        np.arange(len(values)) if patient is None else np.array(patient),
        value,
        known,
        np.where(np.isnan(value), MISSING, SEEN),
    )


def with_status(some, place, status):
    """The same lids with another reason why one of them was not seen."""
    states = some.status.astype(object)
    states[place] = status
    return replace(some, status=states.astype(str))


def unadjusted():
    """A choice of cover that could not be modelled."""
    return CoverChoice(
        Adjustment(False, (), (), False, None, None, 0, "not tried"), None, np.empty((0, 0)), None, np.empty((0, 0))
    )


def weighed(weight, resampled):
    """A choice of cover with given weights, and given weights in each resample."""
    adjustment = Adjustment(True, ("Defect height",), (), False, 1.0, 1.0, len(resampled), "")
    counts = np.ones_like(np.asarray(resampled, dtype=float))
    return CoverChoice(
        adjustment, np.asarray(weight, dtype=float), counts, np.asarray(resampled, dtype=float), np.empty((0, 0))
    )
