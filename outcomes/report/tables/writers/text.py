"""A table for a terminal, and the summary of a comparison."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich import box
from rich.console import Group
from rich.table import Table as Grid
from rich.text import Text

from outcomes.report.tables.model import Table
from outcomes.report.traced_text import Phrase, plain
from outcomes.report.warning_words import caution_words

if TYPE_CHECKING:
    from outcomes.findings.results import Comparison
    from outcomes.protocol import Protocol

NO_ADVICE = "Past cases of this register; not advice."
NOTHING_MAIN = "No main measure of the primary window was asked for and measured; the report has all findings."


def terminal_summary(comparison: Comparison, protocol: Protocol) -> Group:
    """Give what a terminal shows of a comparison: what was compared, the main measures, what follows, and the warnings."""
    from outcomes.report.headline import answers, who_sentence
    from outcomes.report.tables.measures import main_table

    table = main_table(comparison, protocol)
    shown = as_text(table) if table.rows else Text(NOTHING_MAIN)
    said = (Text(f"{each.heading}: {' '.join(map(plain, each.sentences))}") for each in answers(comparison, protocol))
    warnings = (Text(f"! {caution_words(each)}", style="yellow") for each in comparison.warnings)
    return Group(_cell(who_sentence(comparison)), Text(), shown, Text(), *said, *warnings, Text(NO_ADVICE))


def as_text(table: Table) -> Group:
    """Give the table for a terminal. Every cell is plain text: square brackets in it are printed, not obeyed."""
    grid = Grid(title=Text(table.title, style="bold"), title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False)
    for column in table.columns:
        heading = f"{column.spanner}\n{column.label}" if column.spanner else column.label
        grid.add_column(Text(heading), justify=column.align, vertical="top", overflow="fold")
    for band, rows in table.bands:
        if band:
            grid.add_row(Text(band, style="bold"), *[Text("")] * (len(table.columns) - 1))
        for row in rows:
            grid.add_row(*(_cell(cell) for cell in row.cells))
    return Group(grid, *(_cell(note) for note in table.notes))


def _cell(phrase: Phrase) -> Text:
    return Text(plain(phrase))
