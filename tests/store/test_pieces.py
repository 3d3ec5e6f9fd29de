"""The digests of the chain and of the content are the same in pieces of any size, and see a fault at the edge of a piece."""

import hashlib
from contextlib import closing

import duckdb
import pytest
from hypothesis import given
from hypothesis import strategies as st

from outcomes.errors import RegisterRefused
from outcomes.protocol import SHEETS, SheetRow, default_protocol
from outcomes.store import (
    Source,
    amend_value,
    create_register,
    erase_patients,
    record_rows,
    sheet_sql,
    withdraw_patient,
)
from outcomes.store.amendment import Amendment
from outcomes.store.audit_chain import seal_rows, verified_chain
from outcomes.store.content import content_digest
from outcomes.store.sheet_sql import with_row_texts
from tests.store.clinic import AT, FILE, case, event, made, patient, review

PROTOCOL, WHY = default_protocol(), Source(who="NB", reason="as told")
CODES = ["C1", "C", "C 1", "C1-1", "C10", "c1", "Ä1", "C2", "0", "ß"]
SPANS = [1, 2, 3, 7, 1_000]


def rows(codes):
    """A case a code, with two reviews and an event: the codes begin alike, or differ only in capitals."""
    for number, code in enumerate(codes, start=1):
        own = {"case_id": code}
        yield patient(number, patient_id=f"P{code}")
        yield case(number, **own, patient_id=f"P{code}")
        yield from (review(number, days, **own) for days in (90, 400))
        yield SheetRow(
            "reviews", number + 50, {**own, "reviewed_on": review(1).values["reviewed_on"], "mode": "letter"}
        )
        yield event(number, **own)


@pytest.fixture(scope="module")
def register(tmp_path_factory):
    """Several changes, small and large: loads, an amendment, a withdrawal, an erasure."""
    path = tmp_path_factory.mktemp("pieces") / "register.duckdb"
    create_register(path, PROTOCOL)
    for codes in (CODES[:1], CODES[1:8], CODES[8:]):
        record_rows(path, list(rows(codes)), source=FILE, at=AT)
    amend_value(path, Amendment("C10", "side", "left"), source=WHY, at=AT)
    withdraw_patient(path, "PC2", source=WHY, at=AT)
    erase_patients(path, ["P0"], source=Source(who="NB", reason="wished it"), at=AT)
    return path


def connected(path, *, read_only=True):
    return closing(duckdb.connect(str(path), read_only=read_only))


def digest_of_whole_texts(con):
    """The digest as it is defined, of all texts at once, put in order and counted here."""
    lines = []
    for sheet in SHEETS:
        standing = f"semi join current_{sheet} using (record, change)"
        texts = (
            with_row_texts(con, "chain/broken_seals", sheet, standing).split("from (", 1)[1].split(")\n),\nkept", 1)[0]
        )
        lines += [f"{sheet}\x1d{text}" for (text,) in con.execute(f"select text from ({texts})").fetchall()]
    whole = "\n".join(sorted(lines, key=str.encode))
    parts = ("content", PROTOCOL.text, whole)
    return hashlib.sha256("".join(f"{len(part)}:{part}" for part in parts).encode()).hexdigest()


@pytest.mark.parametrize("span", SPANS)
def test_the_content_has_one_digest_in_parts_of_any_size(register, span):
    with connected(register) as con:
        assert content_digest(con, PROTOCOL, span=span) == digest_of_whole_texts(con)


def test_nothing_has_a_digest_too(tmp_path):
    with connected(made(tmp_path, [])) as con:
        assert content_digest(con, PROTOCOL) == digest_of_whole_texts(con)


@pytest.mark.parametrize("span", SPANS)
def test_the_chain_is_the_same_in_pieces_of_any_size(register, span):
    with connected(register) as con:
        assert verified_chain(register, con, span=span) == verified_chain(register, con)


@pytest.mark.parametrize("span", SPANS)
def test_rows_are_sealed_alike_in_spans_of_any_size(tmp_path, span):
    path = made(tmp_path, list(rows(CODES)))
    with connected(path, read_only=False) as con:
        before = con.execute("from seals order by place").fetchall()
        con.execute("delete from seals")
        seal_rows(con, 1, span=span)
        assert con.execute("from seals order by place").fetchall() == before


@pytest.mark.parametrize(
    "damage",
    [
        "insert into observations from observations where record = 1 and field = 'oedema'",
        "delete from observations where record = 3 and field = 'oedema'",
        "update observations set value = 2 where record = 2 and field = 'oedema'",
        "update reviews set assessor = 'XX' where record = (select max(record) from reviews)",
        "delete from reviews where record = 2",
        "delete from seals where place = 4",
        "insert into seals select change, place + 100, sheet, record + 900, seal, erased_in from seals where place = 1",
        "update seals set seal = (select seal from seals where place = 2) where place = 1",
    ],
)
@pytest.mark.parametrize("span", [1, 2, 1_000])
def test_an_altered_register_is_seen_whatever_the_span(tmp_path, damage, span):
    path = made(tmp_path)
    with connected(path, read_only=False) as con:
        verified_chain(path, con, span=span)
        con.execute(damage)
        with pytest.raises(RegisterRefused, match="altered outside"):
            verified_chain(path, con, span=span)


@given(value=st.floats(allow_nan=False) | st.integers(-(10**18), 10**18).map(float) | st.sampled_from([-0.0, 0.0, 1e9]))
def test_a_number_is_sealed_with_seventeen_digits(value):
    """As C prints a double with `%.17g` (ISO/IEC 9899), which Python's formatting follows."""
    sql = f"select {sheet_sql._as_text('value', 'DOUBLE')} from (select $value::double as value)"
    assert duckdb.execute(sql, {"value": value}).fetchall() == [(f"{value:.17g}",)]


def test_measured_values_are_sealed_in_the_order_of_their_fields(tmp_path):
    """Also where the name of one is the beginning of another's, and goes on with what comes before the sign between."""
    names = ["a", "a1", "a_b", "aB", "a-b", "b"]
    with connected(made(tmp_path), read_only=False) as con:
        con.execute("delete from observations")
        con.executemany("insert into observations values (1, 1, ?, 1.5)", [[name] for name in reversed(names)])
        text = con.execute(with_row_texts(con, "chain/content", "reviews", "where record = 1")).fetchall()[0][0]
    assert text.split("\x1e")[1].strip("\x1f").split("\x1f") == [f"{name}=1.5" for name in sorted(names)]
