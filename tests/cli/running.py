"""Run the program as its user does, without a process for each command."""

from __future__ import annotations

import contextlib
import io
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from outcomes.cli import main
from tests.store.clinic import made
from tests.whole.clinic import fill, part_of_the_clinic

CLOSED_ON = "2026-06-30"
VARIABLES = (
    "OUTCOMES_REGISTER",
    "OUTCOMES_PASSPHRASE",
    "OUTCOMES_LINK_FILE",
    "OUTCOMES_LINK_PASSPHRASE",
    "OUTCOMES_LINK_NEW_PASSPHRASE",
)


@dataclass(frozen=True)
class Ran:
    """What a command did: its exit code, and what it printed to standard output and standard error."""

    code: int
    out: str
    err: str


def outcomes(*arguments: str | Path, typed: str = "", **environment: str) -> Ran:
    """Run one command; a traceback, or any exception that is no exit, fails the test."""
    out, err = io.StringIO(), io.StringIO()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["outcomes", *map(str, arguments)])
        patch.setattr(sys, "stdin", io.StringIO(typed))
        for name in VARIABLES:
            patch.delenv(name, raising=False)
        for name, value in environment.items():
            patch.setenv(name, value)
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = _exit_code()
    assert "Traceback" not in out.getvalue() + err.getvalue()
    return Ran(code, out.getvalue(), err.getvalue())


def _exit_code() -> int:
    try:
        main()
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else int(ended.code is not None)
    return 0


def done(*arguments: str | Path, typed: str = "", **environment: str) -> Ran:
    """Run one command that must succeed."""
    ran = outcomes(*arguments, typed=typed, **environment)
    assert ran.code == 0, ran.err
    return ran


def refused(*arguments: str | Path, code: int = 1, typed: str = "", **environment: str) -> str:
    """Run one command that must be refused, and give the refusal in one line."""
    ran = outcomes(*arguments, typed=typed, **environment)
    assert ran.code == code, (ran.out, ran.err)
    if code == 1:
        assert ran.err.splitlines()[-1:], ran
        assert "Refused: " in ran.err
    return " ".join(ran.err.split())


def tiny(folder: Path) -> Path:
    """A register with three cases."""
    return made(folder)


def workbook(folder: Path, cases: int = 6) -> Path:
    """A workbook filled in with the first cases of the invented clinic."""
    template = folder / "template.xlsx"
    done("template", template, "--register", folder / "none.duckdb")
    return fill(template, part_of_the_clinic(cases), folder / "cases.xlsx")


def files_in(folder: Path) -> dict[str, bytes]:
    """Every file below a folder with its bytes."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def copied(register: Path, to: Path) -> Path:
    """The register with all that lies beside it, in another folder."""
    shutil.copytree(register.parent, to, dirs_exist_ok=True)
    return to / register.name
