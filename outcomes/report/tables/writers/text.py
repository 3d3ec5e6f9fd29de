"""A table for a terminal."""

from __future__ import annotations

from rich import box
from rich.console import Group
from rich.table import Table as Grid
from rich.text import Text

from outcomes.report.tables.model import Table
from outcomes.report.traced_text import Phrase, plain


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
            grid.add_row(*(cell_text(cell) for cell in row.cells))
    return Group(grid, *(cell_text(note) for note in table.notes))


def cell_text(phrase: Phrase) -> Text:
    """A phrase as plain text of a terminal."""
    return Text(plain(phrase))
