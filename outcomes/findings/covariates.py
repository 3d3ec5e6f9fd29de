"""The characteristics that a difference is adjusted for, as columns of a model.

They enter in the protocol's order, one for each `cases_per_covariate` lids due in the smaller cohort, but up to five from
half as many lids each; the surgeon comes on top wherever two surgeons did both covers. A missing number takes the mean of
the known ones, a missing yes or no counts as no, and where five lids or more lack one an indicator of that enters beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import polars as pl
from numpy.typing import NDArray

from outcomes.cohort import CaseSeries, column
from outcomes.findings.arrays import Flags, Numbers, second_of
from outcomes.findings.results import LeftOut
from outcomes.protocol import Characteristic, Rules
from outcomes.statistics.design_matrix import DesignMatrix, Places, design_matrix

Names = NDArray[np.str_]
INDICATOR_FROM = 5
AT_HALF_THE_LIDS = 5
CONSTANT = 1e-9


@dataclass(frozen=True)
class Term:
    """One characteristic as the columns that it takes in a model, a row a lid; none where it cannot enter."""

    label: str
    columns: tuple[Numbers, ...]


@dataclass(frozen=True)
class Chosen:
    """The columns that entered, a row a lid of the series, and the labels of what entered and what did not.

    `without_surgeon` holds the columns but for those of the surgeon.
    """

    columns: DesignMatrix
    without_surgeon: tuple[Numbers, ...]
    used: tuple[str, ...]
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True)
class Covariates:
    """What can be adjusted for in a series.

    `surgeon` is the number of the surgeon of each lid, from 0, where several did both covers often enough (all others count
    as one; empty otherwise), and `stratum` the name ("" if not recorded).
    `one_surgeon_a_cover` tells that no surgeon did both, so that surgeon and cover are one.
    """

    terms: tuple[Term, ...]
    surgeon_label: str
    surgeon: Places
    stratum: Names
    several_surgeons: bool
    one_surgeon_a_cover: bool
    rules: Rules
    _chosen: dict[int, Chosen] = field(default_factory=dict, compare=False, repr=False)

    def __getstate__(self) -> dict[str, object]:
        """What another process is sent: without what was chosen, which may change meanwhile and is chosen again there."""
        return {**self.__dict__, "_chosen": {}}

    @cached_property
    def surgeons(self) -> tuple[Names, Places]:
        """The different names of surgeons in order, and the place of that of each lid among them."""
        names, place = np.unique(self.stratum, return_inverse=True)
        return names, place.astype(np.intp)

    def chosen(self, due: int) -> Chosen:
        """The columns for so many lids due in the smaller cohort."""
        there_are = sum(len(term.columns) for term in self.terms)
        allowed = min(allowed_terms(due, self.rules.cases_per_covariate), max(there_are, 1))
        if allowed not in self._chosen:
            self._chosen[allowed] = self._choose(allowed)
        return self._chosen[allowed]

    def _choose(self, allowed: int) -> Chosen:
        columns: list[Numbers] = []
        used: list[str] = []
        left_out: list[LeftOut] = []
        for term in self.terms:
            if not term.columns:
                left_out.append(LeftOut(term.label, "not_recorded"))
            elif len(columns) + len(term.columns) > allowed:
                left_out.append(LeftOut(term.label, "too_few_lids"))
            else:
                columns += term.columns
                used.append(term.label)
        by_surgeon = bool(self.surgeon.size and allowed)
        if by_surgeon:
            used.append(self.surgeon_label)
        elif self.several_surgeons:
            left_out.append(
                LeftOut(
                    self.surgeon_label, "one_surgeon_a_cover" if self.one_surgeon_a_cover else "one_surgeon_did_both"
                )
            )
        matrix = design_matrix(in_columns(columns, self.stratum.size), self.surgeon if by_surgeon else None)
        return Chosen(matrix, tuple(columns), tuple(used), tuple(left_out))


def in_columns(columns: Sequence[Numbers], lids: int) -> Numbers:
    """The columns side by side, a row a lid; without columns that many empty rows."""
    return np.column_stack(columns) if columns else np.empty((lids, 0))


def allowed_terms(due: int, lids_a_term: int) -> int:
    """How many columns so many lids due in the smaller cohort bear.

    >>> [allowed_terms(due, 8) for due in (3, 12, 20, 40, 70)]
    [0, 3, 5, 5, 8]
    """
    each = max(1, lids_a_term)
    return max(due // each, min(2 * due // each, AT_HALF_THE_LIDS))


def covariates(series: CaseSeries) -> Covariates:
    """Read the characteristics of a series that the protocol adjusts for."""
    rules, cases = series.protocol.rules, series.cases
    ordered = sorted((each for each in series.protocol.characteristics if each.adjust), key=lambda each: each.adjust)
    terms = tuple(
        Term(each.label, _columns(cases.get_column(column(each)), each)) for each in ordered if not each.levels_of
    )
    persons = next((each for each in ordered if each.levels_of), None)
    names = (
        cases.get_column(column(persons)).fill_null("").to_numpy().astype(str)
        if persons
        else np.full(cases.height, "", dtype=str)
    )
    label = persons.label if persons else ""
    known, place = np.unique(names, return_inverse=True)
    tally = _Surgeons(known, place, second_of(series))
    several = int((known != "").sum()) > 1
    apart = several and not tally.did_both.any() and "" not in known
    return Covariates(terms, label, tally.groups(rules.cases_per_covariate), names, several, apart, rules)


def _columns(known: pl.Series, characteristic: Characteristic) -> tuple[Numbers, ...]:
    if known.null_count() == known.len():
        return ()
    number = np.asarray(known.cast(pl.Float64).fill_null(float("nan")).to_numpy(), dtype=np.float64)
    missing = np.isnan(number)
    stands_in = 0.0 if characteristic.values else float(number[~missing].mean())
    columns = [np.where(missing, stands_in, number)]
    if missing.sum() >= INDICATOR_FROM:
        columns.append(missing.astype(np.float64))
    return tuple(each for each in columns if float(each.std()) > CONSTANT)


@dataclass(frozen=True)
class _Surgeons:
    """The names in order, the place of each lid's among them, and the cover of each lid."""

    names: Names
    place: Places
    second: Flags

    @property
    def lids(self) -> NDArray[np.int64]:
        """How many lids each did."""
        return np.bincount(self.place, minlength=self.names.size)

    @property
    def did_both(self) -> Flags:
        """Which of them, being known, did both covers."""
        later = np.bincount(self.place, self.second, minlength=self.names.size)
        return np.asarray((later > 0) & (later < self.lids) & (self.names != ""), dtype=np.bool_)

    def groups(self, fewest: int) -> Places:
        """The number of each lid's surgeon among those who did both covers in that many lids, the busiest 0.

        All others have one number together, the last, where they too are enough; otherwise that of the busiest.
        """
        often = np.flatnonzero(self.did_both & (self.lids >= fewest))
        if often.size < 2:
            return np.empty(0, dtype=np.intp)
        number = np.full(self.names.size, often.size)
        number[often[np.lexsort([often, -self.lids[often]])]] = np.arange(often.size)
        group = number[self.place]
        others = self.second[group == often.size]
        together = others.size >= fewest and others.any() and not others.all()
        return group if together else np.where(group == often.size, 0, group)
