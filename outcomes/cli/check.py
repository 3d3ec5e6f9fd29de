"""`outcomes check`: contradictions, odd values, habits of assessors and gaps, each with a way to settle it."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes import __version__
from outcomes.cli.confirm import Who, now, patience, source
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, RegisterPath, as_of_day
from outcomes.cli.output_paths import new_file, written
from outcomes.cli.plurals import counted
from outcomes.errors import WrongUsage

if TYPE_CHECKING:
    from outcomes.findings.data_quality.review import DataReview
    from outcomes.protocol import Protocol


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(check)


def check(
    register: RegisterPath = DEFAULT_REGISTER,
    as_of: AsOf = None,
    accept: Annotated[
        list[str] | None, typer.Option("--accept", metavar="ID", help="Accept this query as right; may be repeated.")
    ] = None,
    reason: Annotated[
        str, typer.Option("--reason", help="Why it is right, without any name; kept in the history.")
    ] = "",
    who: Who = "",
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE.csv", help="Write every query; the completeness goes beside it."),
    ] = None,
) -> None:
    """List what contradicts itself, jumps or is odd, habits of assessors, and gaps with what each costs the comparison.

    Each query has an id under which it can be accepted, so that it stays quiet. Study codes only; for the clinic's own eyes.
    """
    if out is not None:
        if out.suffix.lower() != ".csv":
            raise WrongUsage(f"--out {out}: the name must end in .csv")
        new_file(out)
        new_file(_beside(out))
    if reason and not accept:
        raise WrongUsage("--reason belongs to --accept ID")
    review, protocol = _reviewed(register, as_of)
    if accept:
        _accept(register, review, list(dict.fromkeys(accept)), (reason, who))
        return
    _print(review, protocol)
    if out is not None:
        _write(
            review,
            out,
            f"as of {as_of_day(as_of).isoformat()}; protocol {protocol.fingerprint}; outcomes {__version__}",
        )


def _reviewed(register: Path, as_of: str | None) -> tuple[DataReview, Protocol]:
    from outcomes.findings import Selection, case_series
    from outcomes.findings.data_quality.review import review_data
    from outcomes.store import accepted_queries, reading

    with reading(register, patience()) as held:
        series = case_series(held, held.protocol, Selection(as_of_day(as_of)))
        stored = held.extract("queries").fetchall()
        return review_data(series, held.held(), stored, accepted_queries(held).keys()), held.protocol


def _accept(register: Path, review: DataReview, ids: list[str], given: tuple[str, str]) -> None:
    from outcomes.store import AcceptedQuery, accept_query

    reason, who = given
    if not reason.strip():
        raise WrongUsage("--accept needs --reason: why it is right")
    open_, settled = {query.id: query for query in review.queries}, {query.id for query in review.accepted}
    for query_id in ids:
        if query_id not in open_:
            state = "is accepted already" if query_id in settled else "is no open query; `outcomes check` lists them"
            raise WrongUsage(f"--accept {query_id} {state}")
    for query_id in ids:
        about = open_[query_id]
        query = AcceptedQuery(query_id, tuple(filter(None, (about.case, *about.cases, about.assessor))))
        change = accept_query(register, query, source=source(who, reason), at=now(), patience=patience())
        typer.echo(f"{query_id} is accepted (change {change}).")


def _print(review: DataReview, protocol: Protocol) -> None:
    from rich.console import Console

    from outcomes.report.data_quality import quality_tables
    from outcomes.report.tables.writers.text import as_text

    console = Console(width=None if os.isatty(1) else 120)
    for table in quality_tables(review, protocol):
        console.print(as_text(table))
    accepted = f", {counted(len(review.accepted), 'query', 'queries')} accepted before" if review.accepted else ""
    found = counted(len(review.queries), "query", "queries") if review.queries else "Nothing to ask about"
    typer.echo(f"{found} in {counted(review.cases, 'case')}{accepted}.")
    if review.queries:
        typer.echo("Accept one that is right: outcomes check --accept ID --reason ...")


def _beside(out: Path) -> Path:
    return out.with_name(f"{out.stem}-completeness{out.suffix}")


def _write(review: DataReview, out: Path, stamp: str) -> None:
    from outcomes.report.data_quality import completeness_file, quality_file
    from outcomes.report.tables.writers.csv import as_csv

    with written(out), written(_beside(out)):
        for table, file in ((quality_file(review), out), (completeness_file(review), _beside(out))):
            file.write_text(as_csv(table, stamp=stamp), encoding="utf-8-sig", newline="")
    typer.echo(f"{counted(len(review.queries), 'query', 'queries')} in {out}; completeness in {_beside(out)}.")
