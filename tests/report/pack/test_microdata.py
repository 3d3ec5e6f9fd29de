"""Can nobody be told apart in the rows that are given away, and does an independent library accept their dictionary?"""

import csv
import json
from collections import Counter
from datetime import date

import polars as pl
import pytest
from frictionless import Package, system
from hypothesis import given
from hypothesis import strategies as st

from outcomes.findings import Stamp
from outcomes.findings.disclosure.k_anonymity import KEY
from outcomes.findings.disclosure.microdata import shared, together
from outcomes.protocol import default_protocol
from tests.rows import case, review, series_of, sheets

K = default_protocol().rules.k_anonymity
STAMP = Stamp(0, "d" * 64, "spring", date(2026, 6, 30), "outcomes", "p", "f", ())


@pytest.fixture
def data(packs):
    return packs[True] / "data"


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as held:
        return list(csv.DictReader(held))


def test_frictionless_finds_the_rows_valid_against_their_dictionary(data):
    with system.use_context(trusted=True):
        package = Package(str(data / "datapackage.json"))
        for name in ("wide", "tall"):
            report = package.get_resource(name).validate()
            assert report.valid, report.flatten(["fieldName", "rowNumber", "message"])[:5]
            assert package.get_resource(name).schema.to_descriptor()["fields"]


def test_frictionless_would_refuse_a_row_that_is_wrong(data, tmp_path):
    descriptor = json.loads((data / "datapackage.json").read_text(encoding="utf-8"))
    descriptor["resources"] = [each for each in descriptor["resources"] if each["name"] == "wide"]
    text = (data / "wide.csv").read_text(encoding="utf-8").replace(",grafted,", ",flapped,", 1)
    (tmp_path / "wide.csv").write_text(text, encoding="utf-8")
    (tmp_path / "datapackage.json").write_text(json.dumps(descriptor), encoding="utf-8")
    with system.use_context(trusted=True):
        assert not Package(str(tmp_path / "datapackage.json")).get_resource("wide").validate().valid


def test_every_combination_of_what_an_outsider_could_know_is_shared_by_k_lids_or_more(data):
    told = json.loads((data / "datapackage.json").read_text(encoding="utf-8"))["k_anonymity"]
    counted = Counter(tuple(row[name] for name in KEY) for row in rows_of(data / "wide.csv"))
    assert min(counted.values()) >= told["k"] >= told["asked"] == K


def test_no_value_of_one_column_is_had_by_fewer_than_k_lids_of_a_cohort(data):
    wide = rows_of(data / "wide.csv")
    for name in wide[0]:
        if name in {"lid", "release", *KEY}:
            continue
        counted = Counter((row["cohort"], row[name]) for row in wide if row[name])
        assert min(counted.values(), default=K) >= K, name
    tall = rows_of(data / "tall.csv")
    counted = Counter((row["cohort"], row["measure"], row["window"], row["value"]) for row in tall)
    assert min(counted.values()) >= K


def test_no_study_code_date_surgeon_or_place_is_in_any_file_that_is_given_away(data, register):
    from outcomes.store import reading

    with reading(register) as held:
        cases, patients = set(held.held()["reconstructions"]), set(held.held()["patients"])
        surgeons = {str(row["surgeon"]) for row in held.held()["reconstructions"].values() if row.get("surgeon")}
        dates = {str(row["operated_on"]) for row in held.held()["reconstructions"].values()}
    for name in ("wide", "tall"):
        cells = {cell for row in rows_of(data / f"{name}.csv") for cell in row.values()}
        assert not cells & {code for key in cases | patients for code in key}
        assert not cells & (surgeons | dates)


def test_parquet_and_csv_hold_the_same_rows(data):
    for name in ("wide", "tall"):
        packed = pl.read_parquet(data / f"{name}.parquet")
        text = rows_of(data / f"{name}.csv")
        assert packed.columns == list(text[0])
        assert packed.height == len(text)
        for row, other in zip(packed.iter_rows(named=True), text, strict=True):
            assert {n: "" if v is None else v for n, v in row.items()} == {
                n: v if isinstance(row[n], str) or v == "" else type(row[n])(v) for n, v in other.items()
            }


def test_fewer_than_k_patients_are_refused_with_the_reason():
    few = series_of(sheets([case(f"C{n}") for n in range(K - 1)]))
    held = shared(few, STAMP)
    assert held.tables == ()
    assert f"fewer than {K} patients" in held.note


def test_k_is_counted_in_patients_not_in_lids():
    lids = [case(f"C{n}", patient_id=f"P{n // 2}") for n in range(2 * (K - 1))]
    assert shared(series_of(sheets(lids)), STAMP).tables == ()


def test_exactly_k_patients_alike_are_given_away_with_their_values():
    cases = [case(f"C{n}") for n in range(K)]
    held = shared(series_of(sheets(cases, [review(f"C{n}", 183, notch_mm=1) for n in range(K)])), STAMP)
    assert held.k == K
    assert [table.rows for table in held.tables] == [K, K]


@given(st.lists(st.one_of(st.none(), st.integers(0, 12).map(float)), max_size=60), st.integers(1, 8))
def test_values_put_together_are_had_by_so_many_and_keep_their_order(values, asked):
    told = together(values, asked)
    counted = Counter(told[value] for value in values if value in told)
    assert all(number >= asked for number in counted.values())
    known = sorted({value for value in values if value is not None})
    assert bool(told) == (len([v for v in values if v is not None]) >= asked and bool(known))
    if told:
        assert [told[value] for value in known] == sorted(told[value] for value in known)
        assert set(told.values()) <= set(known)
