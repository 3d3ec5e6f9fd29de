"""Every cell of an old sheet is accounted for, without a traceback, whatever stands in it and wherever."""

import dataclasses
import random
from datetime import date, datetime, time, timedelta

import pytest

from outcomes.capture import HeldRows
from outcomes.capture.foreign import (
    LoadContext,
    completed_mapping,
    guess_mapping,
    map_rows,
    read_foreign,
    read_mapping,
    write_mapping,
)
from outcomes.protocol import default_protocol
from tests.capture.foreign import sheets

PROTOCOL, AS_OF = default_protocol(), date(2026, 6, 30)
WRITERS = {
    "wide.xlsx": sheets.wide_english,
    "export.csv": sheets.hospital_export,
    "german.xlsx": sheets.german_workbook,
    "months.csv": sheets.months_only,
    "american.xlsx": sheets.american_visits,
}
ODD = [
    None,
    "",
    0,
    -1,
    1e308,
    float("nan"),
    float("inf"),
    True,
    False,
    "#N/A",
    "=1+1",
    "x" * 2000,
    "\n",
    "—",
    "?",
    "5-6",
    "31.02.2020",
    "00/00/0000",
    "0",
    "1e5",
    date(1850, 1, 1),
    date(2099, 1, 1),
    datetime.fromisoformat("2020-01-01T03:04"),
    time(3, 4),
    timedelta(days=2),
    "٣",
    "🙂",
    "a\u200bb",
    "-",
    "12/2020",
    "Total",
    "999999999",
    "Jane Wood",
    "6/0",
    "0/6",
    "²",
    "1,500",
    10**30,
    "1.1.1",
    "\x00",
    "\x7f",
    '"',
    "\\",
]


def spoilt(sheet, drawn):
    grid = [list(row) for row in sheet.grid]
    for _ in range(drawn.choice([1, 5, 30, 200])):
        row = drawn.choice(grid)
        if row:
            row[drawn.randrange(len(row))] = drawn.choice(ODD)
    if drawn.random() < 0.2:
        drawn.shuffle(grid)
    if drawn.random() < 0.2:
        grid = grid[drawn.randrange(len(grid)) :]
    if drawn.random() < 0.1:
        grid = [row[: drawn.randrange(len(row) + 1)] for row in grid]
    return dataclasses.replace(sheet, grid=grid)


@pytest.mark.slow
@pytest.mark.parametrize("name", WRITERS)
def test_whatever_a_sheet_holds_is_accounted_for(tmp_path, name):
    whole = read_foreign(WRITERS[name](tmp_path / name))
    for seed in range(12):
        drawn = random.Random(f"{name} {seed}")
        read = tuple(spoilt(sheet, drawn) for sheet in whole)
        guess = guess_mapping(read, PROTOCOL, as_of=AS_OF)
        if not guess.mapping.tables:
            continue
        file = tmp_path / f"{seed}.toml"
        write_mapping(file, name, guess)
        mapping = read_mapping(file, PROTOCOL).mapping
        assert mapping.words == guess.mapping.words
        result = map_rows(read, mapping, LoadContext(PROTOCOL, AS_OF, HeldRows(), {}))
        assert sum(result.account.counts().values()) == sum(len(sheet.places()) for sheet in read)
        assert completed_mapping(mapping, read, PROTOCOL, as_of=AS_OF).mapping.words == mapping.words
