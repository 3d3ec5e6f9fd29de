"""Check the rows for other researchers: nobody stands out, and an independent library accepts their dictionary."""

import csv
import json
from datetime import date, timedelta

import polars as pl
import pytest
from frictionless import Package, system

from outcomes.findings import Stamp
from outcomes.findings.disclosure.microdata import not_requested, shared_data
from outcomes.findings.disclosure.quasi_identifiers import NAMES, NOT_RECORDED, WITHHELD, quasi_identifiers
from outcomes.protocol import default_protocol
from outcomes.report.pack.data_package import coarsening_lines, datapackage, refusal_words
from tests.rows import DIVIDED, OPERATED, case, review, series_of, sheets

PROTOCOL = default_protocol()
K = PROTOCOL.rules.k_anonymity
STAMP = Stamp(0, "d" * 64, "spring", date(2026, 6, 30), "outcomes", "p", "f", ())
TABLES = ("lids",)


@pytest.fixture
def data(packs):
    return packs[True] / "data"


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def dictionary_of(data):
    return json.loads((data / "datapackage.json").read_text(encoding="utf-8"))


def test_frictionless_finds_the_rows_valid_against_their_dictionary(data):
    with system.use_context(trusted=True):
        package = Package(str(data / "datapackage.json"))
        for name in TABLES:
            report = package.get_resource(name).validate()
            assert report.valid, report.flatten(["fieldName", "rowNumber", "message"])[:5]
            assert package.get_resource(name).schema.to_descriptor()["fields"]


def test_frictionless_would_refuse_a_row_that_is_wrong(data, tmp_path):
    descriptor = dictionary_of(data)
    descriptor["resources"] = [each for each in descriptor["resources"] if each["name"] == "lids"]
    text = (data / "lids.csv").read_text(encoding="utf-8").replace("\ngrafted,", "\nflapped,", 1)
    (tmp_path / "lids.csv").write_text(text, encoding="utf-8")
    (tmp_path / "datapackage.json").write_text(json.dumps(descriptor), encoding="utf-8")
    with system.use_context(trusted=True):
        assert not Package(str(tmp_path / "datapackage.json")).get_resource("lids").validate().valid


def reviewed(row):
    return any(row[name] for name in row if "_poor_" in name)


def classes_of(rows):
    """The rows of each class: alike in the cohort, in whether they were reviewed, and in what an outsider could know."""
    classes = {}
    for row in rows:
        key = (row["cohort"], reviewed(row), *(row[name] for name in NAMES if name in row))
        classes.setdefault(key, []).append(row)
    return classes


def test_every_class_has_k_lids_or_more(data):
    control = dictionary_of(data)["disclosure_control"]
    least = min(len(each) for each in classes_of(rows_of(data / "lids.csv")).values())
    assert least >= control["k"] >= control["k_required"] == K


def test_no_class_is_wholly_poor_in_a_main_measure(data):
    lids = rows_of(data / "lids.csv")
    results = [name for name in lids[0] if "_poor_" in name]
    assert results
    for rows in classes_of(lids).values():
        for name in results:
            assert {row[name] for row in rows} != {"yes"}, name


def split(**grades):
    """Twenty lids of each cover, each reviewed at six months: so many of each cover have the first grade, the others the second."""
    cases = [case(f"C{n:02}", ("graft", "advancement")[n // 20]) for n in range(40)]
    seen = [
        review(f"C{n:02}", 183, **{name: (1 if n % 20 < lids else 0) for name, lids in grades.items()})
        for n in range(40)
    ]
    return shared_data(series_of(sheets(cases, seen)), STAMP)


def test_values_are_counted_where_every_count_points_at_nobody_and_no_value_is_everybodys():
    data = split(oedema=8, margin_redness=4, colour_mismatch=17, contour_mismatch=20, notch_mm=8)
    counted = frame_of(data, 1).filter(pl.col("measure") != "notching").drop("window", "release").rows()
    assert counted == [
        *(("advanced", "oedema", value, lids) for value, lids in ((0, 12), (1, 8))),
        *(("grafted", "oedema", value, lids) for value, lids in ((0, 12), (1, 8))),
    ]


def test_where_no_value_can_be_counted_there_is_no_such_table():
    assert [table.name for table in split(notch_mm=8, margin_redness=4).tables] == ["lids", "values"]
    assert [table.name for table in shared_data(alike(K), STAMP).tables] == ["lids"]


def test_rows_hold_nothing_by_which_whoever_knows_the_operation_could_find_one(data):
    """An hour of attack: with the size of the defect in them, each of 147 rows was one lid's, and 550 results were learnt."""
    names = set(rows_of(data / "lids.csv")[0]) - {"cohort", "release", *NAMES}
    assert {name.rpartition("_poor_")[1:] for name in names} == {("_poor_", PROTOCOL.primary_window)}


def test_the_rows_tell_no_count_that_the_public_report_of_the_same_lock_withholds(packs):
    told = json.loads((packs[True] / "comparison.json").read_text(encoding="utf-8"))
    lids, compared = rows_of(packs[True] / "data" / "lids.csv"), 0
    for finding in told["findings"]:
        place = finding["measure"], finding["window"]
        for cohort in ("grafted", "advanced"):
            name = f"{place[0]}_poor_{place[1]}"
            of_lids = [row[name] for row in lids if row["cohort"] == cohort and row.get(name)]
            if of_lids and "events" in finding[cohort]:
                assert (len(of_lids), of_lids.count("yes")) == (finding[cohort]["n"], finding[cohort]["events"])
                compared += 1
    assert compared


def test_the_rows_are_sorted_by_what_they_show(data):
    """So their order can tell nothing, and the same data lock gives the same bytes."""
    frame = pl.read_parquet(data / "lids.parquet").drop("release")
    assert frame.equals(frame.sort(*frame.columns, nulls_last=True))


def test_no_study_code_date_surgeon_or_place_is_in_any_file_that_is_given_away(data, register):
    from outcomes.store import reading

    with reading(register) as held:
        cases, patients = set(held.held()["reconstructions"]), set(held.held()["patients"])
        surgeons = {str(row["surgeon"]) for row in held.held()["reconstructions"].values() if row.get("surgeon")}
        dates = {str(row["operated_on"]) for row in held.held()["reconstructions"].values()}
    for name in TABLES:
        cells = {cell for row in rows_of(data / f"{name}.csv") for cell in row.values()}
        assert not cells & {code for key in cases | patients for code in key}
        assert not cells & (surgeons | dates)


def test_parquet_and_csv_hold_the_same_rows(data):
    for name in TABLES:
        packed = pl.read_parquet(data / f"{name}.parquet")
        text = rows_of(data / f"{name}.csv")
        assert packed.columns == list(text[0])
        assert packed.height == len(text)
        for row, other in zip(packed.iter_rows(named=True), text, strict=True):
            assert {n: "" if v is None else v for n, v in row.items()} == {
                n: v if isinstance(row[n], str) or v == "" else type(row[n])(v) for n, v in other.items()
            }


def test_rows_are_given_away_only_when_they_are_requested():
    data = not_requested(alike(K))
    assert (data.tables, data.refusal) == ((), "not_requested")
    assert "--with-data" in refusal_words(data)


def alike(number, **fields):
    """So many lids that are alike, each reviewed at six months without a notch."""
    cases = [case(f"C{n:02}", **fields) for n in range(number)]
    return series_of(sheets(cases, [review(f"C{n:02}", 183, notch_mm=0) for n in range(number)]))


def test_fewer_than_k_patients_are_refused_with_the_reason():
    data = shared_data(alike(K - 1), STAMP)
    assert (data.tables, data.refusal) == ((), "too_few_patients")
    assert f"fewer than {K} patients" in refusal_words(data)


def test_k_is_counted_in_patients_not_in_lids():
    lids = [case(f"C{n}", patient_id=f"P{n // 2}") for n in range(2 * (K - 1))]
    assert shared_data(series_of(sheets(lids)), STAMP).tables == ()


def frame_of(data, number=0):
    return pl.read_csv(data.tables[number].csv)


def test_k_patients_alike_are_given_away_with_their_values():
    data = shared_data(alike(K), STAMP)
    assert (data.k, data.lids, data.withheld, data.loss, data.refusal) == (K, K, 0, 0, "")
    assert {each.loss for each in data.coarsened} == {0}
    assert frame_of(data).select(NAMES[:7]).row(0) == (
        "70-79",
        NOT_RECORDED,
        "right",
        2024,
        "basal cell carcinoma",
        "28-34",
        "6-11",
    )
    assert frame_of(data).get_column("notching_poor_six_months").to_list() == ["no"] * K
    assert len(data.tables) == 1  # the value that all have would be everybody's
    assert frame_of(data).get_column("release").unique().to_list() == [f"{'d' * 12} spring as of 2026-06-30"]


def wholly_poor(good):
    """Ten right and ten left lids: of the left ones all are notched, but for so many."""
    cases = [case(f"C{n:02}", side="left" if n < 10 else "right") for n in range(20)]
    notched = [review(f"C{n:02}", 183, notch_mm=3 if good <= n < 10 else 0) for n in range(20)]
    return shared_data(series_of(sheets(cases, notched)), STAMP)


@pytest.mark.parametrize("good,shown", [(0, False), (5, True)])
def test_a_column_that_would_make_a_class_wholly_poor_is_not_given(good, shown):
    assert ("side" in frame_of(wholly_poor(good)).columns) == shown


@pytest.mark.parametrize("poor", [9, 2, 7])
def test_a_result_that_all_or_few_have_or_have_not_is_not_given(poor):
    cases = [case(f"C{n}") for n in range(9)]
    notched = [review(f"C{n}", 183, notch_mm=3 if n < poor else 0) for n in range(9)]
    data = shared_data(series_of(sheets(cases, notched)), STAMP)
    assert (data.tables, data.refusal) == ((), "no_results")
    assert "large enough" in refusal_words(data)


def test_what_an_outsider_could_know_of_lids_that_would_stand_out_is_withheld():
    """Two women stand out; the next smallest class, five men of their age, is withheld with them: 7 of 87 rows.

    That loses less (7/87) than to leave out the sex of all (1 of 9 columns).
    """
    rows = sheets([case(f"C{n:02}") for n in range(87)], [review(f"C{n:02}", 183, notch_mm=0) for n in range(87)])
    for number, patient in enumerate(rows["patients"]):
        patient["sex"] = "female" if number < 2 else "male"
        patient["birth_year"] = 1950 if number < 7 else 1930
    data = shared_data(series_of(rows), STAMP)
    frame = frame_of(data)
    assert frame.group_by("sex", "age_band").len().sort("len").rows() == [
        (WITHHELD, WITHHELD, 7),
        ("male", "90-99", 80),
    ]
    assert (data.withheld, data.k) == (7, 7)
    assert data.loss == pytest.approx(7 / 87)


def test_where_few_lids_were_not_reviewed_no_rows_are_given_because_they_would_tell_how_many():
    """Of one measure enough were not seen, and of another, but all lids of but two had one of them."""
    cases = [case(f"C{n:02}") for n in range(22)]
    seen = [review(f"C{n:02}", 183, **{"notch_mm" if n < 10 else "retraction_mm": 0}) for n in range(20)]
    data = shared_data(series_of(sheets(cases, seen)), STAMP)
    assert (data.tables, data.refusal) == ((), "few_not_reviewed")
    assert shared_data(series_of(sheets(cases[:20], seen)), STAMP).lids == 20


def test_every_level_of_a_column_and_a_blank_as_a_level():
    divided = [DIVIDED + timedelta(days=3), DIVIDED, None]
    cases = [case(f"C{n}", divided_on=divided[n], side=("right", "left", "right")[n]) for n in range(3)]
    series = series_of(sheets(cases, [review("C0", 400, notch_mm=0)]))
    levels = {
        each.name: {level.id: level.values for level in each.levels} for each in quasi_identifiers(series, series.cases)
    }
    assert (DIVIDED - OPERATED).days == 31
    assert levels["days_shut"] == {
        "7": ("28-34", "28-34", NOT_RECORDED),
        "14": ("28-41", "28-41", NOT_RECORDED),
        "left_out": ("", "", ""),
    }
    assert levels["months_followed"]["12"] == ("12-23", "0-11", NOT_RECORDED)
    assert levels["age_band"]["20"] == ("60-79",) * 3
    assert levels["year_of_operation"]["3"] == ("2022-2024",) * 3
    assert levels["side"] == {"as_held": ("right", "left", "right"), "left_out": ("", "", "")}
    assert levels["smoker"]["as_held"] == (NOT_RECORDED,) * 3


def test_the_dictionary_says_what_was_coarsened_with_the_loss(data):
    columns = {each["name"]: each for each in dictionary_of(data)["disclosure_control"]["columns"]}
    assert tuple(columns) == NAMES
    given_away = set(rows_of(data / "lids.csv")[0])
    for name, each in columns.items():
        assert (each["level"] == "left_out") == (name not in given_away)
        assert (each["loss"] == 1) == (name not in given_away)


def test_what_was_coarsened_is_said_in_words():
    shared = shared_data(alike(K), STAMP)
    assert coarsening_lines(shared)[0] == "Age at operation: in bands of 10 years (0% of its information lost)"
    fields = json.loads(datapackage(shared, PROTOCOL, "stamp"))["resources"][0]["schema"]["fields"]
    notching = next(each for each in fields if each["name"] == "notching_poor_six_months")
    assert notching["description"].startswith("Whether the result at six months after division was poor.")
    assert notching["description"].endswith("Poor: 1 mm or more.")
