"""The sheet prints the figures of the finding, and no others, in words that can be read."""

import itertools
import re
import tomllib
from dataclasses import replace
from datetime import date
from functools import cache

import pyphen
import pytest
import textstat

from outcomes.errors import DataRefused, WrongUsage
from outcomes.findings.counsel.outcome_figures import COVERS
from outcomes.findings.counsel.patient import PatientValues, cover_order
from outcomes.report.counsel import sentences
from outcomes.report.counsel.language import FRACTIONS, LANGUAGES, read_language, shipped
from outcomes.report.counsel.pictures import people
from outcomes.report.counsel.sheet import make_sheet
from outcomes.report.traced_text import Figure, plain
from outcomes.report.warning_words import counsel_caution_words
from tests.findings.counsel.registers import (
    PATIENTS,
    PROTOCOL,
    SHOWN,
    InMemory,
    counsel_for,
    counselled,
    invented_clinic,
    lids,
    patient,
    together,
    told,
)

ORDERS = (COVERS, tuple(reversed(COVERS)))
VERDICTS_KNOWN = list(sentences.VERDICTS)

EVERY = pytest.mark.parametrize("language", shipped())
EVERYBODY = pytest.mark.parametrize("name", PATIENTS)
THOSE_SHOWN = pytest.mark.parametrize("name", SHOWN)


@cache
def sheet(name, language="en", *, public=False):
    return make_sheet(counselled(name, public=public), PROTOCOL, read_language(language))


def pairs(made):
    return (*made.pairs, *made.lines)


def phrases(made):
    yield from (
        *made.warning,
        made.opening,
        *made.likeness,
        *made.unknown.paragraphs,
        *made.basis.paragraphs,
        made.caution,
    )
    yield from (words for _, words in made.legend)
    for pair in pairs(made):
        yield from (pair.label, pair.caption, *pair.nothing, pair.verdict, *pair.published)
        for cell in pair.cells:
            yield from (*cell.seen, cell.alt, *cell.sentences)


def value_at(found, address):
    for name in address.split("."):
        found = found[int(name)] if name.isdigit() else getattr(found, name)
    return found


@EVERY
@EVERYBODY
def test_every_number_of_a_sentence_is_a_number_of_the_finding(name, language):
    figures, fractions = 0, read_language(language).tree["fractions"]
    shares = dict(zip(fractions.values(), (share for share, _ in FRACTIONS), strict=True))
    for phrase in phrases(sheet(name, language)):
        for piece in phrase:
            if not isinstance(piece, Figure):
                assert not re.search(r"\d", piece.replace("100", "")), piece
                continue
            value = value_at(counselled(name), piece.id)
            figures += 1
            if piece.text in shares:
                assert shares[piece.text] == pytest.approx(min(value, 1), abs=0.06)
            elif isinstance(value, int):
                assert piece.text == str(value)
            elif isinstance(value, float):
                assert float(piece.text.replace(",", ".").replace("\u2212", "-")) == pytest.approx(value, abs=0.05)
            elif not isinstance(value, str):
                assert str(value.year) in piece.text
    assert figures > (100 if name in SHOWN else 5)


@EVERY
@THOSE_SHOWN
def test_the_people_drawn_are_as_many_as_the_numbers_beside_them(name, language):
    pictures = 0
    for pair in sheet(name, language).pairs:
        for cell in pair.cells:
            if cell.picture:
                had, *rest = [int(each) for each in re.findall(r"\d+", plain(cell.sentences[0]))]
                died = int(re.search(r"\d+", plain(cell.sentences[2]))[0]) if len(cell.sentences) == 3 else 0
                assert rest == [100]
                assert cell.picture.count('class="had"') == had
                assert cell.picture.count('class="died"') == died
                assert cell.picture.count('class="had-not"') == 100 - had - died
                pictures += 1
    assert pictures == 12


def test_people_differ_by_shape_and_darkness_without_colour():
    """Luminance by the formula of WCAG 2.2, relative luminance; each kind stands 1.5 to 1 or more from the others."""
    picture = people(30, 30, "")
    fills = {
        kind: set(re.findall(rf'class="{kind}"[^>]*fill="([^"]+)"', picture)) for kind in ("had", "had-not", "died")
    }
    assert all(len(each) == 1 for each in fills.values())
    light = sorted(luminance(each.pop()) for each in fills.values())
    assert all((high + 0.05) / (low + 0.05) > 1.5 for low, high in itertools.pairwise(light))
    assert re.search(r'class="had-not"[^>]*stroke="#', picture)
    assert '<rect class="died"' in picture


def luminance(colour):
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def test_the_dead_are_drawn_where_the_surgeon_sees_them():
    """By hand: of 10 lids 2 are operated on again and 4 die of something else: 20 dots, 40 squares and 40 rings."""
    sheets = lids("grafted", 10)
    for place, kind in enumerate(["revision"] * 2 + ["death"] * 4):
        sheets["events"].append({"case_id": f"grafted{place:03}", "happened_on": date(2024, 9, 1), "kind": kind})
    for place in range(6, 10):
        sheets["events"].append(
            {"case_id": f"grafted{place:03}", "happened_on": date(2026, 5, 1), "kind": "moved away"}
        )
    made = make_sheet(counsel_for(InMemory(sheets), patient()), PROTOCOL, read_language("en"))
    cell = next(cell for cell in pair_of(made, "operated_again").cells if cell.picture)
    assert [cell.picture.count(f'class="{kind}"') for kind in ("had", "had-not", "died")] == [20, 40, 40]
    assert plain(cell.sentences[2]) == "About 40 died first"
    assert [plain(words) for _, words in made.legend] == [
        "had this problem",
        "did not have it",
        "died first of something else",
    ]


def pair_of(made, name):
    return next(pair for pair in pairs(made) if pair.id == name)


@EVERY
@THOSE_SHOWN
def test_how_numbers_are_said(name, language):
    """Trevena et al., BMC Med Inform Decis Mak 2013;13(S2):S7: one denominator, no "1 in x", the time stated."""
    made = sheet(name, language)
    text = " ".join(plain(phrase) for phrase in phrases(made))
    assert "%" not in text
    assert not re.search(r"\b(1 in \d|1 von \d\b(?! Lid)|p [<=]|odds|relativ|risk)", text)
    for pair in made.pairs:
        assert re.search(r"month|Monat|year|Jahr", plain(pair.label))
        for cell in pair.cells:
            if cell.picture:
                assert re.search(r"\d+ (of|von) \d+ (eyelids|Lidern)", plain(cell.seen[0]))
                assert re.search(r"\d+ (of|von) 100", plain(cell.sentences[0]))
                assert len(re.findall(r"\d+", plain(cell.sentences[1]))) == 2


@EVERY
@pytest.mark.parametrize("known", VERDICTS_KNOWN)
def test_what_the_comparison_allows_is_said_under_each_pair(known, language):
    made = judged(dict.fromkeys([each.id for each in PROTOCOL.told], known), language)
    words = read_language(language).tree["verdict"]
    assert {plain(pair.verdict) for pair in made.pairs} <= {
        words[sentences.VERDICTS[known]],
        words["cannot_tell_alike"],
    }


def judged(verdicts, language="en"):
    return make_sheet(
        counsel_for(invented_clinic(), PATIENTS["typical"], verdicts=verdicts), PROTOCOL, read_language(language)
    )


@EVERY
def test_a_pair_without_a_verdict_says_that_we_cannot_tell(language):
    words = read_language(language).tree["verdict"]
    said = {plain(pair.verdict) for pair in judged({}, language).pairs}
    assert said <= {words["cannot_tell"], words["cannot_tell_alike"]}


FAVOURS = {
    "en": re.compile(r"better|worse|safer|prefer|recommend|should", re.IGNORECASE),
    "de": re.compile(r"besser|schlechter|sicherer|empf|sollte|vorzu", re.IGNORECASE),
}


@EVERY
@THOSE_SHOWN
@pytest.mark.parametrize(
    "verdict", ["cannot tell", "too few to say", "no difference that matters", "may be better with graft"]
)
def test_no_word_favours_a_cover_unless_the_comparison_says_better(name, language, verdict):
    verdicts = dict.fromkeys([each.id for each in PROTOCOL.told], verdict)
    found = counsel_for(invented_clinic(), PATIENTS[name], verdicts=verdicts)
    text = " ".join(plain(phrase) for phrase in phrases(make_sheet(found, PROTOCOL, read_language(language))))
    assert not FAVOURS[language].search(text)
    assert FAVOURS[language].search(read_language(language).tree["verdict"]["better_grafted"])


@EVERY
def test_with_the_covers_exchanged_the_sheet_is_its_own_mirror(language):
    """Neither cover comes off better by order, size, colour or wording: the same lids under the other name read the same."""
    one, other = (
        together(lids(first, 14, poor=5), lids(second, 12, poor=1)) for first, second in (COVERS, reversed(COVERS))
    )
    cannot = dict.fromkeys([each.id for each in PROTOCOL.told], "cannot tell")
    made = [
        make_sheet(
            replace(counsel_for(each, patient(), verdicts=cannot), order=order), PROTOCOL, read_language(language)
        )
        for each, order in ((one, COVERS), (other, tuple(reversed(COVERS))))
    ]
    names = list(read_language(language).tree["covers"].values())

    def renamed(text):
        return text.replace(names[0], "|").replace(names[1], names[0]).replace("|", names[1])

    for first, second in zip(*map(pairs, made), strict=True):
        assert plain(first.verdict) == plain(second.verdict)
        for cell, twin in zip(first.cells, second.cells, strict=True):
            assert renamed(cell.cover) == twin.cover
            assert renamed(cell.picture) == twin.picture
            assert [plain(each) for each in (*cell.seen, *cell.sentences)] == [
                plain(each) for each in (*twin.seen, *twin.sentences)
            ]


def test_the_order_of_the_covers_is_drawn_by_the_case_code():
    orders = [cover_order(PatientValues({}, case=f"C-{number}"), "ab")[0] for number in range(400)]
    assert 160 < orders.count("grafted") < 240
    assert cover_order(PatientValues({}, case="C-7"), "ab") == cover_order(PatientValues({"x": 1}, case="C-7"), "cd")
    made = [make_sheet(replace(counselled("typical"), order=order), PROTOCOL, read_language("en")) for order in ORDERS]
    assert [[cell.cover for cell in each.pairs[0].cells] for each in made] == [
        ["Skin graft", "Skin moved up"],
        ["Skin moved up", "Skin graft"],
    ]


def test_too_little_is_said_in_words_with_the_published_figure_apart():
    found = counsel_for(together(lids("grafted", 9), lids("advanced", 4)), patient())
    made = make_sheet(found, PROTOCOL, read_language("en"))
    pair = pair_of(made, "operated_again")
    assert [plain(each) for each in pair.nothing] == ["We do not have enough of our own results to say."]
    assert plain(pair.published[0]).startswith(
        "Printed by others, not our patients: 5 of 122 had another operation on the lid"
    )
    assert "McKelvie" in plain(made.basis.paragraphs[-1])
    assert not any(pair.cells for pair in made.pairs)
    assert (made.opening, made.legend) == ((), ())
    assert plain(pair_of(made, "notch").published[0]) == "We found no count printed by others."


def test_a_cover_never_used_is_said():
    made = make_sheet(counsel_for(InMemory(lids("grafted", 15)), patient()), PROTOCOL, read_language("en"))
    pair = made.pairs[0]
    unused = next(cell for cell in pair.cells if not cell.picture)
    assert plain(unused.sentences[0]) == "We have not used this cover."
    assert sum(bool(cell.picture) for cell in pair.cells) == 1
    assert plain(pair.verdict) == "We have too few results to compare the two covers."


def test_an_empty_register_makes_a_sheet():
    empty = InMemory({"patients": [], "reconstructions": [], "reviews": [], "events": []})
    made = make_sheet(counsel_for(empty, patient()), PROTOCOL, read_language("de"))
    assert all(not pair.cells and pair.nothing for pair in made.pairs)


@EVERY
def test_nothing_that_the_terminal_withholds_is_on_the_sheet(language):
    made, words = sheet("outside", language), read_language(language).tree
    assert (made.sections, made.lines, made.likeness, made.legend, made.opening) == ((), (), (), (), ())
    assert plain(made.warning[-1]) == words["sheet"]["withheld"]
    assert "No local figure holds" in counsel_caution_words(counselled("outside").cautions[0])


def test_a_patient_outside_what_was_seen_reads_so_with_the_range():
    said = [plain(phrase) for phrase in sheet("outside").warning]
    assert said[0] == "None of our past patients was like you in this: age. Theirs: 46 to 97 years."
    wide = counsel_for(together(lids("grafted", 12), lids("advanced", 12, width=10)), patient(width="28"))
    said = plain(make_sheet(wide, PROTOCOL, read_language("en")).warning[0])
    assert said.endswith("how much of the lid the wound takes up. Theirs: a third to three fifths of the lid.")
    said = plain(make_sheet(wide, PROTOCOL, read_language("de")).warning[0])
    assert said.endswith("was den Anteil der Wunde am Lid angeht. Bei ihnen: vom Lid ein Drittel bis drei Fünftel.")


def test_what_was_relaxed_to_find_enough_lids_is_said():
    said = " ".join(plain(phrase) for phrase in sheet("few").likeness)
    assert "To find enough of them, we looked more widely at this: " in said
    assert "a lid about as loose (within 4 mm)" in said
    near = counsel_for(together(lids("grafted", 12), lids("advanced", 12)), patient())
    said = " ".join(plain(phrase) for phrase in make_sheet(near, PROTOCOL, read_language("en")).likeness)
    assert "more widely" not in said
    unknown = counsel_for(together(lids("grafted", 12), lids("advanced", 12)), patient(age=""))
    said = " ".join(plain(phrase) for phrase in make_sheet(unknown, PROTOCOL, read_language("en")).likeness)
    assert "We did not know this of you, so we did not match it: age." in said


@pytest.mark.parametrize(
    "share, words", [(0, "nothing"), (0.3, "a third"), (0.45, "two fifths"), (0.9, "nine tenths"), (1.05, "the whole")]
)
def test_shares_of_the_lid_as_fractions(share, words):
    assert read_language("en").fraction(share) == words


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
        (('"It could be {low} to {high}"', '"It could be {low}"'), "sentences.range"),
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


def fixed_sentences(language):
    """The full sentences of a language file, with a short word in each gap."""
    tree = tomllib.loads((LANGUAGES / f"{language}.toml").read_text(encoding="utf-8"))
    tables = ("sheet", "sentences", "verdict", "unknown", "outside", "basis")
    return [re.sub(r"\{\w+\}", "ten", text) for table in tables for text in tree[table].values() if text.endswith(".")]


@pytest.fixture
def german():
    """Textstat counts German syllables within the test."""
    textstat.set_lang("de")
    yield
    textstat.set_lang("en_US")


def syllables(words, language):
    """Syllables as places where a word may be hyphenated, and one more."""
    hyphens = pyphen.Pyphen(lang=language)
    return sum(len(hyphens.positions(word)) + 1 for word in words)


def flesch(text, constants, language):
    """Reading ease, from 0 (very hard) to 100 (very easy)."""
    base, by_length, by_syllables = constants
    words = re.findall(r"[^\W\d_]+", text)
    return (
        base
        - by_length * len(words) / len(re.findall(r"\.", text))
        - by_syllables * syllables(words, language) / len(words)
    )


FLESCH, AMSTAD = (206.835, 1.015, 84.6), (180.0, 1.0, 58.5)
"""Flesch R. J Appl Psychol 1948;32:221-233, and for German Amstad T. Wie verständlich sind unsere Zeitungen? Zürich 1978; the
constants are from memory, those for German confirmed by an independent program below."""


@pytest.mark.parametrize("language, constants, dictionary", [("en", FLESCH, "en_GB"), ("de", AMSTAD, "de_DE")])
def test_the_fixed_sentences_are_easy_to_read(language, constants, dictionary, capsys):
    """70 and more is "fairly easy" for Flesch; the measure is printed."""
    text = " ".join(fixed_sentences(language))
    ease = flesch(text, constants, dictionary)
    longest = max(len(each.split()) for each in re.split(r"(?<=[.:;]) ", text))
    with capsys.disabled():
        print(f"\nreading ease of the sheet, {language}: {ease:.0f}; at most {longest} words a sentence")
    assert len(re.findall(r"\.", text)) > 30
    assert ease >= 70
    assert longest <= 25


@pytest.mark.usefixtures("german")
def test_german_reading_ease_is_that_of_an_independent_program():
    text = " ".join(fixed_sentences("de"))
    assert flesch(text, AMSTAD, "de_DE") == pytest.approx(textstat.flesch_reading_ease(text), abs=2)


def test_english_grades_are_those_of_an_independent_program():
    """Automated readability index (Smith EA, Senter RJ 1967) and Coleman M, Liau TL. J Appl Psychol 1975;60:283-284; from memory."""
    text = " ".join(fixed_sentences("en"))
    words, sentences = text.split(), len(re.findall(r"\.", text))
    letters = len(re.findall(r"\w", text))
    strokes = len(re.sub(r"\s", "", text))
    index = 4.71 * strokes / len(words) + 0.5 * len(words) / sentences - 21.43
    liau = 5.88 * letters / len(words) - 29.6 * sentences / len(words) - 15.8
    assert textstat.automated_readability_index(text) == pytest.approx(index, abs=0.5)
    assert textstat.coleman_liau_index(text) == pytest.approx(liau, abs=0.5)
    assert index <= 8
    assert liau <= 8


@pytest.mark.parametrize(
    "constants, dictionary, hard",
    [
        (
            FLESCH,
            "en_GB",
            "Postoperative lagophthalmos necessitates interdisciplinary ophthalmological reconsideration.",
        ),
        (AMSTAD, "de_DE", "Postoperative Komplikationen erfordern unverzügliche interdisziplinäre Wiedervorstellung."),
    ],
)
def test_the_measure_of_reading_finds_hard_sentences_hard(constants, dictionary, hard):
    assert flesch(hard, constants, dictionary) < 30


@pytest.mark.parametrize("wrong", ["bis zuletzt", "glich Ihnen", "zu bleibt", "binnen "])
def test_german_that_was_wrong_is_gone(wrong):
    assert wrong not in (LANGUAGES / "de.toml").read_text(encoding="utf-8")


def test_the_foot_of_the_german_sheet_is_german():
    made = sheet("typical", "de")
    assert made.stamp.startswith(
        "Register 0123456789ab, 147 Fälle mit den beiden Deckungen, fester Datenstand spring, Stand 2026-06-30"
    )
    assert not re.search(r"\b(cases|lock|as of|every)\b", made.stamp)


def test_told_names_the_results_of_the_protocol_in_their_order():
    assert [row.id for row in pairs(sheet("typical"))] == [each.id for each in PROTOCOL.told]
    assert told(counselled("typical"), "tumour_five_years").when.number == 5
