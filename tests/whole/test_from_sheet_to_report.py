"""A workbook that a person filled in becomes an honest report, by the program's own commands alone."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import openpyxl
import pytest

from tests.whole.clinic import (
    CLOSED_ON,
    OWN_PROTOCOL,
    compared,
    european_folder,
    fill,
    outcomes,
    part_of_the_clinic,
    tables_of,
)

pytestmark = pytest.mark.slow

ITCH = (
    OWN_PROTOCOL
    + """
[[fields]]
id = "itch_score"
sheet = "reviews"
kind = "number"
unit = "points"
low = 0
high = 10
observed = true
label = "Itch of the cover"
definition = "The patient's own answer, 0 to 10."

[[measures]]
id = "itch"
field = "itch_score"
worse = "higher"
poor = { at_least = 5 }
main = true
label = "Itch of the cover"
"""
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the clinic's own protocol, its workbook filled in, a register that holds it, and the report."""
    place = tmp_path_factory.mktemp("clinic")
    (place / "ours.toml").write_text(OWN_PROTOCOL, encoding="utf-8")
    assert outcomes("new", "--protocol", "ours.toml", folder=place).returncode == 0
    assert outcomes("template", "cases.xlsx", folder=place).returncode == 0
    fill(place / "cases.xlsx", part_of_the_clinic(60), place / "filled.xlsx")
    loaded = outcomes("load", "filled.xlsx", "--as-of", CLOSED_ON, folder=place)
    assert loaded.returncode == 0, loaded.stderr
    done = compared(place / "register.duckdb", place / "report")
    assert done.returncode == 0, done.stderr
    return place


def test_empty_template_loads_nothing(folder: Path, tmp_path: Path) -> None:
    shutil.copy(folder / "cases.xlsx", tmp_path / "cases.xlsx")
    outcomes("new", folder=tmp_path)
    loaded = outcomes("load", "cases.xlsx", folder=tmp_path)
    assert "reviews               0 stored" in loaded.stdout + loaded.stderr or loaded.returncode == 1
    assert "Traceback" not in loaded.stderr


def test_report_and_comparison_are_there_and_carry_the_stamp(folder: Path) -> None:
    comparison = json.loads((folder / "report" / "comparison.json").read_text(encoding="utf-8"))
    assert comparison["format"] == 2
    assert comparison["register"]["as_of"] == CLOSED_ON
    page = (folder / "report" / "report.html").read_text(encoding="utf-8")
    assert comparison["register"]["digest"][:12] in page


def test_same_rows_as_european_csv_give_byte_identical_tables(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "ours.toml").write_text(OWN_PROTOCOL, encoding="utf-8")
    outcomes("new", "--protocol", "ours.toml", folder=tmp_path)
    european_folder(part_of_the_clinic(60), tmp_path / "csv")
    loaded = outcomes("load", "csv", "--as-of", CLOSED_ON, folder=tmp_path)
    assert loaded.returncode == 0, loaded.stderr
    assert compared(tmp_path / "register.duckdb", tmp_path / "report").returncode == 0
    assert tables_of(tmp_path / "report") == tables_of(folder / "report")


def test_loading_twice_changes_nothing_and_one_changed_cell_is_an_amendment(folder: Path, tmp_path: Path) -> None:
    for name in ("register.duckdb", "register.duckdb.head"):
        shutil.copy(folder / name, tmp_path / name)
    shutil.copy(folder / "filled.xlsx", tmp_path / "filled.xlsx")
    again = outcomes("load", "filled.xlsx", "--as-of", CLOSED_ON, folder=tmp_path)
    assert " 0 stored      0 amended" in again.stdout
    case = _change_one_notch(tmp_path / "filled.xlsx")
    changed = outcomes("load", "filled.xlsx", "--as-of", CLOSED_ON, folder=tmp_path)
    assert "reviews               0 stored      1 amended" in changed.stdout
    past = outcomes("history", case, "--field", "notch_mm", folder=tmp_path, COLUMNS="200").stdout
    assert "6.25" in past
    assert "filled.xlsx" in past
    assert compared(tmp_path / "register.duckdb", tmp_path / "report").returncode == 0
    assert '"value": 6.25' in (tmp_path / "report" / "comparison.json").read_text(encoding="utf-8")
    assert '"value": 6.25' not in (folder / "report" / "comparison.json").read_text(encoding="utf-8")


def _change_one_notch(workbook: Path) -> str:
    """Type another notch depth where one stood at a six-month review; gives the case."""
    book = openpyxl.load_workbook(workbook)
    page = book["reviews"]
    places = {cell.value: cell.column for cell in page[1]}
    report = _notched_at_six_months(page, places)
    page.cell(report, places["notch_mm"], 6.25)
    book.save(workbook)
    return str(page.cell(report, places["case_id"]).value)


def _notched_at_six_months(page: object, places: dict[str, int]) -> int:
    divided = {row["case_id"]: row["divided_on"] for row in part_of_the_clinic(60)["reconstructions"]}
    covers = {row["case_id"]: row["cover"] for row in part_of_the_clinic(60)["reconstructions"]}
    for row in range(2, page.max_row + 1):  # type: ignore[attr-defined]
        case = page.cell(row, places["case_id"]).value  # type: ignore[attr-defined]
        notch = page.cell(row, places["notch_mm"]).value  # type: ignore[attr-defined]
        day = page.cell(row, places["reviewed_on"]).value  # type: ignore[attr-defined]
        if notch is None or divided.get(case) is None or covers[case] not in {"graft", "advancement"}:
            continue
        if 180 <= (day.date() - divided[case]).days <= 186:
            return row
    raise AssertionError("the clinic has no such review")


def test_adding_a_measure_to_the_protocol_alone_brings_it_everywhere(tmp_path: Path) -> None:
    (tmp_path / "ours.toml").write_text(ITCH, encoding="utf-8")
    assert outcomes("new", "--protocol", "ours.toml", folder=tmp_path).returncode == 0
    assert outcomes("template", "cases.xlsx", folder=tmp_path).returncode == 0
    sheets = part_of_the_clinic(40)
    for number, row in enumerate(sheets["reviews"]):
        if row["mode"] == "clinic" and row.get("notch_mm") is not None:
            row["itch_score"] = number % 8
    fill(tmp_path / "cases.xlsx", sheets, tmp_path / "filled.xlsx")
    loaded = outcomes("load", "filled.xlsx", "--as-of", CLOSED_ON, folder=tmp_path)
    assert loaded.returncode == 0, loaded.stderr
    assert compared(tmp_path / "register.duckdb", tmp_path / "report").returncode == 0
    comparison = json.loads((tmp_path / "report" / "comparison.json").read_text(encoding="utf-8"))
    assert any(
        each["measure"] == "itch" and each["family"] == "planned" and each["grafted"]["n"]
        for each in comparison["findings"]
    )
    assert "Itch of the cover" in (tmp_path / "report" / "report.html").read_text(encoding="utf-8")
