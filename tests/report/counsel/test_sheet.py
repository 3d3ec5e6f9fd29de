"""The sheet prints the figures of the finding, and no others, in words that can be read."""

import re
import tomllib
from functools import cache

import pytest
import textstat

from outcomes.errors import DataRefused, WrongUsage
from outcomes.report.counsel.language import LANGUAGES, read_language, shipped
from outcomes.report.counsel.sheet import make_sheet
from outcomes.report.traced_text import Figure, plain
from tests.findings.counsel.registers import (
    PATIENTS,
    PROTOCOL,
    InMemory,
    counsel_for,
    counselled,
    lids,
    patient,
    together,
    told,
)

EVERY = pytest.mark.parametrize("language", shipped())
EVERYBODY = pytest.mark.parametrize("name", PATIENTS)


@cache
def sheet(name, language="en", *, public=False):
    return make_sheet(counselled(name, public=public), PROTOCOL, read_language(language))


def phrases(made):
    yield from (
        *made.warning,
        made.opening,
        *made.likeness,
        *made.unknown.paragraphs,
        *made.basis.paragraphs,
        made.caution,
    )
    for row in (*made.rows, *made.lines):
        yield from (row.label, *row.published)
        for cell in row.cells:
            yield from (cell.alt, *cell.sentences)


def value_at(found, address):
    for name in address.split("."):
        found = found[int(name)] if name.isdigit() else getattr(found, name)
    return found


@EVERY
@EVERYBODY
def test_every_number_of_a_sentence_is_a_number_of_the_finding(name, language):
    figures = 0
    for phrase in phrases(sheet(name, language)):
        for piece in phrase:
            if not isinstance(piece, Figure):
                assert not re.search(r"\d", piece.replace("100", "")), piece
                continue
            value = value_at(counselled(name), piece.id)
            figures += 1
            if isinstance(value, int):
                assert piece.text == str(value)
            elif isinstance(value, float):
                assert float(piece.text.replace(",", ".").replace("\u2212", "-")) == pytest.approx(value, abs=0.05)
            elif not isinstance(value, str):
                assert str(value.year) in piece.text
    assert figures > 60


@EVERY
@EVERYBODY
def test_the_dark_dots_are_as_many_as_the_number_beside_them(name, language):
    pictures = 0
    for row in sheet(name, language).rows:
        for cell in row.cells:
            if cell.picture:
                had, had_not = re.match(r"(\d+) \w+ 100 \w+ \w+; (\d+) ", plain(cell.sentences[0])).groups()
                assert cell.picture.count('class="had"') == int(had)
                assert cell.picture.count('class="had-not"') == int(had_not)
                assert cell.picture.count("<circle") == 100
                pictures += 1
    assert pictures == 12


def test_dark_dots_and_rings_differ_without_colour():
    picture = sheet("typical").rows[0].cells[0].picture
    fills = {kind: set(re.findall(rf'class="{kind}"[^>]*fill="([^"]+)"', picture)) for kind in ("had", "had-not")}
    assert fills == {"had": {"#14365c"}, "had-not": {"#ffffff"}}
    assert re.search(r'class="had-not"[^>]*stroke="#', picture)


@EVERY
@EVERYBODY
def test_how_numbers_are_said(name, language):
    """Trevena et al., BMC Med Inform Decis Mak 2013;13(S2):S7: one denominator, no "1 in x", the time stated."""
    made = sheet(name, language)
    text = " ".join(plain(phrase) for phrase in phrases(made))
    assert "%" not in text
    assert not re.search(r"\b(1 in \d|1 von \d|p [<=]|odds|relativ)", text)
    for row in made.rows:
        assert re.search(r"month|Monat|year|Jahr", plain(row.label))
        for cell in row.cells:
            if cell.picture:
                assert len(re.findall(r"\b100\b", plain(cell.sentences[0]) + plain(cell.sentences[1]))) >= 2
                assert re.search(r"\d+ (eyelids|Lidern)", plain(cell.sentences[2]))


def test_too_little_is_said_in_words_with_the_published_figure_apart():
    found = counsel_for(together(lids("grafted", 9), lids("advanced", 4)), patient())
    made = make_sheet(found, PROTOCOL, read_language("en"))
    row = next(row for row in made.rows if row.id == "operated_again")
    assert [plain(each) for each in row.cells[0].sentences] == ["We do not have enough of our own results to say."]
    assert plain(row.published[0]).startswith(
        "Printed by others, not our patients: 5 of 122 had another operation on the lid"
    )
    assert "McKelvie" in plain(made.basis.paragraphs[-1])
    assert not any(cell.picture for row in made.rows for cell in row.cells)
    notch = next(row for row in made.rows if row.id == "notch")
    assert plain(notch.published[0]) == "We found no count printed by others."


def test_a_cover_never_used_is_said():
    made = make_sheet(counsel_for(InMemory(lids("grafted", 15)), patient()), PROTOCOL, read_language("en"))
    assert plain(made.rows[0].cells[1].sentences[0]) == "We have not used this cover."
    assert made.rows[0].cells[0].picture


def test_an_empty_register_makes_a_sheet():
    empty = InMemory({"patients": [], "reconstructions": [], "reviews": [], "events": []})
    made = make_sheet(counsel_for(empty, patient()), PROTOCOL, read_language("de"))
    assert all(len(row.cells) == 1 and not row.cells[0].picture for row in made.rows)


def test_a_patient_outside_what_was_seen_is_told_so_with_the_range():
    said = [plain(phrase) for phrase in sheet("outside").warning]
    assert said[0] == "None of our past patients was like you in this: age in years. Theirs: 46 to 97."


def test_the_printed_name_is_on_the_sheet_and_not_in_the_finding():
    made = make_sheet(counselled("typical"), PROTOCOL, read_language("en"), printed_name="Mrs Invented")
    assert made.name == "For Mrs Invented"
    assert "Invented" not in repr(counselled("typical"))


def test_plural_forms_and_decimal_marks_and_dates():
    english, german = read_language("en"), read_language("de")
    for language, one, two, zero in (
        (english, "1 year", "2 years", "0 years"),
        (german, "1 Jahr", "2 Jahren", "0 Jahren"),
    ):
        said = [plain(language.counted("years", Figure(number, "x"))) for number in ("1", "2", "0")]
        assert said == [one, two, zero]
    assert (english.decimal(24.46), german.decimal(24.46), german.decimal(10.0)) == ("24.5", "24,5", "10")
    day = counselled("typical").basis.first
    assert (english.day(day), german.day(day)) == ("6 February 2017", "6. Februar 2017")


@EVERY
def test_every_language_has_every_word(language):
    trees = [tomllib.loads((LANGUAGES / f"{name}.toml").read_text(encoding="utf-8")) for name in (language, "en")]
    keys = [
        {(table, name) for table, part in tree.items() if isinstance(part, dict) for name in part} for tree in trees
    ]
    assert keys[0] == keys[1]
    assert {each.words for each in PROTOCOL.told} <= set(trees[0]["outcomes"])
    assert {each.window for each in PROTOCOL.told if each.window} <= set(trees[0]["windows"])
    assert {figure.id for figure in PROTOCOL.published} <= set(trees[0]["published"])


@pytest.mark.parametrize(
    "change, fault",
    [
        (('"It could be {low} to {high} of 100."', '"It could be {low} of 100."'), "sentences.range"),
        (('notes = "Notes from your surgeon"\n', ""), "sheet.notes"),
        (('swollen = "Skin still swollen"', 'swollen = "Skin swollen in 7 of 9"'), "outcomes.swollen"),
    ],
)
def test_a_language_file_with_a_fault_is_refused(tmp_path, change, fault):
    path = tmp_path / "own.toml"
    path.write_text((LANGUAGES / "en.toml").read_text(encoding="utf-8").replace(*change), encoding="utf-8")
    with pytest.raises(DataRefused) as refused:
        read_language(str(path))
    assert len(refused.value.reasons) == 1
    assert fault in refused.value.reasons[0]


def test_a_clinics_own_language_file_is_read(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text((LANGUAGES / "en.toml").read_text(encoding="utf-8"), encoding="utf-8")
    assert read_language(str(path)).code == "en-GB"


def test_an_unknown_language_is_wrong_usage():
    with pytest.raises(WrongUsage, match="known: de, en"):
        read_language("xx")


def test_the_fixed_english_sentences_can_be_read_at_eighth_grade():
    """US school grades by letters, words and sentences (automated readability index; Coleman-Liau index)."""
    tree = tomllib.loads((LANGUAGES / "en.toml").read_text(encoding="utf-8"))
    tables = ("sheet", "sentences", "unknown", "outside", "basis")
    sentences = [text for table in tables for text in tree[table].values() if text.endswith(".")]
    text = re.sub(r"\{\w+\}", "something", " ".join(sentences))
    assert len(sentences) > 20
    assert textstat.automated_readability_index(text) <= 8
    assert textstat.coleman_liau_index(text) <= 8


def test_the_measure_of_reading_finds_hard_sentences_hard():
    hard = "Postoperative lagophthalmos necessitates interdisciplinary ophthalmological reconsideration immediately."
    assert textstat.automated_readability_index(hard) > 8
    assert textstat.coleman_liau_index(hard) > 8


def test_told_names_the_results_of_the_protocol_in_their_order():
    assert [row.id for row in (*sheet("typical").rows, *sheet("typical").lines)] == [each.id for each in PROTOCOL.told]
    assert told(counselled("typical"), "tumour_five_years").when.number == 5
