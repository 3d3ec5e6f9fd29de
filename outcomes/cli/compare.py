"""`outcomes compare`: grafted against advanced, as a report, tables, charts and comparison.json."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes import __version__
from outcomes.cli.level import For, Purpose, for_purpose
from outcomes.cli.options import (
    DEFAULT_REGISTER,
    AsOf,
    Diagnoses,
    Frozen,
    Measures,
    OperatedFrom,
    OperatedTo,
    RegisterPath,
    Sites,
    Surgeons,
    Windows,
    as_of_day,
    opened,
    selection,
)

if TYPE_CHECKING:
    from concurrent.futures import Executor
    from contextlib import AbstractContextManager

    from outcomes.findings import Comparison, Selection
    from outcomes.protocol import Protocol


Png = Annotated[bool, typer.Option("--png", help="Write each chart as PNG for print too.")]
NoCharts = Annotated[bool, typer.Option("--no-charts", help="Draw no chart: the page and the tables only.")]


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(compare)


def compare(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="The folder for the report; it is made.")],
    register: RegisterPath = DEFAULT_REGISTER,
    frozen: Frozen = "",
    as_of: AsOf = None,
    operated_from: OperatedFrom = None,
    operated_to: OperatedTo = None,
    site: Sites = None,
    surgeon: Surgeons = None,
    diagnosis: Diagnoses = None,
    window: Windows = None,
    measure: Measures = None,
    purpose: For = Purpose.OWN_EYES,
    png: Png = False,
    no_charts: NoCharts = False,
) -> None:
    """Compare grafted with advanced lids: what this series can say, and what it cannot. Reports past cases; no advice."""
    day = as_of_day(as_of)
    with processors_to_compare(
        drawing=not no_charts
    ) as elsewhere:  # before all else: they start while this process reads
        asked = selection(day, (operated_from, operated_to), (site, surgeon, diagnosis, window, measure))
        report_comparison((register, frozen), asked, out, elsewhere, purpose=purpose, charts=(not no_charts, png))


def processors_to_compare(*, drawing: bool) -> AbstractContextManager[Executor]:
    """Further processes that make ready to compare, and to draw as well."""
    from outcomes.parallel import processors

    return processors("outcomes.findings.comparison", *(("outcomes.report.charts.catalogue",) if drawing else ()))


def report_comparison(
    source: tuple[Path, str],
    selected: Selection,
    out: Path,
    elsewhere: Executor,
    *,
    purpose: Purpose = Purpose.OWN_EYES,
    charts: tuple[bool, bool] = (True, False),
) -> None:
    """Compare, on all processors, and write the report for the purpose; `charts`: whether any are drawn, and as PNG too."""
    comparison, protocol = compared(*source, selected, elsewhere)
    write_comparison(for_purpose(comparison, protocol, purpose), protocol, out, elsewhere, charts=charts)


def compared(
    register: Path, frozen: str, asked: Selection, elsewhere: Executor | None = None
) -> tuple[Comparison, Protocol]:
    """Read the register, or a freeze of it, and answer the comparison; others begin while the digest is computed."""
    from outcomes.cli.progress import steps
    from outcomes.findings import begin_comparison, case_series, stamp
    from outcomes.findings import compare as answer
    from outcomes.parallel import OneByOne

    with opened(register, frozen) as held:
        series = case_series(held, held.protocol, asked)
        begun = begin_comparison(series, elsewhere or OneByOne())
        mark = stamp(series, digest=held.digest, frozen=frozen, software=f"outcomes {__version__}")
    with steps() as step:
        return answer(series, mark, progress=step, elsewhere=elsewhere, begun=begun), held.protocol


def write_comparison(
    comparison: Comparison, protocol: Protocol, out: Path, elsewhere: Executor, *, charts: tuple[bool, bool]
) -> None:
    """Write the report, its tables and charts and comparison.json, and print the main measures and where the report is."""
    from outcomes.cli.output_paths import report_folder
    from outcomes.cli.progress import steps
    from outcomes.report import Charts, document_text, terminal_summary, write_report
    from outcomes.report.stamp import lacking_words

    text = elsewhere.submit(document_text, comparison)
    with report_folder(out):
        try:
            with steps() as step:
                step("drawing")
                write_report(comparison, protocol, out, charts=Charts(*charts), elsewhere=elsewhere)
            (out / "comparison.json").write_text(text.result(), encoding="utf-8")
        except BaseException:
            elsewhere.shutdown(cancel_futures=True)  # else a table that another process still writes would stay behind
            raise
    from rich.console import Console

    Console(width=None if os.isatty(1) else 110).print(terminal_summary(comparison, protocol))
    if comparison.stamp.protocol_lacks:
        typer.echo(f"Note: {lacking_words(comparison.stamp)}.")
    typer.echo(f"Report: {out / 'report.html'}")
