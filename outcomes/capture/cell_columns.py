"""Sheets as typed columns: each distinct cell of a column is read once, by the rules that hold for a single row."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import compress, islice, zip_longest

import polars as pl

from outcomes.capture.cells import RowReader
from outcomes.capture.columns import check_astray
from outcomes.capture.entry import Entry
from outcomes.capture.held_rows import HeldRows
from outcomes.capture.identifiers import doubtful_shape
from outcomes.capture.raw_sheets import Cell, NumberedRow, is_blank
from outcomes.errors import Problem
from outcomes.protocol import Field, Protocol, Value, folded_code

HeldValues = Mapping[str, Mapping[tuple[str, ...], Mapping[str, Value]]]
ROW = "row"
BLOCK = 20_000
_DAY_0 = date(1970, 1, 1).toordinal()
_TYPES: dict[str, pl.DataType] = {
    "number": pl.Float64(),
    "acuity": pl.Float64(),
    "grade": pl.Int16(),
    "year": pl.Int16(),
    "date": pl.Date(),
}


@dataclass(frozen=True)
class SheetColumns:
    """Some rows of a sheet: those of which every cell was read, as typed columns, and the others alone, with their problems.

    `frame` has the number of each row and a column a field that the sheet has.
    """

    frame: pl.DataFrame
    alone: tuple[Entry, ...]
    problems: tuple[Problem, ...]


@dataclass
class Codes:
    """The codes that were read, field by field, and those that need to be looked at beside the others.

    `first` has each code by field and folded form; `odd` are the codes that may be a person's, and those that differ from
    another one in no more than capitals, spaces or the width of letters.
    """

    first: dict[str, dict[str, str]] = field(default_factory=dict)
    odd: dict[str, set[str]] = field(default_factory=dict)
    columns: dict[tuple[str, bool], CellColumn] = field(default_factory=dict)

    def column(self, of: Field, reader: RowReader) -> CellColumn:
        """The column of a field; sheets that refer to each other share the codes that were read."""
        if of.kind != "code":
            return CellColumn(of, reader, self)
        return self.columns.setdefault((of.id, of.required), CellColumn(of, reader, self))

    def add_held(self, held: HeldRows, protocol: Protocol) -> None:
        """Note the codes that the register holds, as other spellings of them are odd."""
        for name in {each.id for each in protocol.fields if each.kind == "code"}:
            for code in held.codes(name):
                self.add(name, code)

    def add(self, name: str, code: str) -> None:
        """Note one code."""
        other = self.first.setdefault(name, {}).setdefault(folded_code(code), code)
        if other != code:
            self.odd.setdefault(name, set()).update((other, code))
        elif doubtful_shape(name, code):
            self.odd.setdefault(name, set()).add(code)


class CellColumn(dict[Cell, Value]):
    """What each distinct cell of one field says; a day as its number. A refused cell says nothing, and is in `refused`."""

    def __init__(self, of: Field, reader: RowReader, codes: Codes) -> None:
        super().__init__()
        self.field, self.reader, self.codes = of, reader, codes
        self.refused: set[Cell] = set()
        self.only_texts = True

    def __missing__(self, cell: Cell) -> Value:
        """Read a cell that was not met before."""
        reading = self.reader.read_cell(self.field, cell)
        self.only_texts &= cell is None or isinstance(cell, str)
        if reading.problem:
            self.refused.add(cell)
        value = reading.value
        if self.field.kind == "code" and isinstance(value, str):
            value = (
                cell if isinstance(cell, str) and cell == value else value
            )  # one text for both: there can be millions
            self.codes.add(self.field.id, value)
        self[cell] = value.toordinal() - _DAY_0 if isinstance(value, date) else value
        return self[cell]

    def read(self, cells: Sequence[Cell]) -> tuple[pl.Series, list[bool] | None]:
        """The values of some cells, and which of the cells must be read with their row; None for no such cell."""
        kind = column_type(self.field)
        values = pl.Series(self.field.id, list(map(self.__getitem__, cells)), dtype=_kept_type(kind)).cast(kind)
        if not self.only_texts and bool in set(map(type, cells)):  # which would be taken for 1 and 0
            return values, [cell in self.refused or isinstance(cell, bool) for cell in cells]
        return values, [cell in self.refused for cell in cells] if self.refused else None


def column_type(field: Field) -> pl.DataType:
    """The type of the column of a field."""
    return pl.Enum(list(field.allowed)) if field.allowed else _TYPES.get(field.kind, pl.String())


def _kept_type(kind: pl.DataType) -> pl.DataType:
    return pl.Int32() if kind == pl.Date else kind


def read_columns(reader: RowReader, rows: Iterable[NumberedRow], codes: Codes) -> Iterator[SheetColumns]:
    """Read the rows of a sheet block by block."""
    columns = {place: codes.column(of, reader) for place, of in reader.columns.fields.items()}
    blocks = iter(rows)
    while block := list(islice(blocks, BLOCK)):
        yield _read_block(reader, columns, block)


def joined(blocks: Sequence[pl.DataFrame]) -> pl.DataFrame:
    """The blocks of a sheet as one frame."""
    return pl.concat(blocks) if blocks else pl.DataFrame(schema={ROW: pl.Int64})


def _read_block(reader: RowReader, columns: dict[int, CellColumn], block: list[NumberedRow]) -> SheetColumns:
    numbers, rows = zip(*block, strict=True)
    grid: list[tuple[Cell, ...]] = list(zip_longest(*rows))
    grid += [(None,) * len(rows)] * (max(columns, default=-1) + 1 - len(grid))
    alone = [False] * len(block)
    for place, cells in enumerate(grid):
        if place not in reader.columns.named:
            alone = [one or not is_blank(cell) for one, cell in zip(alone, cells, strict=True)]
    series = [pl.Series(ROW, numbers, dtype=pl.Int64)]
    for place, column in columns.items():
        values, odd = column.read(grid[place])
        series.append(values)
        alone = alone if odd is None else [one or other for one, other in zip(alone, odd, strict=True)]
    frame = pl.DataFrame(series)
    read = [reader.read(number, cells) for number, cells in compress(block, alone)]
    return SheetColumns(
        frame.filter(~pl.Series(alone)),
        tuple(entry for entry, _ in read),
        (
            *(problem for _, problems in read for problem in problems),
            *(
                problem
                for number, cells in compress(block, alone)
                for problem in check_astray(reader.sheet, number, cells, reader.columns)
            ),
        ),
    )


def entries_of(sheet: str, frame: pl.DataFrame) -> Iterator[Entry]:
    """The rows of the frame as entries, one by one."""
    for row in frame.iter_rows(named=True):
        number = row.pop(ROW)
        values = {name: value for name, value in row.items() if value is not None}
        yield Entry(sheet, number, values)
