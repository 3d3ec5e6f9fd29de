"""The files of a comparison: the page, the charts and the tables."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from outcomes.findings.results import Comparison, Stamp
from outcomes.parallel import OneByOne
from outcomes.protocol import Protocol
from outcomes.report.stamp import stamp_line
from outcomes.report.tables.baseline import baseline_table
from outcomes.report.tables.days_shut import days_shut_table
from outcomes.report.tables.definitions import definitions_table, timed_table
from outcomes.report.tables.flow import flow_table, followed_table, groups_table
from outcomes.report.tables.learning import calendar_table, learning_table, surgeons_table
from outcomes.report.tables.measures import findings_table, further_table, main_table, planned_table
from outcomes.report.tables.model import Table
from outcomes.report.tables.sensitivity import sensitivity_table, unseen_table
from outcomes.report.tables.timing import means_table, timing_table

if TYPE_CHECKING:
    from outcomes.report.charts.drawing import Picture

PRINT_PPI = 300


@dataclass(frozen=True)
class Charts:
    """Which charts a report has: none, or SVG and Vega-Lite, and PNG for print if asked for."""

    drawn: bool = True
    png: bool = False


def write_report(
    comparison: Comparison,
    protocol: Protocol,
    out: Path,
    *,
    charts: Charts | None = None,
    elsewhere: Executor | None = None,
) -> tuple[Path, ...]:
    """Write the page, the charts and the tables into `out`, and give every file written.

    Half of the work is given to `elsewhere`, if given: other processes, which make the same sooner.
    Files of the same names are overwritten; after a failure some may be new and some old.
    """
    others, first, tables = elsewhere or OneByOne(), out / "report.html", all_tables(comparison, protocol)
    listed = others.submit(write_tables, tables, out / "tables", comparison.stamp)
    from outcomes.report.documents.page import page

    pictures, explorer, drawn = _write_charts(comparison, protocol, out / "charts", charts or Charts(), others)
    first.write_text(page(comparison, protocol, tables, pictures, explorer=explorer), encoding="utf-8")
    return (first, *drawn, *listed.result())


def write_tables(tables: Sequence[Table], folder: Path, stamp: Stamp) -> tuple[Path, ...]:
    """Write each table that has rows into the folder, for a reader and for another program; after a failure some may be missing."""
    from outcomes.report.tables.writers.registry import write_table

    folder.mkdir(parents=True, exist_ok=True)
    return tuple(file for table in tables if table.rows for file in write_table(table, folder, stamp, "csv", "html"))


def _write_charts(
    comparison: Comparison, protocol: Protocol, folder: Path, wanted: Charts, elsewhere: Executor
) -> tuple[tuple[Picture, ...], str, list[Path]]:
    """Draw the charts into their folder, and give them, packed too for a browser to explore, and their files."""
    if not wanted.drawn:
        return (), "", []
    from outcomes.report.charts.catalogue import write_pictures
    from outcomes.report.charts.drawing import Forms
    from outcomes.report.charts.interactive import packed_explorer

    folder.mkdir(parents=True, exist_ok=True)
    forms = Forms(ppi=PRINT_PPI if wanted.png else 0, spec=True)
    drawn = write_pictures(
        comparison, protocol, folder, made=(stamp_line(comparison.stamp), forms), elsewhere=elsewhere
    )
    pictures = tuple(each for each, _ in drawn)
    return pictures, packed_explorer(pictures), [file for _, files in drawn for file in files]


def all_tables(comparison: Comparison, protocol: Protocol) -> tuple[Table, ...]:
    """Give every table of the report, in its order."""
    return (
        flow_table(comparison),
        groups_table(comparison),
        baseline_table(comparison, protocol),
        main_table(comparison, protocol),
        planned_table(comparison, protocol),
        further_table(comparison, protocol),
        sensitivity_table(comparison, protocol),
        unseen_table(comparison, protocol),
        timing_table(comparison, protocol),
        means_table(comparison, protocol),
        learning_table(comparison, protocol),
        surgeons_table(comparison, protocol),
        calendar_table(comparison, protocol),
        days_shut_table(comparison.days_shut),
        followed_table(comparison, protocol),
        findings_table(comparison, protocol, clock="division"),
        findings_table(comparison, protocol, clock="operation"),
        definitions_table(protocol),
        timed_table(protocol),
    )
