"""Rules of likeness: which past lids are like the lid of the patient."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from outcomes.cohort import column
from outcomes.findings.counsel.results import Bound, Cohort, LikeGroup, Shortfall
from outcomes.protocol import Characteristic, Likeness, Protocol, Value

HAIR = 1e-9
WHOLE = 100


def group_of(rule: Likeness, protocol: Protocol, patient: Mapping[str, Value]) -> LikeGroup | None:
    """The rule with the patient's values in it; None when one that it needs is not known."""
    wanted = [patient[name] for name in (*rule.same, *(name for name, _ in rule.within))]
    if any(value is None for value in wanted):
        return None
    between = tuple(
        Bound(
            name,
            in_parts(protocol.characteristic(name), reach),
            max(0.0, _number(patient[name]) - reach),
            _number(patient[name]) + reach,
        )
        for name, reach in rule.within
    )
    return LikeGroup(rule.id, tuple((name, str(patient[name])) for name in rule.same), between)


def groups_for(protocol: Protocol, patient: Mapping[str, Value]) -> tuple[LikeGroup, ...]:
    """Every rule that can be applied to the patient, the narrowest first."""
    made = [group_of(rule, protocol, patient) for rule in protocol.likeness]
    return tuple(group for group in made if group is not None)


def is_like(group: LikeGroup, protocol: Protocol) -> pl.Expr:
    """Which lids the rule takes in; a lid whose value is not recorded is not like anybody."""
    parts = [pl.col(name) == value for name, value in group.same]
    parts += [
        pl.col(column(protocol.characteristic(bound.characteristic))).is_between(bound.low - HAIR, bound.high + HAIR)
        for bound in group.between
    ]
    return pl.all_horizontal(parts).fill_null(value=False)


def in_parts(characteristic: Characteristic, value: float) -> float:
    """The value as it is printed: a share in whole parts of 100."""
    return float(round(WHOLE * value)) if characteristic.ratio else float(value)


def shortfalls(group: LikeGroup, known: Mapping[Cohort, int], fewest: int) -> tuple[Shortfall, ...]:
    """What a rule lacks that was too narrow, cover by cover."""
    return tuple(Shortfall(group.rule, cohort, n, fewest - n) for cohort, n in known.items() if n < fewest)


def _number(value: Value) -> float:
    return float(value)  # type: ignore[arg-type]
