"""Sheets are checked alike whether every row is looked at one by one, or only those of suspect patients."""

import contextlib
import json
import random
from datetime import date
from functools import partial

import polars as pl
import pytest

from outcomes.capture import HeldRows, check_sheets, read_sheets, validation
from outcomes.capture.suspects import Suspects, find_suspects
from outcomes.errors import DataRefused
from outcomes.protocol import SHEETS, default_protocol, protocol_from_text
from tests.large_register import blocks

PROTOCOL, AS_OF = default_protocol(), date(2026, 6, 30)
ODD_CELLS = ["", "x", "0", "1", "0.5", "7", "25", "99", "yes", "none", "1990-01-01", "2016-02-30", "2027-01-01", "=A1"]
ODD_CELLS += ["P0000003", "p0000004", "L0000003", "l0000004", "Smith", "graft", "telephone", "death", "month", "right"]


def tables(seed):
    """A small invented register, of which some cells hold what stands elsewhere or nowhere, and some rows are twice there."""
    draw = random.Random(seed)
    found = {name: table.cast(pl.String).to_dicts() for name, table in next(iter(blocks(24, seed))).items()}
    for _ in range(draw.randrange(12)):
        rows = found[draw.choice(SHEETS)]
        row = draw.choice(rows)
        name = draw.choice(list(row))
        row[name] = draw.choice([*ODD_CELLS, draw.choice(rows)[name], draw.choice(list(draw.choice(rows).values()))])
    for _ in range(draw.randrange(3)):
        rows = found[draw.choice(SHEETS)]
        rows.insert(draw.randrange(len(rows)), dict(draw.choice(rows)))
    return found


def written(folder, found):
    for name, rows in found.items():
        pl.DataFrame(rows).write_csv(folder / f"{name}.csv")
    return read_sheets(folder, PROTOCOL)


def everybody(frames, *_):
    patients = {*frames["patients"]["patient_id"], *frames["reconstructions"]["patient_id"]}
    return Suspects(frozenset(patients), frozenset(code for sheet in SHEETS[1:] for code in frames[sheet]["case_id"]))


def outcome(checked):
    return checked.problems, checked.queries, checked.notes, checked.rows


@pytest.mark.parametrize("seed", range(60))
def test_no_message_and_no_row_is_lost_by_looking_at_suspects_only(tmp_path, monkeypatch, seed):
    raw = written(tmp_path, tables(seed))
    found = check_sheets(raw, PROTOCOL, as_of=AS_OF, held=HeldRows())
    monkeypatch.setattr(validation, "find_suspects", everybody)
    assert outcome(found) == outcome(check_sheets(raw, PROTOCOL, as_of=AS_OF, held=HeldRows()))


@pytest.mark.parametrize("seed", range(60))
def test_the_same_are_suspect_in_parts_of_any_size(tmp_path, monkeypatch, seed):
    """A row that is twice there, a leap between two reviews, a death told of the other lid: all across what a part ends."""
    raw = written(tmp_path, tables(seed))
    whole = check_sheets(raw, PROTOCOL, as_of=AS_OF, held=HeldRows())
    monkeypatch.setattr(validation, "find_suspects", partial(find_suspects, part=1 + seed % 5))
    assert outcome(whole) == outcome(check_sheets(raw, PROTOCOL, as_of=AS_OF, held=HeldRows()))


def test_a_faultless_register_has_few_suspects(tmp_path):
    found = check_sheets(written(tmp_path, next(iter(blocks(200, 1)))), PROTOCOL, as_of=AS_OF, held=HeldRows())
    assert not found.problems
    assert len(found.single) < len(found.rows) / 10


@pytest.mark.quick
def test_a_long_sheet_with_nothing_odd_is_checked(tmp_path):
    # From 16,384 rows on Polars 2.1 refuses, as a filter, a lone literal whose nulls are filled
    codes = pl.DataFrame({"patient_id": [f"P{number:05}" for number in range(20_000)]})
    codes.with_columns(birth_year=1950).write_csv(tmp_path / "patients.csv")
    found = check_sheets(read_sheets(tmp_path, PROTOCOL), PROTOCOL, as_of=AS_OF, held=HeldRows())
    assert (found.problems, found.plain["patients"].height) == ((), 20_000)


def without(sheet, name):
    """The protocol from before there was a field, or None where the protocol itself refers to the field."""
    tree = json.loads(PROTOCOL.text)
    del tree["synonyms"]
    tree["fields"] = [each for each in tree["fields"] if (each["sheet"], each["id"]) != (sheet, name)]
    with contextlib.suppress(DataRefused):
        return protocol_from_text(json.dumps(tree))
    return None


EARLIER = {
    (each.sheet, each.id): without(each.sheet, each.id)
    for each in PROTOCOL.fields
    if not each.required and not each.observed
}


@pytest.mark.parametrize("sheet, name", [place for place, protocol in EARLIER.items() if protocol])
def test_a_protocol_from_before_there_was_a_field_reads_the_sheets_that_have_none(tmp_path, sheet, name):
    older, found = EARLIER[sheet, name], next(iter(blocks(24, 1)))
    for each, table in found.items():
        table.drop(name if each == sheet else [], strict=False).write_csv(tmp_path / f"{each}.csv")
    checked = check_sheets(read_sheets(tmp_path, older), older, as_of=AS_OF, held=HeldRows())
    assert not checked.problems
    assert len(checked.rows) == sum(table.height for table in found.values())
