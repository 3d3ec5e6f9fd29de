"""Rules of likeness: which past lids are like the lid of the patient."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import polars as pl

from outcomes.cohort import column
from outcomes.findings.counsel.results import Bound, Cohort, LikeGroup, Relaxation, Shortfall
from outcomes.protocol import Likeness, Protocol, Value

HAIR = 1e-9


def groups_for(protocol: Protocol, patient: Mapping[str, Value]) -> tuple[LikeGroup, ...]:
    """Every different rule with the patient's values in it, the narrowest first.

    A characteristic that is not known of the patient is left out of every rule; where a field that must be the same is not
    known there is no rule at all.
    """
    groups = {
        (group.same, group.between): group
        for rule in reversed(protocol.likeness)
        if (group := _group(rule, protocol, patient)) is not None
    }
    return tuple(reversed(groups.values()))


def _group(rule: Likeness, protocol: Protocol, patient: Mapping[str, Value]) -> LikeGroup | None:
    if any(patient[name] is None for name in rule.same):
        return None
    known = [(name, reach) for name, reach in rule.within if patient[name] is not None]
    between = tuple(
        Bound(name, reach, max(0.0, _number(patient[name]) - reach), _number(patient[name]) + reach)
        for name, reach in known
    )
    same = tuple((name, str(patient[name])) for name in rule.same)
    return LikeGroup(rule.id, same, between, tuple(_relaxed(rule, protocol.likeness[0], patient)))


def _relaxed(rule: Likeness, narrowest: Likeness, patient: Mapping[str, Value]) -> Iterator[tuple[str, Relaxation]]:
    """In what the rule looks more widely than the narrowest one."""
    reaches = dict(rule.within)
    for name in narrowest.same:
        if name not in rule.same:
            yield name, "left_out"
    for name, reach in narrowest.within:
        if patient[name] is None:
            yield name, "unknown"
        elif name not in reaches:
            yield name, "left_out"
        elif reaches[name] > reach:
            yield name, "widened"


def is_like(group: LikeGroup, protocol: Protocol) -> pl.Expr:
    """Which lids the rule takes in; a lid whose value is not recorded is not like anybody."""
    parts = [pl.col(name) == value for name, value in group.same]
    parts += [
        pl.col(column(protocol.characteristic(bound.characteristic))).is_between(bound.low - HAIR, bound.high + HAIR)
        for bound in group.between
    ]
    return pl.all_horizontal(parts)


def shortfalls(group: LikeGroup, known: Mapping[Cohort, int], fewest: int) -> tuple[Shortfall, ...]:
    """What a rule lacks that was too narrow, cover by cover."""
    return tuple(Shortfall(group.rule, cohort, n, fewest - n) for cohort, n in known.items() if n < fewest)


def _number(value: Value) -> float:
    return float(value)  # type: ignore[arg-type]
