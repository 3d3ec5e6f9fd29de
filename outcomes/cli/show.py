"""`outcomes show`: the course of one case, on the terminal or as a page."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from outcomes import __version__
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, as_of_day
from outcomes.cli.output_paths import new_file, written
from outcomes.errors import WrongUsage


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(show)


def show(
    case: Annotated[str, typer.Argument(metavar="CASE", help="Study code of the case.")],
    register: RegisterPath = DEFAULT_REGISTER,
    as_of: AsOf = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE.html", help="Write a page with a small chart of each measure.")
    ] = None,
) -> None:
    """Show one case whole: lesion, defect, cover, division, each measure over time, events, and what is due.

    Rows of a single patient: for the clinic's own eyes.
    """
    from outcomes.cli.confirm import patience
    from outcomes.findings.case_story import case_story
    from outcomes.store import reading

    if out is not None:
        if out.suffix.lower() not in {".html", ".htm"}:
            raise WrongUsage(f"--out {out}: the name must end in .html")
        new_file(out)
    with reading(register, patience()) as held:
        protocol = held.protocol
        story = case_story(held.held(), protocol, case, as_of_day(as_of))
    if out is None:
        from rich.console import Console

        from outcomes.report.case_tables import case_tables
        from outcomes.report.tables.writers.text import as_text

        console = Console(width=None if os.isatty(1) else 120)
        for table in case_tables(story, protocol):
            console.print(as_text(table))
        return
    from outcomes.report.documents.case_page import write_case_page

    with written(out):
        write_case_page(story, protocol, out, software=f"outcomes {__version__}")
    typer.echo(f"Case {story.record.case_id}: {out}")
