"""An accepted query is kept in the chain with who, when and why, and changes no row."""

import pytest

from outcomes.errors import RegisterRefused
from outcomes.store import (
    AcceptedQuery,
    Source,
    accept_query,
    accepted_queries,
    check_register,
    erase_patients,
    reading,
)
from outcomes.store.acceptance import KIND
from outcomes.store.transaction import changing
from tests.store.clinic import AT, digest, made

GIVEN = Source(who="NB", reason="seen again, it is so")


def accepted(path):
    with reading(path) as register:
        return accepted_queries(register)


def test_an_acceptance_is_kept_and_changes_no_row(tmp_path):
    path = made(tmp_path)
    before = digest(path)
    change = accept_query(path, AcceptedQuery("0123abcd", ("C2",)), source=GIVEN, at=AT)
    held = accepted(path)["0123abcd"]
    assert (held.change, held.who, held.reason) == (change, "NB", "seen again, it is so")
    assert digest(path) == before
    assert check_register(path) == ()


@pytest.mark.parametrize(
    "query_id, reason, words", [("0123abcd", " ", "needs a reason"), ("nope", "so", "is no identifier")]
)
def test_a_bad_acceptance_is_refused_and_changes_nothing(tmp_path, query_id, reason, words):
    path = made(tmp_path)
    with pytest.raises(RegisterRefused, match=words):
        accept_query(path, AcceptedQuery(query_id), source=Source(who="NB", reason=reason), at=AT)
    assert accepted(path) == {}


def test_an_acceptance_altered_outside_the_program_is_detected(tmp_path):
    import duckdb

    path = made(tmp_path)
    accept_query(path, AcceptedQuery("0123abcd", ("C2",)), source=GIVEN, at=AT)
    with duckdb.connect(str(path)) as con:
        con.execute("update changes set file = 'ffffffff' where kind = 'accept'")
    with pytest.raises(RegisterRefused, match="was altered outside this program"):
        accepted(path)


def test_erasing_a_patient_keeps_the_acceptances_of_others_and_the_chain(tmp_path):
    path = made(tmp_path)
    accept_query(path, AcceptedQuery("0123abcd", ("C2",)), source=GIVEN, at=AT)
    accept_query(path, AcceptedQuery("89abcdef"), source=GIVEN, at=AT)
    erase_patients(path, ("P1",), source=Source(who="NB", reason="asked for"), at=AT)
    held = accepted(path)
    assert ({each: held[each].reason for each in held}, check_register(path)) == (
        {"0123abcd": GIVEN.reason, "89abcdef": GIVEN.reason},
        (),
    )


def test_an_acceptance_about_the_erased_patient_is_gone_with_its_reason(tmp_path):
    path = made(tmp_path)
    telling = Source(who="NB", reason="the postman of Harbour Street")
    accept_query(path, AcceptedQuery("0123abcd", ("C2", "C1")), source=telling, at=AT)
    erase_patients(path, ("P1",), source=Source(who="NB", reason="asked for"), at=AT)
    assert (accepted(path), check_register(path)) == ({}, ())
    assert b"Harbour" not in path.read_bytes()


def test_of_an_acceptance_that_does_not_say_whom_it_is_about_the_reason_goes(tmp_path):
    """As acceptances were kept before they noted the codes."""
    path = made(tmp_path)
    with changing(path, KIND, Source("0123abcd", who="NB", reason="Harbour Street"), AT) as draft:
        draft.without_rows = True
    erase_patients(path, ("P1",), source=Source(who="NB", reason="asked for"), at=AT)
    assert (accepted(path)["0123abcd"].reason, check_register(path)) == ("[erased]", ())
