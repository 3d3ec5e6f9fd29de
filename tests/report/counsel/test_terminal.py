"""The surgeon sees the same figures, with everything behind them."""

import re

import pytest

from outcomes.report.counsel import surgeon_details, surgeon_summary
from outcomes.report.traced_text import Figure, plain
from tests.findings.counsel.registers import PATIENTS, PROTOCOL, VERDICTS, counselled
from tests.report.counsel.test_sheet import value_at


@pytest.mark.parametrize("name", PATIENTS)
@pytest.mark.parametrize("view", [surgeon_details, surgeon_summary])
def test_every_number_is_a_number_of_the_finding(name, view):
    view = view(counselled(name), PROTOCOL)
    figures = [piece for row in view.rows for cell in row.cells for piece in cell if isinstance(piece, Figure)]
    figures += [piece for note in view.notes for piece in note if isinstance(piece, Figure)]
    assert len(figures) > 30 or name == "outside"
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
    view = surgeon_details(counselled("few"), PROTOCOL)
    levels = {plain(row.cells[2]) for row in view.rows}
    assert {"all lids", "all lids *", "like it *", "predicted *"} <= levels
    notes = " ".join(plain(note) for note in view.notes)
    assert "Relaxed, to find enough lids of both covers: age at operation any" in notes
    assert "The cover was chosen because of the lid" in notes
    assert "distraction (laxity) 0.0 to 8.0" in notes
    assert re.search(r"would be enough", notes)
    assert [each.id for each in (*PROTOCOL.told, *PROTOCOL.likeness) if "_" in each.id and each.id in notes] == []
    assert re.search(r"no prediction: \d+ lids with the result and \d+ without; 40 of each are asked for", notes)


def test_the_first_lines_are_the_outcomes_with_both_covers_and_the_verdict():
    view = surgeon_summary(counselled("typical"), PROTOCOL)
    assert [plain(row.cells[0]) for row in view.rows] == [PROTOCOL.told_words(each.id) for each in PROTOCOL.told]
    assert [plain(row.cells[-1]) for row in view.rows[:5]] == [*VERDICTS.values(), "not compared"]
    assert re.fullmatch(r"\d+ of \d+: \d+ \(\d+ to \d+\)", plain(view.rows[0].cells[2]))
    assert len(view.notes) == 2


def test_the_summary_of_a_patient_unlike_anybody_has_no_figures():
    view = surgeon_summary(counselled("outside"), PROTOCOL)
    assert (view.rows, view.title) == ((), "No local figure holds for this patient: the sheet prints none")
    assert "lies outside the range" in plain(view.notes[0])
