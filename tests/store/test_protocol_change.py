"""Another protocol for a register: what it re-reads is said, what is held stays allowed, the old one is kept."""

import duckdb
import pytest

from outcomes.errors import DataRefused, RegisterRefused
from outcomes.protocol import default_protocol, protocol_differences, read_protocol
from outcomes.store import (
    Source,
    change_protocol,
    check_register,
    erase_patients,
    freeze,
    protocol_effects,
    protocol_versions,
    reading,
    reading_frozen,
    record_rows,
)
from tests.store.clinic import AT, FILE, case, clinic, made, patient, review

WHY = Source(file="mine.toml", who="NB", reason="agreed in the spring meeting")


def mine(folder, text):
    path = folder / "mine.toml"
    path.write_text(f'extends = "default"\n{text}', encoding="utf-8")
    return read_protocol(path)


POOR = '[[measures]]\nid = "retraction"\npoor = { at_least = 0.5 }\n'


def test_a_threshold_is_changed_and_what_it_re_reads_is_said(tmp_path):
    path = made(tmp_path, [*clinic(), review(1, days=200, retraction_mm=0.4), review(2, days=200, retraction_mm=None)])
    old, new = default_protocol(), mine(tmp_path, POOR)
    [difference] = protocol_differences(old, new)
    assert str(difference).startswith("measures retraction, poor: at_least ")
    assert str(difference).endswith(" is now at_least 0.5")
    label = new.measure("retraction").label
    assert protocol_effects(path, new).readings == (f"{label}: 3 of 4 held results are judged in another way",)
    assert change_protocol(path, new, source=WHY, at=AT) == 2
    with reading(path) as register:
        assert register.protocol.text == new.text
    assert check_register(path) == ()
    assert [(v.change, v.fingerprint, v.reason) for v in protocol_versions(path)] == [
        (0, old.fingerprint, ""),
        (2, new.fingerprint, "agreed in the spring meeting"),
    ]
    record_rows(path, [review(3, days=200)], source=FILE, at=AT)
    with pytest.raises(RegisterRefused, match="already"):
        change_protocol(path, new, source=WHY, at=AT)


def test_a_window_that_is_moved_is_said(tmp_path):
    new = mine(tmp_path, '[[windows]]\nid = "three_months"\ndays = [80, 89]\nnominal_days = 85\n')
    assert protocol_effects(made(tmp_path), new).readings == (
        "reviews: 3 of the window three_months are now of the window none",
    )


def test_a_freeze_keeps_its_protocol_and_an_erasure_the_register_s(tmp_path):
    path = made(tmp_path)
    freeze(path, "spring", source=WHY, at=AT)
    new = mine(tmp_path, POOR)
    change_protocol(path, new, source=WHY, at=AT)
    erase_patients(path, ["P2"], source=WHY, at=AT)
    with reading_frozen(path, "spring") as frozen, reading(path) as register:
        assert (frozen.protocol.text, register.protocol.text) == (default_protocol().text, new.text)


@pytest.mark.parametrize(
    "text, says",
    [
        ('[[fields]]\nid = "retraction_mm"\nsheet = "reviews"\nhigh = 0.4\n', "retraction_mm: 3 values are held"),
        ('[[scales]]\nid = "severity"\nlevels = ["mild", "none", "moderate", "severe"]\n', "oedema: 3 values are held"),
        ('[[fields]]\nid = "histology_reason"\nsheet = "reconstructions"\nvalues = ["other"]\n', "not allow: fragmented"),
        (
            '[[fields]]\nid = "lamp"\nsheet = "reviews"\nkind = "code"\nlabel = "Lamp"\ndefinition = "Which lamp."\n',
            "lamp: has no column",
        ),
    ],
)  # fmt: skip
def test_what_is_held_stays_allowed(tmp_path, text, says):
    path, new = made(tmp_path, [*clinic(), patient(9), case(9, histology_reason="fragmented")]), mine(tmp_path, text)
    assert [line for line in map(str, protocol_effects(path, new).problems) if says in line]
    before = path.read_bytes()
    with pytest.raises(DataRefused, match="nothing was changed"):
        change_protocol(path, new, source=WHY, at=AT)
    assert path.read_bytes() == before


def test_a_level_added_at_the_end_and_a_new_observed_field_are_allowed(tmp_path):
    text = '[[scales]]\nid = "severity"\nlevels = ["none", "mild", "moderate", "severe", "extreme"]\n'
    text += (
        '[[fields]]\nid = "lamp"\nsheet = "reviews"\nkind = "yes_no"\nlabel = "Lamp"\ndefinition = "A lamp was used."\n'
    )
    path, new = made(tmp_path), mine(tmp_path, text + "observed = true\n")
    assert protocol_effects(path, new).problems == ()
    change_protocol(path, new, source=WHY, at=AT)
    assert record_rows(path, [review(1, days=300, lamp="yes", oedema=4)], source=FILE, at=AT).change == 3


def test_an_altered_protocol_is_noticed(tmp_path):
    path = made(tmp_path)
    change_protocol(path, mine(tmp_path, POOR), source=WHY, at=AT)
    text = default_protocol().text
    for damage in (
        "update protocols set protocol = ?",
        "insert into protocols values (1, ?, '', '')",
    ):
        with duckdb.connect(str(path)) as con:
            con.begin()
            con.execute(damage, [text])
            con.commit()
        with pytest.raises(RegisterRefused, match="altered outside"):
            check_register(path)
        with duckdb.connect(str(path)) as con:
            con.execute("delete from protocols where change = 1")
            con.execute("update protocols set protocol = ?", [mine(tmp_path, POOR).text])
    assert check_register(path) == ()
