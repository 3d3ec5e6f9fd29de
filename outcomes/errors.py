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
    `column` counts from 1; 0 stands for no single cell. `general` is the fault without the value and the dates of this
    one row: problems of a field with the same text are of one kind. It is `what` where left out.
    """

    sheet: str
    row: int
    field: str
    what: str
    column: int = 0
    general: str = ""

    @property
    def address(self) -> str:
        """The cell as the spreadsheet shows it, such as `D7`; `row 7` for a row, and an empty text for the sheet.

        >>> Problem("patients", 7, "diabetes", "is odd", column=28).address
        'AB7'
        """
        if not self.row:
            return ""
        return f"{column_letters(self.column)}{self.row}" if self.column else f"row {self.row}"

    def __str__(self) -> str:
        """Say the problem as `sheet row N, field: what`."""
        place = f"{self.sheet} row {self.row}" if self.row else self.sheet
        if not self.field:
            return f"{place}: {self.what}"
        return (
            f"{place}, {self.field} {self.what}" if self.what.startswith('"') else f"{place}, {self.field}: {self.what}"
        )


def column_letters(column: int) -> str:
    """The letters over a column that is counted from 1.

    >>> column_letters(1), column_letters(26), column_letters(27), column_letters(703)
    ('A', 'Z', 'AA', 'AAA')
    """
    letters = ""
    while column:
        column, letter = divmod(column - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return letters


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

    def __init__(self, summary: str, problems: list[Problem], reasons: tuple[str, ...] = ()) -> None:
        """Keep the problems; say each as one reason, unless other reasons sum them up."""
        super().__init__(summary, reasons or tuple(str(problem) for problem in problems))
        self.problems = tuple(problems)


class RegisterRefused(OutcomesError):
    """The register cannot be used as asked: absent, busy, damaged, too new, or not a register."""


class WrongUsage(OutcomesError):
    """The command was called in a way that cannot be carried out. Ends the program with exit code 2."""

    exit_code = 2
