"""Check that a mapping is one of these sheets: the same sheets, with the same headings over the same columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from outcomes.capture.foreign.layout import heading_of
from outcomes.capture.foreign.mapping import Mapping, TableRule
from outcomes.capture.foreign.sheet import ForeignSheet
from outcomes.capture.foreign.visit_labels import read_visit_label
from outcomes.errors import DataRefused, Problem, column_letters
from outcomes.protocol import Protocol


def fitted(mapping: Mapping, sheets: Sequence[ForeignSheet], protocol: Protocol) -> Mapping:
    """The mapping, its one table given the name of the one sheet; raises DataRefused for every heading that has moved."""
    if len(sheets) == len(mapping.tables) == 1:
        mapping = replace(mapping, tables=(replace(mapping.tables[0], sheet=sheets[0].name),))
    by_name = {sheet.name: sheet for sheet in sheets}
    problems = [
        Problem(table.sheet, 0, "", "is in the mapping, but no such sheet is in the file")
        for table in mapping.tables
        if table.sheet not in by_name
    ]
    for table in mapping.tables:
        if table.sheet in by_name and table.header:
            problems += _moved(table, by_name[table.sheet], protocol)
    if problems:
        raise DataRefused("the mapping was made for another sheet; map this one anew, or correct the mapping", problems)
    return mapping


def _moved(table: TableRule, sheet: ForeignSheet, protocol: Protocol) -> Iterator[Problem]:
    """The columns over which the sheet has another heading than the mapping."""
    header = tuple(row - 1 for row in table.header)
    for rule in table.columns:
        found = heading_of(
            sheet, header, rule.column - 1, lambda text: read_visit_label(text, protocol.windows) is not None
        )
        if found != rule.heading:
            what = f'column {column_letters(rule.column)} is headed "{found}", in the mapping "{rule.heading}"'
            yield Problem(table.sheet, header[-1] + 1, "", what, rule.column)
