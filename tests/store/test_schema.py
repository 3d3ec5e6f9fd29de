"""Registers of an older and of a newer program, and what a migration may not change."""

import re

import duckdb
import pytest

from outcomes.errors import RegisterRefused
from outcomes.protocol import SHEETS
from outcomes.store import (
    Source,
    check_register,
    freeze,
    queries_folder,
    reading,
    record_rows,
    statement,
    statements_in,
)
from outcomes.store.schema import columns
from outcomes.store.sheet_sql import with_row_texts
from tests.store.clinic import AT, FILE, digest, made, patient
from tests.store.tomorrow import NUMBER, build, told


@pytest.fixture(scope="module")
def tomorrow(tmp_path_factory):
    return build(tmp_path_factory.mktemp("tomorrow"))


def test_a_newer_register_is_refused(tmp_path, tomorrow):
    path = tmp_path / "register.duckdb"
    told(tomorrow, "create_register(path, default_protocol())", path)
    before = path.read_bytes()
    for act in (digest, check_register, lambda path: record_rows(path, [patient(1)], source=FILE, at=AT)):
        with pytest.raises(
            RegisterRefused,
            match=rf"newer version of this program \(its tables are number {NUMBER}, .* knows {NUMBER - 1}\); update",
        ):
            act(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("first", ["print(digest(path))", "record_rows(path, [patient(9)], source=FILE, at=AT)"])
def test_an_older_register_is_brought_up_to_date_beside_a_copy(tmp_path, tomorrow, first):
    path = made(tmp_path)
    with reading(path) as register:
        before, past = register.digest, register.history("C1")
    told(tomorrow, first, path)
    said = told(
        tomorrow,
        "with reading(path) as register: print(register.extract('patients').columns[-1], check_register(path))",
        path,
    )
    assert said == "dominant_eye ()"
    history = told(tomorrow, "with reading(path) as register: print(register.history('C1'))", path)
    assert history == str(past)
    copy = tmp_path / f"register.duckdb.before-schema-{NUMBER}"
    assert digest(copy) == before
    if "digest" in first:
        assert told(tomorrow, "print(digest(path))", path) == before


def test_a_migration_that_cannot_be_copied_first_changes_nothing(tmp_path, tomorrow):
    path = made(tmp_path)
    before = digest(path)
    (tmp_path / f"register.duckdb.before-schema-{NUMBER}").mkdir()
    script = "try: digest(path)\nexcept OutcomesError as error: print(error.summary)"
    assert f"register.duckdb.before-schema-{NUMBER} cannot be used" in told(tomorrow, script, path)
    assert digest(path) == before


def test_an_older_freeze_is_read(tmp_path, tomorrow):
    path = made(tmp_path)
    freeze(path, "spring", source=Source(who="NB"), at=AT)
    script = "with reading_frozen(path, 'spring') as register: print(register.digest, register.extract('patients').columns[-1])"
    assert told(tomorrow, script, path) == f"{digest(path)} dominant_eye"


def test_every_query_says_its_grain_first_and_selects_last():
    for folder in ("extracts", "checks", "sheets", "freeze", "erase", "chain"):
        for name in statements_in(folder):
            lines = statement(name).splitlines()
            assert re.match(r"-- Grain: one row\b", lines[0]), name
            assert re.match(r"select \* from \w+", lines[-1]), name
    assert [name[:11] for name in statements_in("schema")] == [
        f"schema/{number:04}" for number in range(1, len(statements_in("schema")) + 1)
    ]
    assert queries_folder().name == "queries"


def test_every_column_is_sealed_and_counts_in_the_digest(tmp_path):
    with duckdb.connect(str(made(tmp_path))) as con:
        for sheet in SHEETS:
            texts = with_row_texts(con, "chain/content", sheet, "")
            assert columns(con, sheet)
            for name in columns(con, sheet):
                assert f"'{name}='" in texts, f"{sheet}.{name}"


@pytest.mark.parametrize(
    "check, damage",
    [
        ("cases_without_patient", "update reconstructions set patient_id = 'P9' where case_id = 'C1'"),
        ("reviews_without_case", "update reviews set case_id = 'C9' where case_id = 'C1'"),
        ("events_without_case", "update events set case_id = 'C9' where case_id = 'C1'"),
        ("observations_without_review", "delete from reviews where case_id = 'C1'"),
        (
            "rows_that_stand_twice",
            "insert into events select * replace (99 as record) from events where case_id = 'C1'",
        ),
        (
            "rows_that_stand_twice",
            "insert into reviews select * replace (99 as record) from reviews where case_id = 'C1'",
        ),
        (
            "rows_that_stand_twice",
            "insert into reconstructions select * replace (99 as record) from reconstructions where case_id = 'C1'",
        ),
        (
            "rows_that_stand_twice",
            "insert into patients select * replace (99 as record) from patients where patient_id = 'P1'",
        ),
        (
            "rows_that_stand_twice",  # in its newest version
            "insert into reviews select * replace (2 as change, 'C1' as case_id) from reviews where case_id = 'C2'",
        ),
        ("reviews_without_case", "insert into reviews select * replace (2 as change, 'C9' as case_id) from reviews"),
        ("versions_without_change", "delete from seals where sheet = 'reviews'"),
        ("versions_without_change", "delete from changes"),
        ("notes_without_version", "insert into queries values ('reviews', 77, 1, 'odd', 'odd')"),
    ],
)
def test_each_check_finds_its_fault_and_nothing_in_a_sound_register(tmp_path, check, damage):
    path = made(tmp_path)
    with duckdb.connect(str(path)) as con:
        assert con.execute(statement(f"checks/{check}")).fetchall() == []
        con.execute(damage)
        assert con.execute(statement(f"checks/{check}")).fetchall() != []


@pytest.mark.parametrize("sheet, code", [("reviews", "case_id"), ("events", "case_id"), ("reconstructions", "case_id")])
def test_what_an_earlier_version_said_is_no_fault(tmp_path, sheet, code):
    """A row that was another's, or of an unknown case, before it was amended."""
    with duckdb.connect(str(made(tmp_path))) as con:
        was = "case when record = 1 then 'C2' else 'C9' end"
        con.execute(f"insert into {sheet} select * replace (0 as change, {was} as {code}) from {sheet}")
        for check in ("rows_that_stand_twice", "reviews_without_case", "events_without_case"):
            assert con.execute(statement(f"checks/{check}")).fetchall() == []


def test_every_check_is_tried_above():
    tried = {
        mark.args[1][number][0]
        for mark in test_each_check_finds_its_fault_and_nothing_in_a_sound_register.pytestmark
        for number in range(len(mark.args[1]))
    }
    assert {f"checks/{name}" for name in tried} == set(statements_in("checks"))
