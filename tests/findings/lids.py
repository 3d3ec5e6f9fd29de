"""The lids of one outcome, made from a few values."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from outcomes.cohort import MISSING, SEEN, STATUSES
from outcomes.findings.arrays import Lids
from outcomes.findings.sample import Sample
from outcomes.protocol import default_protocol
from outcomes.statistics.design_matrix import design_matrix

PROTOCOL = default_protocol()
RULES = PROTOCOL.rules


def lids(grafted, advanced, *, patient=None, planned=None, revised=(), step=0.5):
    """Lids with these values, None for one that was due and not measured; `revised` lists the places of revised ones."""
    values = [*grafted, *advanced]
    value = np.array([np.nan if each is None else each for each in values], dtype=float)
    second = np.array([False] * len(grafted) + [True] * len(advanced))
    return Lids(
        second,
        second if planned is None else np.array(planned, dtype=bool),
        np.arange(len(values)) if patient is None else np.array(patient),
        value,
        np.isin(np.arange(len(values)), list(revised)),
        np.where(np.isnan(value), STATUSES.index(MISSING), STATUSES.index(SEEN)),
        step,
    )


def sample(some, *columns):
    """The measured ones of these lids, with these characteristics (an entry a lid of all)."""
    matrix = np.column_stack(columns) if columns else np.empty((some.second.size, 0))
    return Sample(
        some.second[some.seen], some.patient[some.seen], design_matrix(matrix.astype(float)), some.seen, RULES
    )


def with_status(some, place, status):
    """The same lids with another reason why one of them was not measured."""
    states = some.status.copy()
    states[place] = STATUSES.index(status)
    return replace(some, status=states)
