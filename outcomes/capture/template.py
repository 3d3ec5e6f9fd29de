"""Write the empty workbook that a clinic fills in.

Everything in it comes from the protocol. The first row of each sheet holds the bare field names, because that is what
is loaded again; unit and definition are in a comment on the name, in the input message of the cells, and on the sheet
`definitions`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from outcomes.capture.data_validation import entry_rule
from outcomes.errors import OutcomesError
from outcomes.protocol import KEYS, SHEETS, Field, Protocol

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

DEFINITIONS = "definitions"
LISTS = "lists"
LAST_ROW = 10_000
A4 = 9
CREATED = datetime(2024, 1, 1)  # noqa: DTZ001 - a fixed date keeps the file the same, byte for byte
_TEXT_KINDS = {"code", "acuity"}
_WIDTHS = {"date": 13.0, "number": 11.0, "yes_no": 10.0, "year": 11.0, "acuity": 12.0}
_WIDEST = 30.0
_DEFINITION_COLUMNS = (
    ("sheet", 16),
    ("field", 31),
    ("label", 30),
    ("required", 9),
    ("takes", 50),
    ("unit", 9),
    ("only with", 34),
    ("definition", 64),
    ("scale", 40),
)


def write_template(path: Path, protocol: Protocol) -> None:
    """Write the workbook to `path`; raises OutcomesError, and keeps what is there, when it cannot."""
    import xlsxwriter

    if path.exists():
        raise OutcomesError(f"{path} is there already and may hold entries; choose another name or move it away")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        book = xlsxwriter.Workbook(str(path))
        book.set_properties({"title": protocol.name, "created": CREATED})
        output = TemplateBook(book, (*SHEETS, DEFINITIONS))
        for sheet in SHEETS:
            _write_sheet(output, sheet, protocol)
        _write_definitions(output, protocol)
        output.lists.hide()
        book.close()
    except (OSError, xlsxwriter.exceptions.XlsxWriterException) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise OutcomesError(f"the template cannot be written to {path}: {reason}") from error


@dataclass
class TemplateBook:
    """The open workbook, its formats, and the hidden sheet of lists with its next free column."""

    book: Workbook
    names: tuple[str, ...]
    formats: dict[str, Format] = field(init=False)
    sheets: dict[str, Worksheet] = field(init=False)
    next_list: int = 0

    def __post_init__(self) -> None:
        self.formats = {name: self.book.add_format(look) for name, look in _LOOKS.items()}
        self.sheets = {name: self.book.add_worksheet(name) for name in (*self.names, LISTS)}

    @property
    def lists(self) -> Worksheet:
        """The hidden sheet of lists."""
        return self.sheets[LISTS]

    def keep_list(self, words: tuple[str | int, ...]) -> str:
        """Write a list down the next column of the hidden sheet and give its range."""
        from xlsxwriter.utility import xl_col_to_name

        letter = xl_col_to_name(self.next_list)
        for row, word in enumerate(words):
            write = self.lists.write_number if isinstance(word, int) else self.lists.write_string
            write(row, self.next_list, word)
        self.next_list += 1
        return f"={LISTS}!${letter}$1:${letter}${len(words)}"


_LOOKS: dict[str, dict[str, Any]] = {
    "required": {"bold": True, "bottom": 2, "bg_color": "#D9E2EC", "text_wrap": True, "valign": "top"},
    "optional": {"bottom": 2, "bg_color": "#F0F4F8", "text_wrap": True, "valign": "top"},
    "text": {"num_format": "@"},
    "date": {"num_format": "yyyy-mm-dd"},
    "plain": {},
    "wrapped": {"text_wrap": True, "valign": "top"},
}


def _write_sheet(output: TemplateBook, name: str, protocol: Protocol) -> None:
    sheet = output.sheets[name]
    for column, each in enumerate(protocol.sheet(name)):
        sheet.write_string(0, column, each.id, output.formats["required" if each.required else "optional"])
        _write_comment(sheet, column, each)
        sheet.set_column(column, column, _width(each), output.formats[_format_of(each)])
        write_rule(output, sheet, column, each)
    sheet.freeze_panes(1, len(KEYS[name][:1]))
    _set_print(sheet, protocol)


def _write_comment(sheet: Worksheet, column: int, each: Field) -> None:
    lines = [each.label + (" (required)" if each.required else ""), f"Takes {each.says()}."]
    lines += [f"Unit: {each.unit}."] if each.unit else []
    lines += [_only_with(each) + "."] if each.only_with_field else []
    lines += [each.definition] + ([f"Scale: {each.source}."] if each.source else [])
    lines += [] if each.required else ["Leave blank when not recorded."]
    text = "\n".join(lines)
    size = {"width": 330, "height": 40 + 18 * (len(lines) + len(text) // 48)}
    sheet.write_comment(0, column, text, {"author": "protocol", **size})


def write_rule(output: TemplateBook, sheet: Worksheet, column: int, each: Field) -> None:
    """Give a column of a sheet the data validation of its field."""
    rule = entry_rule(each)
    options = dict(rule.options)
    if rule.words:
        options["source"] = list(rule.words) if rule.fits_inline else output.keep_list(rule.words)
    sheet.data_validation(1, column, LAST_ROW, column, options)


def _format_of(each: Field) -> str:
    if each.kind in _TEXT_KINDS:
        return "text"
    return "date" if each.kind == "date" else "plain"


def _width(each: Field) -> float:
    longest = max((len(word) for word in (*each.allowed, *each.levels)), default=0)
    return min(_WIDEST, max(_WIDTHS.get(each.kind, 12.0), float(longest + 3), float(len(each.id) + 3)))


def _only_with(each: Field) -> str:
    return f"Only when {each.only_with_field} is " + " or ".join(each.only_with_values)


def _set_print(sheet: Worksheet, protocol: Protocol) -> None:
    sheet.set_landscape()
    sheet.set_paper(A4)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    sheet.set_margins(left=0.4, right=0.4, top=0.75, bottom=0.75)
    sheet.set_header("&L" + protocol.name.replace("&", "&&")[:120] + "&R&A")
    sheet.set_footer(f"&Lprotocol {protocol.fingerprint}&CStudy codes only: no name, no hospital number&R&P of &N")


def _write_definitions(output: TemplateBook, protocol: Protocol) -> None:
    sheet = output.sheets[DEFINITIONS]
    for column, (title, width) in enumerate(_DEFINITION_COLUMNS):
        sheet.write_string(0, column, title, output.formats["required"])
        sheet.set_column(column, column, width, output.formats["wrapped"])
    fields = [each for name in SHEETS for each in protocol.sheet(name)]
    for row, each in enumerate(fields, start=1):
        for column, text in enumerate(_definition(each)):
            sheet.write_string(row, column, text, output.formats["wrapped"])
    sheet.freeze_panes(1, 2)
    sheet.autofilter(0, 0, len(fields), len(_DEFINITION_COLUMNS) - 1)
    _set_print(sheet, protocol)


def _definition(each: Field) -> tuple[str, ...]:
    return (
        each.sheet,
        each.id,
        each.label,
        "yes" if each.required else "no",
        each.says(),
        each.unit,
        _only_with(each) if each.only_with_field else "",
        each.definition,
        each.source,
    )
