"""The command `outcomes counsel`: local figures for one patient, and the sheet."""

from __future__ import annotations

import os
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes import __version__
from outcomes.cli.level import Purpose
from outcomes.cli.options import DEFAULT_REGISTER, AsOf, Frozen, RegisterPath, as_of_day, opened
from outcomes.cli.output_paths import new_file, written
from outcomes.errors import DataRefused, Problem, WrongUsage

if TYPE_CHECKING:
    from outcomes.findings.counsel.patient import PatientValues
    from outcomes.findings.counsel.results import Counsel
    from outcomes.protocol import Protocol
    from outcomes.report.counsel import Language

OPTIONS = {
    "birth_year": "--age",
    "defect_width_mm": "--defect-width",
    "lid_width_mm": "--lid-width",
    "defect_depth": "--depth",
    "distraction_mm": "--laxity",
    "fellow_logmar": "--fellow-vision",
}
FORMS = {".pdf", ".html"}
PAPERS = ("a4", "letter")


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command()(counsel)


def counsel(
    age: Annotated[str, typer.Option("--age", help="Age in years.")] = "",
    defect_width: Annotated[str, typer.Option("--defect-width", help="Width of the defect at the margin, mm.")] = "",
    lid_width: Annotated[str, typer.Option("--lid-width", help="Length of the lid margin, mm.")] = "",
    depth: Annotated[str, typer.Option("--depth", help="skin, skin and muscle, or full thickness.")] = "",
    laxity: Annotated[str, typer.Option("--laxity", help="Distraction of the lid from the globe, mm.")] = "",
    fellow_vision: Annotated[
        str, typer.Option("--fellow-vision", help="Vision of the other eye: logMAR, or Snellen such as 6/12.")
    ] = "",
    case: Annotated[str, typer.Option("--case", metavar="CASE", help="Use the values of this case.")] = "",
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Write the sheet: .pdf or .html.")] = None,
    language: Annotated[str, typer.Option("--language", help="Language of the sheet, or a language file.")] = "en",
    large_print: Annotated[bool, typer.Option("--large-print", help="20 point letters on two pages.")] = False,
    paper: Annotated[str, typer.Option("--paper", help="a4 or letter.")] = "a4",
    printed_name: Annotated[
        str, typer.Option("--printed-name", help="A name to print on the sheet; it is kept nowhere else.")
    ] = "",
    purpose: Annotated[
        Purpose,
        typer.Option(
            "--for", help="own-eyes: a sheet for the room; public: a leaflet with nobody's values, no small counts."
        ),
    ] = Purpose.OWN_EYES,
    more: Annotated[
        bool, typer.Option("--more", help="Show every level, the warnings and how the lids were selected.")
    ] = False,
    register: RegisterPath = DEFAULT_REGISTER,
    frozen: Frozen = "",
    as_of: AsOf = None,
) -> None:
    """Tell what happened to lids like this patient's in your own register, on a sheet to talk over. It gives no advice."""
    from outcomes.report.counsel import read_language

    public = purpose is Purpose.PUBLIC
    _check_options(out, paper, printed_name, purpose)
    words = read_language(language)
    given = dict(zip(list(OPTIONS)[1:], (defect_width, lid_width, depth, laxity, fellow_vision), strict=True))
    figures, protocol = _figures((register, frozen, as_of_day(as_of)), (given, age, case), public=public)
    if out is not None:
        _write_sheet(figures, protocol, out, (words, paper, printed_name, large_print))
    _show(figures, protocol, more=more)
    if public and (case or age or any(given.values())):
        typer.echo("--for public counts all lids of a cover: the patient's values were not used.")
    if out is not None:
        typer.echo(f"Sheet: {out}")


def _check_options(out: Path | None, paper: str, printed_name: str, purpose: Purpose) -> None:
    if purpose is Purpose.JOURNAL:
        raise WrongUsage("--for journal: a sheet is for the room (own-eyes) or a leaflet (public); choose one of them")
    if paper not in PAPERS:
        raise WrongUsage(f'--paper "{paper}" is not known; known: {", ".join(PAPERS)}')
    if out is not None and out.suffix.lower() not in FORMS:
        raise WrongUsage(f"--out {out}: name a file that ends in .pdf or .html")
    if out is not None:
        new_file(out)
    if purpose is Purpose.PUBLIC and printed_name:
        raise WrongUsage(
            "--for public with --printed-name: a leaflet that leaves the room carries no name; leave one out"
        )


def _figures(
    source: tuple[Path, str, date], patient: tuple[dict[str, str], str, str], *, public: bool
) -> tuple[Counsel, Protocol]:
    """Read the register, ask for what is missing, and compute; the register is closed before any number is made."""
    from outcomes.findings import stamp
    from outcomes.findings.counsel.local_figures import local_figures, read_for_counsel
    from outcomes.findings.counsel.patient import NOBODY
    from outcomes.findings.counsel.verdicts import outcome_verdicts

    (register, frozen, as_of), (given, age, case) = source, patient
    with opened(register, frozen) as open_register:
        protocol, digest = open_register.protocol, open_register.digest
        series, of_case = read_for_counsel(open_register, protocol, as_of=as_of, case="" if public else case)
    values = NOBODY if public else _patient(of_case, given, age, (protocol, as_of))
    made = stamp(series, digest=digest, frozen=frozen, software=f"outcomes {__version__}")
    return local_figures(series, values, made, public=public, verdicts=outcome_verdicts(series)), protocol


def _patient(of_case: PatientValues, given: dict[str, str], age: str, by: tuple[Protocol, date]) -> PatientValues:
    """The patient's values: of the case, then as typed, then asked for on a terminal; refuses what is still missing."""
    from outcomes.findings.counsel.patient import fields_needed, overlaid, read_patient

    protocol, as_of = by
    typed = read_patient(given, age, protocol=protocol, as_of=as_of, options=OPTIONS)
    whole = overlaid(of_case, typed)
    needed = [name for name in fields_needed(protocol) if whole.values.get(name) is None]
    if needed and sys.stdin.isatty():
        answers, asked_age = _prompted(protocol, [name for name in OPTIONS if whole.values.get(name) is None], needed)
        whole = overlaid(whole, read_patient(answers, asked_age, protocol=protocol, as_of=as_of, options=OPTIONS))
        needed = [name for name in fields_needed(protocol) if whole.values.get(name) is None]
    if needed:
        missing = [
            Problem("counsel", 0, OPTIONS.get(name, name), "is needed to find lids like the patient's")
            for name in needed
        ]
        raise DataRefused("too little is known of the patient; add these, or name a case with --case", missing)
    return whole


def _prompted(protocol: Protocol, names: list[str], needed: list[str]) -> tuple[dict[str, str], str]:
    """Ask for each value that is missing, until it can be read; the age is kept apart."""
    answers = {}
    for name in names:
        label = "Age in years" if name == "birth_year" else protocol.field("reconstructions", name).label
        hint = "" if name in needed else " (may stay empty)"
        answers[name] = typer.prompt(f"{label}{hint}", default="", show_default=False, err=True)
    return answers, answers.pop("birth_year", "")


def _write_sheet(figures: Counsel, protocol: Protocol, out: Path, how: tuple[Language, str, str, bool]) -> None:
    from outcomes.report.counsel import make_sheet, write_html_sheet, write_pdf_sheet

    language, paper, printed_name, large_print = how
    sheet = make_sheet(figures, protocol, language, printed_name=printed_name)
    with written(out):
        if out.suffix.lower() == ".html":
            write_html_sheet(sheet, out, large_print=large_print)
        else:
            write_pdf_sheet(sheet, out, paper="letter" if paper == "letter" else "a4", large_print=large_print)


def _show(figures: Counsel, protocol: Protocol, *, more: bool) -> None:
    from rich.console import Console

    from outcomes.report.counsel import surgeon_details, surgeon_summary
    from outcomes.report.tables.writers.text import as_text

    view = surgeon_details if more else surgeon_summary
    Console(width=None if os.isatty(1) else 110).print(as_text(view(figures, protocol)))
