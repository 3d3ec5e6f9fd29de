"""The errors that are meant for the user, with their exit codes.

Every message meant for the user is one of these. The command line catches them in one place, prints a numbered
list of what, where and how to mend it, and ends with the error's exit code. Messages never hold patient data beyond
the one value that is at fault.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Problem:
    """One thing that is wrong, with its place and its remedy.

    `row` is the row number as the spreadsheet shows it (the header is row 1); 0 stands for the sheet as a whole.
    """

    sheet: str
    row: int
    field: str
    what: str

    def __str__(self) -> str:
        """Say the problem as `sheet row N, field: what`."""
        place = f"{self.sheet} row {self.row}" if self.row else self.sheet
        if not self.field:
            return f"{place}: {self.what}"
        return (
            f"{place}, {self.field} {self.what}" if self.what.startswith('"') else f"{place}, {self.field}: {self.what}"
        )


class OutcomesError(Exception):
    """The request or the data was refused; nothing was changed. Ends the program with exit code 1."""

    exit_code = 1

    def __init__(self, summary: str, reasons: tuple[str, ...] = ()) -> None:
        """Keep one sentence, and the reasons that the user is shown as a numbered list."""
        super().__init__(summary)
        self.summary = summary
        self.reasons = reasons


class DataRefused(OutcomesError):
    """A sheet, a protocol or a value is wrong; carries every problem found, in reading order."""

    def __init__(self, summary: str, problems: list[Problem]) -> None:
        """Keep the problems, and say each as one reason."""
        super().__init__(summary, tuple(str(problem) for problem in problems))
        self.problems = tuple(problems)


class RegisterRefused(OutcomesError):
    """The register cannot be used as asked: absent, busy, damaged, too new, or not a register."""


class WrongUsage(OutcomesError):
    """The command was called in a way that cannot be carried out. Ends the program with exit code 2."""

    exit_code = 2
