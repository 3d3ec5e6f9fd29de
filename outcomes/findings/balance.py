"""The baseline table: each characteristic by cohort, with standardised differences before and after weighting."""

from __future__ import annotations

import numpy as np
import polars as pl

from outcomes.cohort import CaseSeries, column
from outcomes.findings.arrays import Flags, Numbers, second_of
from outcomes.findings.estimable import estimable
from outcomes.findings.propensity import CoverChoice
from outcomes.findings.results import BalanceLine
from outcomes.protocol import Characteristic
from outcomes.statistics.balance import standardised_difference, standardised_difference_of_shares


def balance(series: CaseSeries, choice: CoverChoice) -> tuple[BalanceLine, ...]:
    """Give the baseline table, a line for each number, each yes and each level that occurs."""
    second = second_of(series)
    return tuple(line for each in series.protocol.characteristics for line in _lines(series, second, choice, each))


def _lines(series: CaseSeries, second: Flags, choice: CoverChoice, each: Characteristic) -> list[BalanceLine]:
    known = series.cases.get_column(column(each))
    if each.levels_of:
        levels = known.drop_nulls().unique().sort()
        place = known.cast(pl.Enum(levels))
        return [
            _share_line(second, choice, each, (place == level).cast(pl.Float64), str(level))
            for level in levels.to_list()
        ]
    if each.values or _is_flag(series, each):
        return [_share_line(second, choice, each, known, "yes")]
    return [_number_line(second, choice, each, known, _unit(series, each))]


def _is_flag(series: CaseSeries, each: Characteristic) -> bool:
    return any(field.id == each.field and field.kind == "yes_no" for field in series.protocol.fields)


def _split(known: pl.Series) -> tuple[Numbers, Flags]:
    number = np.asarray(known.cast(pl.Float64).fill_null(float("nan")).to_numpy(), dtype=np.float64)
    return number, ~np.isnan(number)


def _number_line(second: Flags, choice: CoverChoice, each: Characteristic, known: pl.Series, unit: str) -> BalanceLine:
    number, there = _split(known)
    grafted, advanced = number[there & ~second], number[there & second]
    return BalanceLine(
        each.id,
        each.label,
        "",
        unit,
        _mean(grafted),
        _mean(advanced),
        _spread(grafted),
        _spread(advanced),
        *_known_counts(there, second),
        estimable(standardised_difference(grafted, advanced)) if grafted.size and advanced.size else None,
        _weighted(standardised_difference, number, there, second, choice),
        bool(each.adjust),
        each.consequence,
        _note(grafted, advanced),
    )


def _share_line(second: Flags, choice: CoverChoice, each: Characteristic, known: pl.Series, level: str) -> BalanceLine:
    number, there = _split(known)
    grafted, advanced = number[there & ~second], number[there & second]
    return BalanceLine(
        each.id,
        each.label,
        level,
        "",
        float(grafted.sum()),
        float(advanced.sum()),
        None,
        None,
        *_known_counts(there, second),
        estimable(standardised_difference_of_shares(grafted, advanced)) if grafted.size and advanced.size else None,
        _weighted(standardised_difference_of_shares, number, there, second, choice),
        bool(each.adjust),
        each.consequence,
        _note(grafted, advanced),
    )


def _weighted(measure: object, number: Numbers, there: Flags, second: Flags, choice: CoverChoice) -> float | None:
    if choice.weight is None or not (there & second).any() or not (there & ~second).any():
        return None
    return estimable(
        measure(  # type: ignore[operator]
            number[there & ~second],
            number[there & second],
            first_weight=choice.weight[there & ~second],
            second_weight=choice.weight[there & second],
        )
    )


def _note(grafted: Numbers, advanced: Numbers) -> str:
    """Why the cohorts have no standardised difference in this; empty when they have one."""
    nobody = [name for name, known in (("grafted", grafted), ("advanced", advanced)) if not known.size]
    if nobody:
        return f"not recorded of any {' or '.join(nobody)} lid"
    if np.ptp(grafted) == 0 and np.ptp(advanced) == 0:
        return (
            "the same in all"
            if grafted[0] == advanced[0]
            else "the same in all of one cohort, and another in all of the other"
        )
    return "known of one lid only in a cohort" if min(grafted.size, advanced.size) == 1 else ""


def _unit(series: CaseSeries, each: Characteristic) -> str:
    return each.unit or next(
        (field.unit for field in series.protocol.fields if each.field and field.id == each.field), ""
    )


def _mean(number: Numbers) -> float | None:
    return float(number.mean()) if number.size else None


def _spread(number: Numbers) -> float | None:
    return float(number.std(ddof=1)) if number.size > 1 else None


def _known_counts(there: Flags, second: Flags) -> tuple[int, int, int, int]:
    return (
        int((there & ~second).sum()),
        int((there & second).sum()),
        int((~there & ~second).sum()),
        int((~there & second).sum()),
    )
