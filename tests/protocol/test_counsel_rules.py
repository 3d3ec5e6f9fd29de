"""A clinic's own counsel items, likeness rules and published figures are checked, line by line."""

import pytest

from outcomes.errors import DataRefused
from outcomes.protocol import protocol_from_text, read_protocol
from tests.findings.counsel.registers import PROTOCOL, counsel_for, lids, patient, together, told


def own(tmp_path, text):
    path = tmp_path / "own.toml"
    path.write_text(f'extends = "default"\n{text}\n', encoding="utf-8")
    return read_protocol(path)


def test_a_register_keeps_what_is_told():
    kept = protocol_from_text(PROTOCOL.text)
    assert (kept.counsel, kept.told, kept.likeness, kept.published) == (
        PROTOCOL.counsel,
        PROTOCOL.told,
        PROTOCOL.likeness,
        PROTOCOL.published,
    )


@pytest.mark.parametrize(
    "text, said",
    [
        ("[counsel]\nfewest_lids = 0", "row 3, counsel, fewest_lids: must be a whole number, 1 or more"),
        ("[counsel]\nfewest = 3", "row 3, counsel, fewest: is not known here; known: ages"),
        ('[counsel]\nterms = ["sex"]', 'row 3, counsel, terms "sex" is not a characteristic that is a number'),
        ("[counsel]\nages = [80, 20]", "row 3, counsel, ages: must be [youngest, oldest]"),
        ('[[told]]\nid = "x"\nwords = "y"', "row 2, told x: needs exactly one of measure, timed, characteristic"),
        ('[[told]]\nid = "notch"\nwindow = "soon"', "row 4, told notch, window: must be one of the windows"),
        (
            '[[told]]\nid = "swollen"\nwindow = "one_week"',
            "row 4, told swollen, window: the measure has no poor result",
        ),
        (
            '[[told]]\nid = "operated_again"\ntimed = "oedema_settled"',
            "row 4, told operated_again, timed: must be dated",
        ),
        ('[[likeness]]\nid = "near"\nsame = ["nose"]', 'row 4, likeness near, same "nose" is not a field'),
        ('[[likeness]]\nid = "near"\nwithin = { ag = 3 }', 'row 4, likeness near, within "ag" is not a characteristic'),
        (
            '[[published]]\nid = "success"\ncount = 46',
            "row 4, published success, count: must be a whole number from 0 to of",
        ),
        ('[[published]]\nid = "success"\ncount = 40', "row 2, published success, percent: 86.7 is not 40 of 45"),
        (
            '[[published]]\nid = "success"\ntold = "x"',
            "row 4, published success, told: must be one of the told results",
        ),
    ],
)
def test_faults_are_named_with_their_line(tmp_path, text, said):
    with pytest.raises(DataRefused) as refused:
        own(tmp_path, text)
    assert any(said in reason for reason in refused.value.reasons), refused.value.reasons


def test_a_clinic_that_asks_for_fifteen_lids_gets_no_figure_from_fourteen(tmp_path):
    protocol = own(tmp_path, "[counsel]\nfewest_lids = 15")
    register = together(lids("grafted", 14), lids("advanced", 15))
    assert told(counsel_for(register, patient(), protocol=protocol), "notch").grafted.used is None
    assert told(counsel_for(register, patient()), "notch").grafted.used.n == 14
