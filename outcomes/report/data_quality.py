"""Queries about the data as tables: what is doubted, how to settle it, and how complete the data are."""

from __future__ import annotations

from itertools import groupby

from outcomes.findings.data_quality.completeness import Completeness
from outcomes.findings.data_quality.queries import DataQuery, QueryGroup
from outcomes.findings.data_quality.review import DataReview
from outcomes.protocol import COHORTS, Protocol
from outcomes.report.formats import percent
from outcomes.report.tables.model import Column, Row, Table

SHOWN = 12
GROUPS: dict[QueryGroup, str] = {
    "contradiction": "Contradictions",
    "jump": "Jumps between reviews",
    "odd": "Odd values",
    "assessor": "Habits of assessors",
    "gap": "Gaps, and what each costs the comparison",
}
WORDS: dict[str, str] = {
    "entered_against_computed": "entered as {entered:g} mm, but the two margins give {computed:g} mm",
    "masked_surgeon": "recorded as masked, but the assessor is the surgeon of the case ({surgeon})",
    "lashes_on_rebuilt_margin": "{lost:g} % of the margin without lashes, but {rebuilt:g} % of it was rebuilt and grows none",
    "none_after_recurrence": "no recurrence at this review, but the events hold one on {known}",
    "reason_without_early_division": "a reason for early division ({reason}), but divided on {divided}, planned for {planned}",
    "early_division_without_reason": "divided {days:g} days before the day planned ({planned}), without a reason",
    "digit_preference": "{even:g} of {values:g} values are multiples of {double:g} {unit}; about half would be expected",
    "never_above": "{grades:g} grades, none above {level}; other assessors grade {others} above it, of other lids",
    "characteristic_missing": "{label}: not recorded for {lids:g} of {of:g} lids; the comparison adjusts them as if they were "
    "average, a yes or no as no",
    "review_missing": "{lids:g} of {of:g} lids due at {window} were not seen: they are in no planned comparison",
    "value_missing": "{label}: {lids:g} of {of:g} lids seen at {window} have no value",
}
SETTLE: dict[QueryGroup, str] = {
    "contradiction": "Correct the wrong one of the two values with `outcomes amend`, or accept what is right.",
    "jump": "Look the two reviews up (`outcomes show CASE`), then amend the wrong value or accept the jump.",
    "odd": "Amend the value, remove a wrong row, or accept it.",
    "assessor": "Talk it over, grade photographs again with masking, or accept it; past grades are not changed for it.",
    "gap": "Planned comparisons rest on the lids that have a value; a share that differs between the covers can withhold a verdict. "
    "Enter what the notes still hold (`outcomes load`, `outcomes add`); `outcomes due` lists reviews that can still be had.",
}


def query_words(query: DataQuery) -> str:
    """Say what is doubted."""
    facts = dict(query.facts)
    if "says" in facts:
        return str(facts["says"])
    if "step" in facts:
        facts["double"] = 2 * float(facts["step"])
    if isinstance(facts.get("others"), float):
        facts["others"] = percent(float(facts["others"]))
    return WORDS[query.kind].format(**facts)


def settle_command(query: DataQuery) -> str:
    """Say with which commands the query can be settled."""
    accept = f"outcomes check --accept {query.id} --reason ..."
    if query.group in {"gap", "assessor"} or not query.case:
        return accept
    field = query.field or "FIELD"
    day = f" --review {query.on.isoformat()}" if query.on else " --review DAY" if query.sheet == "reviews" else ""
    return f"outcomes amend {query.case} {field} VALUE{day} --reason ...; or {accept}"


def quality_tables(review: DataReview, protocol: Protocol, *, shown: int = SHOWN) -> tuple[Table, ...]:
    """A table a group of queries, each with its first `shown` rows, and the completeness of the main measures."""
    ordered = sorted(review.queries, key=lambda query: list(GROUPS).index(query.group))
    tables = [_group(group, list(queries), shown) for group, queries in groupby(ordered, key=lambda query: query.group)]
    return (*tables, _completeness(review.completeness, protocol))


def _group(group: QueryGroup, queries: list[DataQuery], shown: int) -> Table:
    columns = (Column("id", "Id"), Column("where", "Where"), Column("what", "What"))
    rows = tuple(Row(((query.id,), (_where(query),), (query_words(query),))) for query in queries[:shown])
    more = len(queries) - len(rows)
    notes = [(f"and {more} more; --out FILE.csv holds them all",)] if more else []
    return Table(f"queries-{group}", f"{GROUPS[group]}: {len(queries)}", columns, rows, (*notes, (SETTLE[group],)))


def _where(query: DataQuery) -> str:
    parts = (
        query.case,
        query.on.isoformat() if query.on else "",
        query.field if query.group != "gap" else "",
        query.assessor,
    )
    return " ".join(part for part in parts if part)


def _completeness(lines: tuple[Completeness, ...], protocol: Protocol) -> Table:
    """The share of the lids due that have a value, grafted and advanced, of the main measures in each window."""
    counts = {(each.measure, each.window, each.cohort): each for each in lines}
    windows = [window for window in protocol.windows if any(each.due for each in lines if each.window == window.id)]
    columns = (Column("measure", "Measure"), *(Column(window.id, window.label, "right") for window in windows))
    rows = tuple(
        Row(((measure.label,), *((_pair(counts, measure.id, window.id),) for window in windows)))
        for measure in protocol.main_measures
    )
    notes = (("Of lids due in each window: grafted / advanced. A dash: none was due.",),)
    return Table("completeness", "Completeness of the main measures", columns, rows, notes)


def _pair(counts: dict[tuple[str, str, str], Completeness], measure: str, window: str) -> str:
    cells = (counts[measure, window, cohort] for cohort in COHORTS)
    return " / ".join(percent(each.seen / each.due) if each.due else "–" for each in cells)


def quality_file(review: DataReview) -> Table:
    """Every query as one table, with the commands that settle it and the cases concerned."""
    names = ("id", "group", "kind", "sheet", "case", "day", "field", "assessor", "what", "settle", "cases")
    columns = tuple(Column(name, name) for name in names)
    rows = tuple(
        Row(
            tuple(
                (cell,)
                for cell in (
                    query.id,
                    query.group,
                    query.kind,
                    query.sheet,
                    query.case,
                    query.on.isoformat() if query.on else "",
                    query.field,
                    query.assessor,
                    query_words(query),
                    settle_command(query),
                    " ".join(query.cases),
                )
            )
        )
        for query in review.queries
    )
    return Table("queries", "Queries", columns, rows)


def completeness_file(review: DataReview) -> Table:
    """Every measure, window and cohort with the lids seen and due."""
    columns = tuple(Column(name, name) for name in ("measure", "window", "cohort", "seen", "due"))
    rows = tuple(
        Row(((each.measure,), (each.window,), (each.cohort,), (str(each.seen),), (str(each.due),)))
        for each in review.completeness
    )
    return Table("completeness", "Completeness", columns, rows)
