"""A clinic's own file is laid over the default, and every fault in it is named with its line."""

import json
from datetime import date

import pytest

from outcomes.errors import DataRefused
from outcomes.protocol import DEFAULT, default_protocol, protocol_from_text, read_protocol

EXTENDS = 'extends = "default"\n'


@pytest.fixture
def own(tmp_path):
    def read(text):
        path = tmp_path / "clinic.toml"
        path.write_text(text, encoding="utf-8")
        return read_protocol(path)

    return read


@pytest.fixture
def refused(own):
    def lines(text):
        with pytest.raises(DataRefused) as refusal:
            own(text)
        assert refusal.value.summary == "the protocol file clinic.toml was refused; nothing was changed"
        return [(problem.row, problem.field, problem.what) for problem in refusal.value.problems]

    return lines


def test_an_empty_overlay_is_the_default(own):
    assert own(EXTENDS).text == default_protocol().text


def test_a_key_that_is_repeated_replaces_only_that_key(own):
    before, after = (
        default_protocol().measure("retraction"),
        own(EXTENDS + '[[measures]]\nid = "retraction"\npoor = { at_least = 2 }\n').measure("retraction"),
    )
    assert (before.poor.at_least, after.poor.at_least) == (1.0, 2.0)
    assert (after.label, after.operated, after.main) == (before.label, before.operated, before.main)


def test_a_rule_and_a_window_can_be_changed(own):
    text = (
        '[rules]\nclose_margin_mm = 2\n[primary]\nwindow = "one_year"\n[[windows]]\nid = "one_week"\ndays = [2, 20]\n'
    )
    protocol = own(EXTENDS + text)
    assert protocol.rules.close_margin_mm == 2
    assert protocol.rules.too_few_lids == default_protocol().rules.too_few_lids
    assert protocol.primary_window == "one_year"
    assert protocol.window("one_week").days == (2, 20)


def test_a_new_entry_comes_at_the_end(own):
    text = '[[fields]]\nid = "itch"\nsheet = "reviews"\nkind = "yes_no"\nobserved = true\nlabel = "Itch"\ndefinition = "x"\n'
    protocol = own(EXTENDS + text)
    assert protocol.observed[-1].id == "itch"
    assert len(protocol.fields) == len(default_protocol().fields) + 1


def test_a_new_cover_may_be_entered(own):
    text = '[[covers]]\nid = "matrix"\nlabel = "dermal matrix"\ndivision_days = 28\nusual_division_days = [21, 35]\n'
    protocol = own(EXTENDS + text)
    assert protocol.field("reconstructions", "cover").read("Matrix", as_of=date(2026, 1, 1)).value == "matrix"
    assert protocol.cohort_of("matrix") == ""


def test_a_file_of_its_own_need_not_extend(own):
    assert own(DEFAULT.read_text(encoding="utf-8")).text == default_protocol().text


def test_what_the_register_kept_gives_the_protocol_again():
    again = protocol_from_text(default_protocol().text)
    assert again.fingerprint == default_protocol().fingerprint
    assert again.fields == default_protocol().fields


@pytest.mark.parametrize("text", ["", "[]", "3", "{}", "null", '{"fields": []}', default_protocol().text[:-5]])
def test_a_damaged_protocol_in_a_register_is_refused(text):
    with pytest.raises(DataRefused):
        protocol_from_text(text)


def test_the_fingerprint_changes_with_any_number(own):
    fingerprints = {own(EXTENDS + f"[rules]\nclose_margin_mm = {number}\n").fingerprint for number in (1, 1.5, 2)}
    assert len(fingerprints) == 3


# Each fault: the file below its first line, the line of the fault, its place and words of the remedy.
FAULTS = [
    ("[rulez]\n", 2, "rulez", "is not a table of the protocol"),
    ("[rules]\nclose_margin = 1\n", 3, "rules, close_margin", "is not known here; known: "),
    ("[rules]\n\nclose_margin_mm = -1\n", 4, "rules, close_margin_mm", "must be a number, 0 or more"),
    ("[rules]\ntoo_few_lids = 5.5\n", 3, "rules, too_few_lids", "must be a whole number"),
    ("[rules]\nclose_margin_mm = nan\n", 3, "rules, close_margin_mm", "must be a number"),
    ("[rules]\nconfidence_level = 95\n", 3, "rules, confidence_level", "must be a number between 0 and 1"),
    ('[primary]\nwindow = "half_year"\n', 3, "primary, window", "must be one of the windows"),
    ('[primary]\nwindows = "one_year"\n', 3, "primary, windows", "is not known here; known: window"),
    ('[ends]\nfollow_up = "death"\n', 3, "ends, follow_up", "must be a list of texts in [ ]"),
    ('[ends]\nfollow_up = ["dead"]\n', 3, "ends, follow_up", '"dead" is not a kind of event'),
    ('[[fields]]\nsheet = "reviews"\n', 2, "[[fields]]", "has no id"),
    ('[[measures]]\nid = "retraction"\npoorly = 1\n', 4, "poorly", "is not known here; known: after_revision, computed"),
    ('[[measures]]\nid = "retraction"\npoor = 1\n', 4, "measures retraction, poor", "must be { at_least = NUMBER }"),
    ('[[measures]]\nid = "retraction"\nworse = "up"\n', 4, "measures retraction, worse", 'must be "higher" or "lower"'),
    ('[[measures]]\nid = "retraction"\nmain = "yes"\n', 4, "measures retraction, main", "must be true or false"),
    ('[[measures]]\nid = "oedema"\npoor = { at_least = 7 }\n', 4, "measures oedema, poor", "must lie on the levels"),
    ('[[measures]]\nid = "x"\nfield = "side"\nworse = "higher"\nlabel = "X"\n', 4, "measures x, field", "observed field"),
    ('[[measures]]\nid = "x"\n', 2, "measures x", "lacks label, worse"),
    ('[[fields]]\nid = "Itch 1"\nsheet = "reviews"\nkind = "yes_no"\nlabel = "x"\ndefinition = "x"\n', 3,
     "fields Itch 1, id", "must be small letters, digits and _"),
    ('[[fields]]\nid = "itch"\nsheet = "visits"\nkind = "yes_no"\nlabel = "x"\ndefinition = "x"\n', 4,
     "fields itch, sheet", "must be one of patients, reconstructions"),
    ('[[fields]]\nid = "itch"\nsheet = "reviews"\nkind = "score"\nlabel = "x"\ndefinition = "x"\n', 5,
     "fields itch, kind", "must be one of code, choice"),
    ('[[fields]]\nid = "notch_mm"\nlow = 9\n', 4, "fields notch_mm, low", "low (9) must lie under high (8)"),
    ('[[fields]]\nid = "notch_mm"\nlow = "0"\n', 4, "fields notch_mm, low", "must be a number"),
    ('[[fields]]\nid = "sex"\nvalues = ["a", "A"]\n', 4, "fields sex, values", "a word stands twice"),
    ('[[fields]]\nid = "sex"\nvalues = [1, 2]\n', 4, "fields sex, values", "must be a list of texts"),
    ('[[fields]]\nid = "divided_on"\nkind = "code"\n', 4, "fields divided_on, kind", 'must be "date"'),
    ('[[fields]]\nid = "graft_donor"\nonly_with = { field = "cover", values = ["skin"] }\n', 4,
     "fields graft_donor, only_with", '"skin" is not a value of cover'),
    ('[[windows]]\nid = "one_week"\ndays = [1, 30]\n', 4, "windows six_weeks, days", "overlaps the window one_week"),
    ('[[windows]]\nid = "one_week"\ndays = [8, 20]\n', 4, "windows one_week, days", "with the nominal day between"),
    ('[[covers]]\nid = "graft"\ncohort = "flaps"\n', 4, "covers graft, cohort", 'must be "grafted" or "advanced", or left out'),
    ('[[timed]]\nid = "revision"\nkind = "revisit"\n', 4, "timed revision, kind", "must be a kind of event"),
    ('[[queries]]\nid = "q"\nsheet = "reviews"\nfield = "mode"\nover = 1\nsays = "x"\n', 5, "queries q, field",
     "must be a number, a grade or yes_no"),
    ('[[queries]]\nid = "little_tarsus"\nfield = "tarsus_mm"\n', 4, "queries little_tarsus, field", "is not a field"),
    ('[[characteristics]]\nid = "age"\nyears_since = "sex"\n', 4, "characteristics age, years_since", "of the kind year"),
    ('[[characteristics]]\nid = "canthus"\nis = ["upper"]\n', 4, "characteristics canthus, is", '"upper" is not a value'),
    ('[[characteristics]]\nid = "age"\nfield = "distraction_mm"\n', 2, "characteristics age", "exactly one of"),
    ("rules = 3\n", 2, "rules", "write [rules] and its keys below"),
    ("[rules]\nclose_margin_mm = \n", 3, "", "is not valid TOML"),
    ('[[measures]]\nid = "a"\n[[measures]\n', 4, "", "is not valid TOML"),
    ("format = 2\n", 2, "format", "must be 1"),
    ('[[measures]]\nid = "retraction"\nmain_outcome = "median"\n', 4, "measures retraction, main_outcome", '"mean" or "share"'),
    ('[[measures]]\nid = "margin_position"\nmain_outcome = "share"\n', 4, "measures margin_position, main_outcome",
     "which results are poor"),
    ('[[measures]]\nid = "entropion"\nmain_outcome = "mean"\n', 4, "measures entropion, main_outcome", 'as a "share"'),
    ('[[measures]]\nid = "retraction"\nimportant_difference = 1\n', 4, "measures retraction, important_difference",
     "say why in important_reason"),
    ('[[measures]]\nid = "retraction"\nimportant_difference = 0\nimportant_reason = "x"\n', 4,
     "measures retraction, important_difference", "must be over 0 and at most 15 mm"),
    ('[[measures]]\nid = "retraction"\nmain_outcome = "share"\n', 2, "measures retraction, important_difference",
     "must be from 1 to 100 percentage points"),
    ('[[measures]]\nid = "retraction"\nweight = 0\n', 4, "measures retraction, weight", "must be a number over 0"),
    ('[[measures]]\nid = "retraction"\nafter_revision = "worst"\n', 4, "measures retraction, after_revision",
     'must be "as seen" or "poor"'),
    ('[[timed]]\nid = "revision"\nmain_month = 13\n', 4, "timed revision, main_month", "must be one of its months: 12, 24"),
    ('[captured]\ndeath = "sometimes"\n', 3, "captured, death", "must be one of all, contact, reviews"),
    ('[captured]\n"dying" = "all"\n', 3, "captured, dying", "is not a kind of event; known: pedicle dehiscence"),
    ('[captured]\n"moved away" = 1\n', 3, "captured, moved away", "must be one of all, contact, reviews"),
    ("captured = 3\n", 2, "captured", "write [captured] and its keys below"),
    ("synonyms = 3\n", 2, "synonyms", "write [synonyms] and its keys below"),
    ("[synonyms]\nmissing = 3\n", 3, "synonyms, missing", "must be a list of texts"),
    ('[synonyms.headings]\nwidth = ["w"]\n', 3, "synonyms.headings, width", "is not a field of the protocol"),
    ('[synonyms.headings]\n\nlid_width_mm = ["Defektbreite"]\n', 4, "synonyms.headings, lid_width_mm",
     '"Defektbreite" heads defect_width_mm already'),
    ('[synonyms.words.side]\nright = ["LI."]\n', 2, "synonyms.words.side",
     '"li" stands for both "right" and "left"'),
    ('[synonyms.words.side]\n"upper" = ["o"]\n', 3, "synonyms.words.side, upper", "must be one of right, left"),
    ('[synonyms.words.nose]\n"upper" = ["o"]\n', 2, "synonyms.words.nose", '"nose" is not a field'),
    ("[synonyms.words]\nside = 1\n", 3, "synonyms.words, side", "write [synonyms.words.side]"),
]  # fmt: skip


def test_the_defaults_of_the_data_dictionary_are_kept():
    protocol = default_protocol()
    given = {measure.id: (measure.main_outcome, measure.important_difference) for measure in protocol.measures}
    assert given["retraction"] == ("mean", 0.5)
    assert given["lash_loss"] == ("mean", 10)
    assert (given["oedema"], given["watering"], given["satisfaction"]) == (("mean", 0.25), ("mean", 0.5), ("mean", 1))
    assert given["entropion"] == given["trichiasis"] == ("share", 15)
    assert {measure.weight for measure in protocol.measures if measure.main} == {2}
    assert {measure.weight for measure in protocol.measures if not measure.main} == {1}
    assert {measure.after_revision for measure in protocol.measures} == {"as seen"}
    assert protocol.measure("entropion").important_margin == 0.15
    assert protocol.measure("retraction").important_margin == 0.5
    assert {kind: protocol.captured_by(kind) for kind in ("recurrence", "death", "infection")} == {
        "recurrence": "contact", "death": "contact", "infection": "contact",
    }  # fmt: skip
    assert protocol.rules.fellow_poor_logmar == 0.5
    assert all(timed.main_month in timed.months for timed in protocol.timed)


def test_a_share_may_be_the_main_outcome_of_a_graded_measure(own):
    text = '[[measures]]\nid = "oedema"\nmain_outcome = "share"\nimportant_difference = 20\nimportant_reason = "x"\n'
    measure = own(EXTENDS + text).measure("oedema")
    assert (measure.main_outcome, measure.important_margin, measure.important_reason) == ("share", 0.2, "x")


def test_a_protocol_of_before_these_keys_is_read_and_has_no_important_difference():
    tree = json.loads(default_protocol().text)
    for entry in tree["measures"]:
        for key in ("important_difference", "important_reason"):
            del entry[key]
    for entry in tree["timed"]:
        del entry["main_month"]
    del tree["captured"], tree["synonyms"], tree["rules"]["fellow_poor_logmar"]
    tree["fields"] = [entry for entry in tree["fields"] if entry["id"] != "date_precision"]
    old = protocol_from_text(json.dumps(tree))
    assert {measure.important_margin for measure in old.measures} == {None}
    assert {timed.main_month for timed in old.timed} == {0}
    assert (old.captured_by("death"), old.rules.fellow_poor_logmar) == ("contact", 0.5)
    assert old.measure("entropion").main_outcome == "share"


def test_synonyms_are_added_to_and_leave_the_fingerprint_alone(own):
    text = '[synonyms]\nmissing = ["unread"]\n[synonyms.words.cover]\nadvancement = ["slide"]\n'
    before, after = default_protocol(), own(EXTENDS + text)
    cover = after.field("reconstructions", "cover")
    assert [after.synonyms.word(cover, word) for word in ("SLIDE", "Flap  adv.", "VHT")] == [
        "advancement", "advancement", "graft",
    ]  # fmt: skip
    assert before.synonyms.word(cover, "slide") is None
    assert (before.synonyms.is_missing("Unread"), after.synonyms.is_missing("Unread")) == (False, True)
    assert after.text != before.text
    assert after.fingerprint == before.fingerprint


@pytest.mark.parametrize(
    "sheet, name, text, word",
    [
        ("reconstructions", "diagnosis", "BZK", "basal cell carcinoma"), ("reconstructions", "side", "OS", "left"),
        ("reconstructions", "side", "re", "right"), ("patients", "sex", "w", "female"), ("patients", "sex", "m", "male"),
        ("reconstructions", "cover", "FTSG", "graft"), ("reviews", "oedema", "(+)", "mild"),
        ("reconstructions", "canthus_involved", "nein", "none"), ("reviews", "entropion", "nein", "no"),
        ("patients", "smoker", "nein", "never"), ("patients", "diabetes", "ja", "yes"), ("reviews", "recurrence", "ja", None),
        ("reviews", "oedema", "-", None),
    ],
)  # fmt: skip
def test_words_of_the_trade_are_the_protocols_own(sheet, name, text, word):
    """Abbreviations in English and German; common practice, no source."""
    protocol = default_protocol()
    assert protocol.synonyms.word(protocol.field(sheet, name), text) == word


def test_headings_name_their_field():
    synonyms = default_protocol().synonyms
    assert synonyms.fields_headed("MRD2") == ("margin_position_mm",)
    assert synonyms.fields_headed("Rezidiv") == ("recurrence",)
    assert synonyms.fields_headed("nose") == ()


@pytest.mark.parametrize("text, row, place, remedy", FAULTS, ids=lambda part: str(part)[:30])
def test_each_fault_is_named_with_its_line(refused, text, row, place, remedy):
    found = refused(EXTENDS + text)
    assert [(line, where) for line, where, what in found if remedy in what] == [(row, place)]


def test_all_faults_of_a_file_come_at_once(refused):
    text = '[rulez]\n[[measures]]\nid = "a"\npoorly = 1\n[[fields]]\nlable = "x"\n'
    assert [row for row, _, _ in refused(EXTENDS + text)] == [2, 5, 6, 7]


def test_another_base_than_the_default_is_refused(refused):
    [(row, _, what)] = [each for each in refused('name = "x"\nextends = "mine"\n') if each[1] == "extends"]
    assert (row, what) == (2, 'can only be "default"')


def test_a_file_without_its_parts_says_how_to_keep_them(refused):
    assert any('has no part "fields"; begin with extends = "default"' in what for _, _, what in refused('name = "x"\n'))


@pytest.mark.parametrize(
    "content, words", [(b'name = "\xff"\n', "is not UTF-8 text"), ("name = 1\n".encode("utf-16"), "is not UTF-8 text")]
)
def test_another_encoding_is_one_sentence(tmp_path, content, words):
    path = tmp_path / "clinic.toml"
    path.write_bytes(content)
    with pytest.raises(DataRefused, match=words):
        read_protocol(path)


def test_a_file_that_is_not_there_is_one_sentence(tmp_path):
    with pytest.raises(DataRefused, match="cannot be read: No such file"):
        read_protocol(tmp_path / "none.toml")
    with pytest.raises(DataRefused, match="cannot be read: Is a directory"):
        read_protocol(tmp_path)


def test_windows_lines_and_a_byte_mark_are_taken(tmp_path):
    path = tmp_path / "clinic.toml"
    path.write_bytes(b"\xef\xbb\xbf" + EXTENDS.replace("\n", "\r\n").encode())
    assert read_protocol(path).fingerprint == default_protocol().fingerprint
