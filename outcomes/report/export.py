"""The files of a comparison: the page, the charts and the tables."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path

from outcomes.findings.results import Comparison
from outcomes.parallel import OneByOne
from outcomes.protocol import Protocol
from outcomes.report.stamp import stamp_line
from outcomes.report.tables.baseline import baseline_table
from outcomes.report.tables.definitions import definitions_table, timed_table
from outcomes.report.tables.flow import flow_table, followed_table, groups_table
from outcomes.report.tables.measures import findings_table, main_table
from outcomes.report.tables.model import Table
from outcomes.report.tables.sensitivity import sensitivity_table
from outcomes.report.tables.timing import means_table, timing_table

PPI = 300
Progress = Callable[[str], None]


def write_report(
    comparison: Comparison,
    protocol: Protocol,
    out: Path,
    *,
    progress: Progress | None = None,
    elsewhere: Executor | None = None,
) -> tuple[Path, ...]:
    """Write the page, the charts and the tables into `out`, and give every file written.

    The charts are asked of `elsewhere`, if given: other processes, which draw the same sooner.
    Files of the same names are overwritten; after a failure some may be new and some old.
    """
    from outcomes.report.charts.catalogue import write_pictures
    from outcomes.report.charts.drawing import Forms
    from outcomes.report.documents.page import page
    from outcomes.report.tables.writers import write_table

    tell = progress or _silent
    stamp = stamp_line(comparison.stamp)
    charts, tables_folder = out / "charts", out / "tables"
    for folder in (charts, tables_folder):
        folder.mkdir(parents=True, exist_ok=True)
    written = [out / "report.html"]
    tell("drawing the charts")
    drawn = write_pictures(
        comparison, protocol, charts, made=(stamp, Forms(ppi=PPI)), elsewhere=elsewhere or OneByOne()
    )
    written.extend(file for _, files in drawn for file in files)
    tables = all_tables(comparison, protocol)
    tell("writing the page")
    written[0].write_text(page(comparison, protocol, tables, tuple(each for each, *_ in drawn)), encoding="utf-8")
    tell("writing the tables")
    for table in (each for each in tables if each.rows):
        written.extend(write_table(table, tables_folder, comparison.stamp, "csv", "html"))
    return tuple(written)


def _silent(step: str) -> None:
    """Say nothing of the progress."""


def all_tables(comparison: Comparison, protocol: Protocol) -> tuple[Table, ...]:
    """Give every table of the report, in its order."""
    return (
        flow_table(comparison),
        groups_table(comparison),
        baseline_table(comparison, protocol),
        main_table(comparison, protocol),
        sensitivity_table(comparison, protocol),
        timing_table(comparison, protocol),
        means_table(comparison, protocol),
        followed_table(comparison, protocol),
        findings_table(comparison, protocol, clock="division"),
        findings_table(comparison, protocol, clock="operation"),
        definitions_table(protocol),
        timed_table(protocol),
    )
