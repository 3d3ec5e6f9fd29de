r"""A table as LaTeX.

A fragment for `\input`, with three horizontal rules and no vertical one; it asks for the packages booktabs and longtable. Bare
numbers are padded so that their decimal points stand over one another. Every letter that TeX would obey is made harmless.
"""

from __future__ import annotations

from pathlib import Path

from outcomes.findings.results import Stamp
from outcomes.report.formats import MINUS
from outcomes.report.stamp import stamp_line
from outcomes.report.tables.model import Row, Table
from outcomes.report.tables.print_layout import ABSENT, after_point, decimal_columns, widths
from outcomes.report.traced_text import plain

LONG, WIDE, BETWEEN = 25, 6, 0.0145  # what the room between two columns takes of the line
_OBEYED = {
    "\\": r"\textbackslash{}",
    "&": r"\&",
    "%": r"\%",
    "$": r"\$",
    "#": r"\#",
    "_": r"\_",
    "{": r"\{",
    "}": r"\}",
    "~": r"\textasciitilde{}",
    "^": r"\textasciicircum{}",
    "<": r"\ensuremath{<}",
    ">": r"\ensuremath{>}",
    MINUS: r"\ensuremath{-}",
    "±": r"\ensuremath{\pm}",
    "≥": r"\ensuremath{\geq}",
    "–": "--",
    '"': "''",
    "\u00a0": "~",
    "\u2003": r"\quad{}",
}


def write_latex(table: Table, path: Path, stamp: Stamp) -> Path:
    """Write the table as a fragment; after a failure the file may be incomplete."""
    path.write_text(as_latex(table, stamp=stamp_line(stamp)), encoding="utf-8")
    return path


def as_latex(table: Table, *, stamp: str) -> str:
    """Give the table as LaTeX."""
    inside = [*_head(table), r"\midrule", *_body(table), r"\bottomrule"]
    size = r"\footnotesize" if len(table.columns) <= WIDE else r"\scriptsize"
    wrap = _long if len(table.rows) > LONG else _float
    notes = [rf"\par {escaped(plain(note))}" for note in table.notes]
    return "\n".join(
        (f"% {escaped(stamp)}", r"% \usepackage{booktabs,longtable,array}", *wrap(table, size, inside, notes), "")
    )


def _float(table: Table, size: str, inside: list[str], notes: list[str]) -> list[str]:
    return [
        r"\begin{table}",
        rf"\caption{{{escaped(table.title)}}}\label{{tab:{table.id}}}",
        rf"{size}\setlength{{\tabcolsep}}{{3pt}}",
        rf"\begin{{tabular}}{{{_columns(table)}}}",
        r"\toprule",
        *inside,
        r"\end{tabular}",
        *notes,
        r"\end{table}",
    ]


def _long(table: Table, size: str, inside: list[str], notes: list[str]) -> list[str]:
    """A table over several pages: its heading is repeated on each."""
    rule = inside.index(r"\midrule")
    return [
        rf"{{{size}\setlength{{\tabcolsep}}{{3pt}}",
        rf"\begin{{longtable}}{{{_columns(table)}}}",
        rf"\caption{{{escaped(table.title)}}}\label{{tab:{table.id}}}\\",
        r"\toprule",
        *inside[: rule + 1],
        r"\endhead",
        *inside[rule + 1 :],
        r"\end{longtable}",
        *notes,
        "}",
    ]


def _columns(table: Table) -> str:
    told, room = [], 1 - BETWEEN * len(table.columns)
    for column, share in zip(table.columns, widths(table), strict=True):
        side = "raggedleft" if column.align == "right" else "raggedright"
        told.append(rf">{{\{side}\arraybackslash}}p{{{room * share:.3f}\linewidth}}")
    return "@{}" + "".join(told) + "@{}"


def _head(table: Table) -> list[str]:
    lines = []
    if table.spanners:
        lines.append(
            " & ".join(
                rf"\multicolumn{{{width}}}{{c}}{{{escaped(name)}}}" if width > 1 or name else ""
                for name, width in table.spanners
            )
            + r" \\"
        )
        lines.append("".join(_spanned(table)))
    lines.append(" & ".join(escaped(column.label) for column in table.columns) + r" \\")
    return [line for line in lines if line]


def _spanned(table: Table) -> list[str]:
    rules, at = [], 1
    for name, width in table.spanners:
        if name:
            rules.append(rf"\cmidrule(lr){{{at}-{at + width - 1}}}")
        at += width
    return rules


def _body(table: Table) -> list[str]:
    longest = _longest_after_point(table)
    lines = []
    for band, rows in table.bands:
        if band:
            lines.append(rf"\multicolumn{{{len(table.columns)}}}{{@{{}}l}}{{\textbf{{{escaped(band)}}}}} \\")
        lines.extend(_line(row, longest) for row in rows)
    return lines


def _longest_after_point(table: Table) -> list[str | None]:
    return [
        max((after_point(plain(row.cells[number])) for row in table.rows), key=len) if points else None
        for number, points in enumerate(decimal_columns(table))
    ]


def _line(row: Row, longest: list[str | None]) -> str:
    cells = (_cell(plain(cell), most) for cell, most in zip(row.cells, longest, strict=True))
    return " & ".join(cells) + r" \\"


def _cell(text: str, longest: str | None) -> str:
    if longest is None or text in ABSENT:
        return escaped(text)
    missing = longest[len(after_point(text)) :]
    return escaped(text) + (rf"\phantom{{{escaped(missing)}}}" if missing else "")


def escaped(text: str) -> str:
    """The text with every letter that TeX would obey made harmless."""
    return "".join(_OBEYED.get(letter, letter) for letter in text).replace("\n", " ")
