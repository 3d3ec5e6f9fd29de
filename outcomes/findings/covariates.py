"""The characteristics that a difference is adjusted for, as columns of a model.

They enter in the protocol's order, one for each `cases_per_covariate` lids due in the smaller cohort, but up to five from
half as many lids each; the surgeon comes on top wherever two surgeons did both covers. A missing number takes the mean of
the known ones, a missing yes or no counts as no, and where five lids or more lack one an indicator of that enters beside it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import polars as pl
from numpy.typing import NDArray

from outcomes.cohort import CaseSeries, column
from outcomes.findings.arrays import Flags, Numbers, second_of
from outcomes.findings.results import LeftOut
from outcomes.protocol import Characteristic, Rules

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
    """The columns that entered, a row a lid of the series, and the labels of what entered and what did not."""

    columns: Numbers
    used: tuple[str, ...]
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True)
class Covariates:
    """What can be adjusted for in a series.

    `surgeon` holds the indicators of surgeons who did both covers, `stratum` the surgeon of each lid ("" if not recorded).
    `one_surgeon_a_cover` tells that no surgeon did both, so that surgeon and cover are one.
    """

    terms: tuple[Term, ...]
    surgeon_label: str
    surgeon: tuple[Numbers, ...]
    stratum: Names
    several_surgeons: bool
    one_surgeon_a_cover: bool
    rules: Rules
    _chosen: dict[int, Chosen] = field(default_factory=dict, compare=False, repr=False)

    def __getstate__(self) -> dict[str, object]:
        """What another process is sent: without what was chosen, which may change meanwhile and is chosen again there."""
        return {**self.__dict__, "_chosen": {}}

    def chosen(self, due: int) -> Chosen:
        """The columns for so many lids due in the smaller cohort."""
        there_are = sum(len(term.columns) for term in self.terms)
        allowed = min(allowed_terms(due, self.rules.cases_per_covariate), max(there_are, 1))
        if allowed not in self._chosen:
            self._chosen[allowed] = self._choose(allowed)
        return self._chosen[allowed]

    def without_surgeon(self, due: int) -> Numbers:
        """The columns for so many lids due in the smaller cohort, but for those of the surgeon."""
        columns = self.chosen(due).columns
        return columns[:, : columns.shape[1] - len(self.surgeon)] if self.surgeon and columns.shape[1] else columns

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
        if self.surgeon and allowed:
            columns += self.surgeon
            used.append(self.surgeon_label)
        elif self.several_surgeons:
            left_out.append(
                LeftOut(
                    self.surgeon_label, "one_surgeon_a_cover" if self.one_surgeon_a_cover else "one_surgeon_did_both"
                )
            )
        matrix = np.column_stack(columns) if columns else np.empty((self.stratum.size, 0))
        return Chosen(matrix, tuple(used), tuple(left_out))


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
    both = _did_both(names, second_of(series))
    known = np.unique(names[names != ""]).size
    apart = known > 1 and not both and bool((names != "").all())
    surgeon = _surgeon_columns(names, second_of(series), both, rules)
    return Covariates(terms, label, surgeon, names, known > 1, apart, rules)


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


def _did_both(names: Names, second: Flags) -> list[str]:
    """The surgeons who did both covers, the busiest first."""
    known = [str(name) for name in np.unique(names) if name]
    both = [name for name in known if 0 < second[names == name].sum() < (names == name).sum()]
    return sorted(both, key=lambda name: (-int((names == name).sum()), name))


def _surgeon_columns(names: Names, second: Flags, both: list[str], rules: Rules) -> tuple[Numbers, ...]:
    """An indicator for each surgeon who did both covers often enough but the busiest, with whom all others are put together."""
    often = [name for name in both if (names == name).sum() >= rules.cases_per_covariate]
    if len(often) < 2:
        return ()
    others = ~np.isin(names, often)
    together = others.sum() >= rules.cases_per_covariate and 0 < second[others].sum() < others.sum()
    columns = [(names == name).astype(np.float64) for name in often[1:]]
    return tuple([*columns, others.astype(np.float64)] if together else columns)
