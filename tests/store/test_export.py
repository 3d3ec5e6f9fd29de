"""The plain export, read by an independent reader of the open standard."""

import csv
import json
import warnings

import pytest

from outcomes.capture import HeldRows, check_sheets, read_sheets
from outcomes.errors import RegisterRefused
from outcomes.protocol import default_protocol
from outcomes.store import export_plain, reading
from outcomes.store.export import OBEYED
from tests.store.clinic import AT, case, made, patient, review


def exported(tmp_path):
    with reading(made(tmp_path)) as register:
        export_plain(register, tmp_path / "plain")
        return register.held()


def test_the_rows_are_there_as_they_were_recorded(tmp_path):
    held = exported(tmp_path)
    for sheet, rows in held.items():
        with (tmp_path / "plain" / f"{sheet}.csv").open(encoding="utf-8", newline="") as file:
            read = [{name: cell for name, cell in row.items() if cell} for row in csv.DictReader(file)]
        assert read == [{name: str(value) for name, value in row.items()} for row in rows.values()]


def test_an_independent_reader_finds_the_data_valid_by_their_dictionary(tmp_path):
    exported(tmp_path)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import frictionless

        report = frictionless.Package(str(tmp_path / "plain" / "datapackage.json")).validate()
        assert report.valid, report.flatten(["message"])
        # and finds what is not: the dictionary does bind
        reviews = tmp_path / "plain" / "reviews.csv"
        reviews.write_text(reviews.read_text().replace(",0.5,", ",99,").replace("C1,", "C77,"))
        faults = frictionless.Package(str(tmp_path / "plain" / "datapackage.json")).validate().flatten(["type"])
        assert {"constraint-error", "foreign-key"} <= {kind for (kind,) in faults}


def test_every_column_is_explained(tmp_path):
    exported(tmp_path)
    package = json.loads((tmp_path / "plain" / "datapackage.json").read_text(encoding="utf-8"))
    for resource in package["resources"]:
        with (tmp_path / "plain" / resource["path"]).open(encoding="utf-8") as file:
            header = file.readline().strip().split(",")
        assert [field["name"] for field in resource["schema"]["fields"]] == header
        assert all(field["title"] and field["description"] for field in resource["schema"]["fields"])


def test_nothing_is_overwritten(tmp_path):
    exported(tmp_path)
    with pytest.raises(RegisterRefused, match="already"), reading(tmp_path / "register.duckdb") as register:
        export_plain(register, tmp_path / "plain")


@pytest.mark.parametrize("sign", OBEYED)
def test_no_cell_is_obeyed_by_a_spreadsheet_and_every_cell_is_loaded_again(tmp_path, sign):
    surgeon = f"{sign}1+1" if sign.strip() else "AB"
    rows = [patient(1), case(1, surgeon=surgeon), review(1, retraction_mm=-0.5)]
    with reading(made(tmp_path, rows)) as register:
        export_plain(register, tmp_path / "plain")
        held = register.held()
    with (tmp_path / "plain" / "reconstructions.csv").open(encoding="utf-8", newline="") as file:
        cells = [cell for row in csv.reader(file) for cell in row]
    assert not [cell for cell in cells if cell.startswith(OBEYED)]
    assert ",-0.5," in (tmp_path / "plain" / "reviews.csv").read_text()  # a number is no formula
    checked = check_sheets(
        read_sheets(tmp_path / "plain", default_protocol()), default_protocol(), as_of=AT.date(), held=HeldRows()
    )
    if sign != "=":
        assert {row.key: row.values for row in checked.rows if row.sheet == "reconstructions"} == held[
            "reconstructions"
        ]
