"""Change the protocol of a register: what held values do not fit, which results are read anew, and the change itself."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

import duckdb

from outcomes.errors import DataRefused, Problem, RegisterRefused
from outcomes.protocol import SHEETS, Field, Measure, Protocol, Value
from outcomes.store.amendment import need_reason
from outcomes.store.audit_chain import Source
from outcomes.store.codec import Values
from outcomes.store.connection import PATIENT, Patience, open_to_read
from outcomes.store.create import verified
from outcomes.store.current_rows import newest_rows
from outcomes.store.register import kept_protocol
from outcomes.store.schema import protocol_problems
from outcomes.store.transaction import changing

RowsOfSheets = dict[str, list[Values]]


@dataclass(frozen=True)
class ProtocolEffects:
    """What another protocol would do to what a register holds.

    `problems` refuse it: fields without a column, and held values that it does not allow. `readings` are, as sentences,
    the held values that it reads in another way.
    """

    problems: tuple[Problem, ...]
    readings: tuple[str, ...]


@dataclass(frozen=True)
class ProtocolVersion:
    """One protocol that a register had: from which change on, since when, by whom and why."""

    change: int
    fingerprint: str
    software: str
    at: datetime | None = None
    who: str = ""
    reason: str = ""


def protocol_effects(path: Path, protocol: Protocol, patience: Patience = PATIENT) -> ProtocolEffects:
    """What the protocol would do to what the register holds; nothing is changed."""
    with verified(open_to_read, path, patience) as (con, _chain):
        return _effects(con, kept_protocol(con), protocol)


def change_protocol(
    path: Path, protocol: Protocol, *, source: Source, at: datetime, patience: Patience = PATIENT
) -> int:
    """The register has this protocol afterwards, and keeps the one before it; gives the number of the change.

    After a failure nothing is changed. Raises DataRefused for what the register holds and the protocol does not allow.
    """
    need_reason("a change of the protocol", source)
    digest = hashlib.sha256(protocol.text.encode()).hexdigest()
    with changing(path, "protocol", replace(source, digest=digest), at, patience) as draft:
        if draft.protocol.text == protocol.text:
            raise RegisterRefused("the register has this protocol already; nothing was changed")
        problems = _effects(draft.con, draft.protocol, protocol).problems
        if problems:
            raise DataRefused("the protocol does not fit what the register holds; nothing was changed", list(problems))
        draft.add_protocol(protocol)
        return draft.number


def protocol_versions(path: Path, patience: Patience = PATIENT) -> tuple[ProtocolVersion, ...]:
    """Every protocol that the register had, the first one first."""
    with verified(open_to_read, path, patience) as (con, _chain):
        first = con.execute("select 0, fingerprint, software from register").fetchall()
        later = con.execute(
            "select change, fingerprint, software, made_at, who, reason from protocols join changes using (change) order by change"
        ).fetchall()
        return tuple(ProtocolVersion(*row) for row in [*first, *later])


def _effects(con: duckdb.DuckDBPyConnection, old: Protocol, new: Protocol) -> ProtocolEffects:
    rows = {sheet: [row.values for row in newest_rows(con, old, sheet)] for sheet in SHEETS}
    return ProtocolEffects(
        (*protocol_problems(con, new), *_not_allowed(old, new, rows)),
        (*_read_anew(old, new, rows), *_moved(old, new, rows)),
    )


def _not_allowed(old: Protocol, new: Protocol, rows: RowsOfSheets) -> Iterator[Problem]:
    """One problem a field whose held values the new protocol does not allow: levels and fields stay while they are held."""
    kept = {(field.sheet, field.id): field for field in new.fields}
    for field in old.fields:
        held = [row[field.id] for row in rows[field.sheet] if row.get(field.id) is not None]
        wrong = [value for value in held if _misfit(field, kept.get((field.sheet, field.id)), value)]
        if wrong:
            several = f"{len(wrong)} values are" if len(wrong) > 1 else "1 value is"
            shown = ", ".join(dict.fromkeys(str(value) for value in wrong[:20]))
            yield Problem(field.sheet, 0, field.id, f"{several} held that the new protocol does not allow: {shown}")


def _misfit(old: Field, new: Field | None, value: Value) -> bool:
    if new is None or (new.kind, new.observed) != (old.kind, old.observed):
        return True
    if old.levels and isinstance(value, int) and new.levels[value : value + 1] != old.levels[value : value + 1]:
        return True
    read = new.read(value, as_of=date.max)
    return bool(read.problem) or read.value != value


def _read_anew(old: Protocol, new: Protocol, rows: RowsOfSheets) -> Iterator[str]:
    """For each measure, how many held results are poor by one protocol and not by the other."""
    before = {measure.id: measure for measure in old.measures}
    for measure in new.measures:
        if measure.id in before:
            pairs = [(_poor(old, before[measure.id], row), _poor(new, measure, row)) for row in rows["reviews"]]
            changed = sum(one != other for one, other in pairs)
            if changed:
                judged = sum(one is not None or other is not None for one, other in pairs)
                yield f"{measure.label}: {changed} of {judged} held results are judged in another way"


def _poor(protocol: Protocol, measure: Measure, row: Values) -> bool | None:
    """Whether the result is poor by the bound of the measure; None when it has none, or was not measured."""
    value = _number(protocol, measure, row)
    if measure.poor is None or value is None:
        return None
    return value >= measure.poor.bound if measure.poor.at_least is not None else value <= measure.poor.bound


def _number(protocol: Protocol, measure: Measure, row: Values) -> float | None:
    def read(name: str) -> float | None:
        return protocol.field("reviews", name).number(row.get(name)) if name else None

    operated, fellow = read(measure.operated), read(measure.fellow)
    return read(measure.field) if operated is None or fellow is None else round(operated - fellow, 3)


def _moved(old: Protocol, new: Protocol, rows: RowsOfSheets) -> Iterator[str]:
    """How many reviews stand for another window than before."""
    divided = {row["case_id"]: row.get("divided_on") for row in rows["reconstructions"]}
    moved = Counter[tuple[str, str]]()
    for row in rows["reviews"]:
        reviewed, since = row.get("reviewed_on"), divided.get(row["case_id"])
        if isinstance(reviewed, date) and isinstance(since, date):
            days = (reviewed - since).days
            moved[_window(old, days), _window(new, days)] += 1
    for (before, after), count in sorted(moved.items()):
        if before != after:
            yield f"reviews: {count} of the window {before or 'none'} are now of the window {after or 'none'}"


def _window(protocol: Protocol, days: int) -> str:
    return next((window.id for window in protocol.windows if window.holds(days)), "")
