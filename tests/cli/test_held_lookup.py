"""A sheet is checked alike whether the whole register is looked at, or only the patients whom the sheet names."""

import random
from datetime import date, datetime

import pytest

from outcomes.capture import HeldRows, check_sheets
from outcomes.cli.load import _HeldByRegister
from outcomes.protocol import SHEETS, RowAddress, default_protocol
from outcomes.store import (
    Amendment,
    Source,
    amend_value,
    create_register,
    reading,
    record_rows,
    remove_row,
    withdraw_patient,
)
from tests.capture.test_suspects import AS_OF, outcome, tables, written
from tests.large_register import blocks
from tests.store import clinic

PROTOCOL = default_protocol()
AT, WHY = datetime(2026, 3, 5, 14, 2), Source(who="NB", reason="typed wrongly")  # noqa: DTZ001 - the clinic's clock


@pytest.fixture(scope="module")
def register(tmp_path_factory):
    """Twenty-four lids, some of whose rows were amended, moved to another case, removed or withdrawn since."""
    folder = tmp_path_factory.mktemp("held")
    path, found = folder / "register.duckdb", next(iter(blocks(24, 1)))
    create_register(path, PROTOCOL)
    checked = check_sheets(
        written(folder, {name: each.to_dicts() for name, each in found.items()}), PROTOCOL, as_of=AS_OF, held=HeldRows()
    )
    assert not checked.problems
    record_rows(path, checked.rows, source=Source("made"), at=AT)
    reviews = found["reviews"].group_by("case_id", maintain_order=True).first()
    day = {case: date.fromisoformat(on) for case, on in reviews.select("case_id", "reviewed_on").iter_rows()}
    codes = list(day)
    amend_value(path, Amendment(codes[2], "case_id", codes[3], day[codes[2]]), source=WHY, at=AT)
    amend_value(path, Amendment(codes[4], "assessor", "ZZ", day[codes[4]]), source=WHY, at=AT)
    amend_value(path, Amendment(codes[5], "surgeon", "s07"), source=WHY, at=AT)
    remove_row(path, RowAddress(codes[6], day[codes[6]]), source=WHY, at=AT)
    remove_row(path, RowAddress(codes[9]), source=WHY, at=AT)
    withdraw_patient(path, f"P{codes[10][1:]}", source=WHY, at=AT)
    return path


def some_rows(seed):
    """Some rows of a like register, of which some cells are odd; codes of both are the same, or written otherwise."""
    draw = random.Random(seed)
    found = tables(1 if seed % 3 else seed)
    for name in SHEETS:
        found[name] = [row for row in found[name] if draw.random() < draw.choice([0.1, 0.5])] or found[name][:1]
        for row in found[name]:
            if draw.random() < 0.1:
                code = draw.choice([key for key in ("patient_id", "case_id", "surgeon", "assessor") if key in row])
                row[code] = (row[code] or "").lower()
            if draw.random() < 0.1:
                row.pop(draw.choice([key for key in row if not key.endswith("_id")]))
    return {name: [dict.fromkeys(rows[0]) | row for row in rows] for name, rows in found.items()}


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("blanks", ["keep", "erase"])
def test_what_is_not_named_changes_nothing(tmp_path, register, seed, blanks):
    raw = written(tmp_path, some_rows(seed))
    with reading(register) as opened:
        whole = HeldRows(opened.held(), opened.amended(), blanks)
        named = _HeldByRegister(opened, blanks)
        one, other = (check_sheets(raw, PROTOCOL, as_of=AS_OF, held=held) for held in (whole, named))
    assert outcome(one) == outcome(other)
    assert one.blanks == other.blanks


def test_only_the_patients_that_are_named_are_read(register):
    with reading(register) as opened:
        [review] = [key for key, row in opened.amended()["reviews"].items() if "case_id" in row]
        was = opened.amended()["reviews"][review]["case_id"]
        found = opened.among({"case_id": {was.casefold()}})
        assert review in found.values["reviews"]  # which the last sheet said of the case that it was moved from
        assert {key[0] for key in found.values["reconstructions"]} >= {was, review[0]}
        assert 0 < len(found.values["patients"]) < 5 < len(opened.held()["patients"])
        assert "s07" in found.spellings["surgeon"]
        assert opened.among({}).values == {sheet: {} for sheet in SHEETS}


def both_ways(folder, path, found):
    """What a sheet gives with the whole register, and with the patients that it names, which is the same."""
    raw = written(folder, found)
    with reading(path) as opened:
        whole = check_sheets(raw, PROTOCOL, as_of=AS_OF, held=HeldRows(opened.held(), opened.amended()))
        named = check_sheets(raw, PROTOCOL, as_of=AS_OF, held=_HeldByRegister(opened, "keep"))
    assert outcome(whole) == outcome(named)
    return named


def test_the_death_told_of_the_other_lid_is_known(tmp_path):
    other = clinic.case(2, patient_id="P1", side="left")
    died = clinic.event(2, happened_on=date(2025, 6, 1), kind="death")
    path = clinic.made(tmp_path, [clinic.patient(1), clinic.case(1), other, died])
    late = {
        "case_id": "C1",
        "reviewed_on": "2025-07-01",
        "assessor": "NB",
        "masked": "no",
        "mode": "clinic",
        "oedema": "1",
    }
    [problem] = both_ways(tmp_path, path, {"reviews": [late]}).problems
    assert "lies after the death of the patient" in problem.what


def test_a_review_is_known_by_the_case_that_it_was_moved_from_though_that_is_gone(tmp_path):
    path = clinic.made(tmp_path)
    day = clinic.review(1).values["reviewed_on"]
    amend_value(path, Amendment("C1", "reviewed_on", date(2025, 5, 5), day), source=WHY, at=AT)
    amend_value(path, Amendment("C1", "case_id", "C2", date(2025, 5, 5)), source=WHY, at=AT)
    remove_row(path, RowAddress("C1"), source=WHY, at=AT)
    again = {
        "case_id": "C1",
        "reviewed_on": day.isoformat(),
        "assessor": "NB",
        "masked": "no",
        "mode": "clinic",
        "oedema": "2",
    }
    checked = both_ways(tmp_path, path, {"reviews": [again]})
    assert not checked.problems
    assert [row.values["oedema"] for row in checked.rows] == [2]
