"""An accepted query is kept in the chain with who, when and why, and changes no row."""

import pytest

from outcomes.errors import RegisterRefused
from outcomes.store import Source, accept_query, accepted_queries, check_register, reading
from tests.store.clinic import AT, digest, made

GIVEN = Source(who="NB", reason="seen again, it is so")


def accepted(path):
    with reading(path) as register:
        return accepted_queries(register)


def test_an_acceptance_is_kept_and_changes_no_row(tmp_path):
    path = made(tmp_path)
    before = digest(path)
    change = accept_query(path, "0123abcd", source=GIVEN, at=AT)
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
        accept_query(path, query_id, source=Source(who="NB", reason=reason), at=AT)
    assert accepted(path) == {}


def test_an_acceptance_altered_outside_the_program_is_detected(tmp_path):
    import duckdb

    path = made(tmp_path)
    accept_query(path, "0123abcd", source=GIVEN, at=AT)
    with duckdb.connect(str(path)) as con:
        con.execute("update changes set file = 'ffffffff' where kind = 'accept'")
    with pytest.raises(RegisterRefused, match="was altered outside this program"):
        accepted(path)


def test_erasing_a_patient_keeps_the_acceptances_and_the_chain(tmp_path):
    from outcomes.store import erase_patients

    path = made(tmp_path)
    accept_query(path, "0123abcd", source=GIVEN, at=AT)
    erase_patients(path, ("P1",), source=Source(who="NB", reason="asked for"), at=AT)
    assert (set(accepted(path)), check_register(path)) == ({"0123abcd"}, ())
