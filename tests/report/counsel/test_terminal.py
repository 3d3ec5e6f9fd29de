"""The surgeon sees the same figures, with everything behind them."""

import re

import pytest

from outcomes.report.counsel import surgeon_view
from outcomes.report.traced_text import Figure, plain
from tests.findings.counsel.registers import PATIENTS, PROTOCOL, counselled
from tests.report.counsel.test_sheet import value_at


@pytest.mark.parametrize("name", PATIENTS)
def test_every_number_is_a_number_of_the_finding(name):
    view = surgeon_view(counselled(name), PROTOCOL)
    figures = [piece for row in view.rows for cell in row.cells for piece in cell if isinstance(piece, Figure)]
    figures += [piece for note in view.notes for piece in note if isinstance(piece, Figure)]
    assert len(figures) > 100
    for figure in figures:
        value = value_at(counselled(name), figure.id.lstrip("."))
        if isinstance(value, int):
            assert figure.text == str(value)
        elif isinstance(value, float):
            number = float(figure.text.rstrip("%")) / (100 if figure.text.endswith("%") else 1)
            assert number == pytest.approx(value, abs=0.05)
        else:
            assert figure.text == value


def test_every_level_the_warnings_and_what_would_change_it_are_told():
    view = surgeon_view(counselled("typical"), PROTOCOL)
    levels = {plain(row.cells[2]) for row in view.rows}
    assert {"all lids", "all lids *", "like it *", "predicted *"} <= levels
    notes = " ".join(plain(note) for note in view.notes)
    assert "The cover was chosen because of the lid" in notes
    assert "age at operation 64" in notes
    assert re.search(r"would let it be asked", notes)
    assert [each.id for each in (*PROTOCOL.told, *PROTOCOL.likeness) if "_" in each.id and each.id in notes] == []
    assert re.search(r"no prediction: \d+ lids with the result and \d+ without; 40 of each are asked for", notes)
