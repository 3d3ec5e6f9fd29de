"""Check a workbook's package before the spreadsheet library opens it.

A workbook is a zip of XML parts. The parts that are wanted are read as a stream with bounds on everything: the library
would allocate a value in the last cell of a sheet as seventeen thousand million cells, and reads a failed formula as
blank.
"""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
import zlib
from array import array
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from xml.parsers import expat

from outcomes.capture import size_limits
from outcomes.errors import DataRefused

_CHUNK = 1 << 16
_SHOWN = 100
_LETTERS = re.compile(r"[A-Z]{1,3}")
Place = tuple[int, int]


@dataclass
class SheetSurvey:
    """What was seen in one sheet: places count from 0. `unread` holds the text to show for a cell without a result."""

    name: str
    too_large: str = ""
    cells: int = 0
    text_length: int = 0
    unread: dict[Place, str] = field(default_factory=dict)
    merged: list[tuple[int, str]] = field(default_factory=list)


def survey(name: str, content: bytes, wanted: Callable[[str], bool]) -> list[SheetSurvey]:
    """List the sheets of a workbook and look through the wanted ones; raises DataRefused when unsafe or damaged."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            _check_size(name, package)
            _check_kind(name, package)
            _check_parts(name, package)
            lengths = _text_lengths(package)
            surveys = [
                _survey_sheet(package, sheet, part, lengths if wanted(sheet) else None)
                for sheet, part in sheet_parts(package)
            ]
    except _DAMAGE as error:
        raise DataRefused(
            f"{name} is damaged: it cannot be unpacked; open it in the spreadsheet program and save it again", []
        ) from error
    _check_extent(name, surveys)
    return surveys


def _check_extent(name: str, surveys: list[SheetSurvey]) -> None:
    cells = sum(each.cells for each in surveys if not each.too_large)
    if cells > size_limits.CELLS or sum(each.text_length for each in surveys) > size_limits.TEXT_LENGTH:
        raise DataRefused(
            f"{name} covers more than {size_limits.CELLS:,} cells, or holds more than {size_limits.TEXT_LENGTH:,} characters; split it",
            [],
        )


# What the standard library raises on a broken zip or broken XML.
_DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    expat.ExpatError,
    EOFError,
    KeyError,
    ValueError,
    NotImplementedError,
    RuntimeError,
    OSError,
    UnicodeError,
    RecursionError,
)


def _check_size(name: str, package: zipfile.ZipFile) -> None:
    parts = package.infolist()
    if len(parts) > size_limits.PARTS or sum(part.file_size for part in parts) > size_limits.UNPACKED_BYTES:
        raise DataRefused(
            f"{name} would unpack to more than {size_limits.UNPACKED_BYTES // 1_000_000} MB or {size_limits.PARTS:,} parts; "
            "copy the four sheets into a fresh template and load that",
            [],
        )


def _check_parts(name: str, package: zipfile.ZipFile) -> None:
    """Unpack every part once, so that its checksum is compared; raises DataRefused that names the part that differs.

    The spreadsheet library does not compare checksums: a changed byte would be read as another word.
    """
    repeated = next((part for part, count in Counter(package.namelist()).items() if count > 1), "")
    damaged = "" if repeated else package.testzip()
    if repeated or damaged:
        raise DataRefused(
            f"{name} is damaged: its part {repeated or damaged} "
            + ("is in the file twice" if repeated else "is not as it was saved (its checksum differs)")
            + "; take an earlier copy, or open it in the spreadsheet program, check it and save it again",
            [],
        )


def _check_kind(name: str, package: zipfile.ZipFile) -> None:
    parts = set(package.namelist())
    if "xl/workbook.xml" in parts:
        return
    if "xl/workbook.bin" in parts:
        raise DataRefused(f"{name} is a binary workbook (.xlsb); save it as .xlsx and load that", [])
    if "content.xml" in parts:
        raise DataRefused(f"{name} is an OpenDocument file; save it as .xlsx and load that", [])
    raise DataRefused(
        f"{name} is a zip file, but no workbook; give an .xlsx workbook, or the unpacked folder of CSV tables", []
    )


def sheet_parts(package: zipfile.ZipFile) -> list[tuple[str, str]]:
    """Each sheet's name and the part that holds it."""
    named: list[dict[str, str]] = []
    targets: dict[str, str] = {}
    parse_part(package, "xl/workbook.xml", lambda tag, given: named.append(given) if tag == "sheet" else None)
    parse_part(
        package,
        "xl/_rels/workbook.xml.rels",
        lambda tag, given: targets.update({given["Id"]: given["Target"]}) if tag == "Relationship" else None,
    )
    return [(each["name"], part_path(targets[each["id"]])) for each in named]


def part_path(target: str) -> str:
    """The part that a relationship of the workbook points to."""
    return target.lstrip("/") if target.startswith("/") else posixpath.normpath(posixpath.join("xl", target))


def parse_part(package: zipfile.ZipFile, part: str, start: Callable[[str, dict[str, str]], None]) -> None:
    """Call `start` with the name and the attributes of every element of a part."""
    parser = part_parser()
    parser.StartElementHandler = lambda tag, given: start(
        local_name(tag), {local_name(key): value for key, value in given.items()}
    )
    feed_part(package, part, parser)


def part_parser() -> expat.XMLParserType:
    """A parser that refuses a document type declaration."""
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = _refuse_doctype
    return parser


def _refuse_doctype(*_: object) -> None:
    raise ValueError("a document type declaration has no place in a workbook")


def feed_part(package: zipfile.ZipFile, part: str, parser: expat.XMLParserType) -> None:
    """Parse one part of the package as a stream."""
    with package.open(part) as stream:
        while chunk := stream.read(_CHUNK):
            parser.Parse(chunk, False)  # noqa: FBT003 - the parser takes it by place
        parser.Parse(b"", True)  # noqa: FBT003


def local_name(name: str) -> str:
    """The name of an element or attribute without its namespace."""
    return name.rpartition(":")[2] if ":" in name else name


def _text_lengths(package: zipfile.ZipFile) -> array[int]:
    """The length of each shared string, by its number: cells hold the number, and the library a copy of the text each."""
    lengths = array("L")
    part = next((each for each in package.namelist() if each.lower() == "xl/sharedstrings.xml"), "")
    if part:
        parser = part_parser()
        parser.StartElementHandler = lambda tag, _: lengths.append(0) if local_name(tag) == "si" else None

        def add_length(text: str) -> None:
            if lengths:
                lengths[-1] += len(text)

        parser.CharacterDataHandler = add_length
        feed_part(package, part, parser)
    return lengths


def _survey_sheet(package: zipfile.ZipFile, name: str, part: str, lengths: array[int] | None) -> SheetSurvey:
    seen = SheetSurvey(name)
    if lengths is not None:
        parser = part_parser()
        cells = _Cells(seen, lengths)
        parser.StartElementHandler, parser.EndElementHandler, parser.CharacterDataHandler = (
            cells.start,
            cells.end,
            cells.text,
        )
        feed_part(package, part, parser)
        cells.check_extent()
    return seen


class _Cells:
    """Follows the cells of one sheet as they stream by."""

    def __init__(self, seen: SheetSurvey, lengths: array[int]) -> None:
        self.seen = seen
        self.lengths = lengths
        self.place: Place = (-1, -1)
        self.corner: Place = (-1, -1)
        self.kind = ""
        self.value = ""
        self.formula: str | None = None
        self.within = ""

    def start(self, tag: str, given: dict[str, str]) -> None:
        tag = local_name(tag)
        if tag == "c":
            self.place = self._placed(given.get("r"))
            self.kind, self.value, self.formula = given.get("t", "n"), "", None
        elif tag == "row":
            self.place = (int(given["r"]) - 1 if "r" in given else self.place[0] + 1, -1)
        elif tag == "f":
            self.formula, self.within = "", "f"
        elif tag in {"v", "t"}:
            self.within = "v"
        elif tag == "mergeCell":
            self._merge(given.get("ref", ""))

    def text(self, text: str) -> None:
        """Keep the beginning of a value or a formula: enough to know that it is there, and to show it."""
        if self.within == "v" and len(self.value) < _SHOWN:
            self.value += text
        elif self.within == "f" and self.formula is not None and len(self.formula) < _SHOWN:
            self.formula += text

    def end(self, tag: str) -> None:
        tag = local_name(tag)
        if tag in {"v", "t", "f"}:
            self.within = ""
        elif tag == "c":
            self._close()

    def check_extent(self) -> None:
        """Say when the used part of the sheet is larger than is read; merged cells outside that part do no harm."""
        self.seen.merged = [(row, cells) for row, cells in self.seen.merged if row <= self.corner[0] + 1]
        rows, columns = self.corner[0] + 1, self.corner[1] + 1
        self.seen.cells = rows * columns
        if rows > size_limits.ROWS + 1:
            self.seen.too_large = f"holds a value in row {rows:,}; at most {size_limits.ROWS:,} rows are read"
        elif columns > size_limits.COLUMNS:
            self.seen.too_large = f"holds a value in column {columns:,}; at most {size_limits.COLUMNS} columns are read"
        elif rows * columns > size_limits.CELLS:
            self.seen.too_large = (
                f"covers {rows:,} rows by {columns} columns; at most {size_limits.CELLS:,} cells are read"
            )

    def _placed(self, reference: str | None) -> Place:
        if reference is None:
            return self.place[0], self.place[1] + 1
        return place_of(reference)

    def _close(self) -> None:
        lacking = self.formula is not None and not self.value and self.kind != "str"
        if lacking:
            self.seen.unread[self.place] = "=" + (self.formula or "")
        elif self.kind == "e":
            self.seen.unread[self.place] = self.value or "#N/A"
        if self.kind == "s" and self.value.isdigit() and int(self.value) < len(self.lengths):
            self.seen.text_length += self.lengths[int(self.value)]
        if self.value or self.place in self.seen.unread:
            self.corner = max(self.corner[0], self.place[0]), max(self.corner[1], self.place[1])

    def _merge(self, reference: str) -> None:
        first, _, last = reference.partition(":")
        if last and first != last:
            self.seen.merged.append((place_of(first)[0] + 1, reference))


def place_of(reference: str) -> Place:
    """The row and column, counted from 0, of a cell such as `B3`; ValueError when it is no cell.

    >>> place_of("B3")
    (2, 1)
    """
    letters = reference.rstrip("0123456789")
    row = int(reference[len(letters) :])
    if row < 1:
        raise ValueError(reference)
    return row - 1, _column(letters)


@cache
def _column(letters: str) -> int:
    if not _LETTERS.fullmatch(letters):
        raise ValueError(letters)
    column = 0
    for letter in letters:
        column = column * 26 + ord(letter) - ord("A") + 1
    return column - 1
