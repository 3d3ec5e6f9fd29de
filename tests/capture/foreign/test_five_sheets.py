"""Five old sheets of different shape come in whole, with few edited lines, as a conversion by hand has them.

The conversions below are plain Python over the cells as another library reads them, and use nothing of the program.
"""

from __future__ import annotations

import csv
import math
import re
from collections import Counter
from dataclasses import replace
from datetime import date, datetime, timedelta

import openpyxl
import pytest

from outcomes.capture import HeldRows
from outcomes.capture.foreign import (
    LoadContext,
    Mapping,
    guess_mapping,
    map_rows,
    read_foreign,
    read_mapping,
    write_mapping,
)
from outcomes.capture.foreign.cell_values import CellReader
from outcomes.capture.foreign.mapping import ColumnRule
from outcomes.errors import DataRefused
from outcomes.protocol import default_protocol
from tests.capture.foreign import sheets

AS_OF = date(2026, 6, 30)
PROTOCOL = default_protocol()
GONE = {"n.a.", "–", "-", "?", "k.A.", "nd", "not done", "N/A", "999", "9", "99", None, ""}


def rounded(value):
    return round(value, 3) + 0.0


def day_in(text, form):
    return datetime.strptime(text, form).date()  # noqa: DTZ007


def snellen(text):
    distance, size = text.split("/")
    return rounded(math.log10(float(size) / float(distance)))


def keyed(rows, *names):
    return {tuple(str(row.get(name, "")) for name in names): row for row in rows}


def without_blanks(row):
    return {name: value for name, value in row.items() if name.endswith("_id") or value not in GONE}


# ------------------------------------------------------------------ the conversions by hand


def by_hand_wide(path):
    cells = openpyxl.load_workbook(path)["Hughes series"]
    patients, cases, reviews, events = [], [], [], []
    cover = {
        "FTSG": "graft",
        "skin graft": "graft",
        "flap adv.": "advancement",
        "advancement flap": "advancement",
        "VY": "advancement",
    }
    tumour = {
        "BCC": "basal cell carcinoma",
        "basalioma": "basal cell carcinoma",
        "SCC": "squamous cell carcinoma",
        "sebaceous gland carcinoma": "sebaceous carcinoma",
    }
    for row in cells.iter_rows(min_row=5, max_row=34, values_only=True):
        code = str(row[0])
        divided = row[10].date() if row[10] else None
        width, height = {
            "22 x 9": (22.0, 9.0),
            "18x8": (18.0, 8.0),
            "15 x 7 mm": (15.0, 7.0),
            "ca. 20": (20.0, None),
        }.get(row[7], (None, None))
        patients.append(
            {
                "patient_id": code,
                "birth_year": row[2].year,
                "sex": {"m": "male", "f": "female"}[row[3]],
                "smoker": {"no": "never", "yes": "current", "ex-smoker": "former", "?": None}[row[11]],
            }
        )
        cases.append(
            {
                "case_id": code,
                "patient_id": code,
                "side": {"OD": "right", "OS": "left"}[row[4]],
                "operated_on": row[5].date(),
                "diagnosis": tumour[row[6]],
                "defect_width_mm": width,
                "defect_height_mm": height,
                "cover": cover[row[8]],
                "fellow_logmar": 2.3 if row[9] == "HM" else snellen(row[9]),
                "divided_on": divided,
            }
        )
        for start in (12, 17):
            day, mrd2, fellow, show, oedema = row[start : start + 5]
            day = day.date() if isinstance(day, datetime) else day_in(day, "%d %b %Y")
            if divided is not None:
                reviews.append(
                    {
                        "case_id": code,
                        "reviewed_on": day,
                        "margin_position_mm": {"5-6": 5.5}.get(mrd2, mrd2),
                        "fellow_margin_position_mm": fellow,
                        "scleral_show_mm": show,
                        "oedema": {"+": 1, "(+)": 1, "++": 2, "none": 0, "-": None}[oedema],
                    }
                )
        if row[23]:
            events.append({"case_id": code, "happened_on": row[23].date(), "kind": "recurrence"})
    return patients, cases, reviews, events


def by_hand_export(path):
    with path.open(encoding="latin-1", newline="") as table:
        rows = list(csv.DictReader(table, delimiter=";"))
    numbers = list(dict.fromkeys(row["Patientennummer"] for row in rows))
    patients, cases, reviews = {}, {}, []

    def day(text):
        return day_in(text[:10], "%d.%m.%Y")

    def number(text):
        return None if text in {"999", "9"} else float(text.replace(",", "."))

    for row in rows:
        code = f"P{numbers.index(row['Patientennummer']) + 1:03}"
        eyes = {"R": row["MRD2 RA"], "L": row["MRD2 LA"]}
        case = f"{code}-{row['Auge']}"
        patients[code] = {
            "patient_id": code,
            "birth_year": int(row["Geburtsdatum"][-4:]),
            "sex": {"m": "male", "w": "female"}[row["Geschlecht"]],
        }
        cases[case] = {
            "case_id": case,
            "patient_id": code,
            "side": {"R": "right", "L": "left"}[row["Auge"]],
            "operated_on": day(row["OP-Datum"]),
            "diagnosis": "squamous cell carcinoma" if row["Diagnose"].startswith("Platten") else "basal cell carcinoma",
            "cover": "graft" if row["Deckung"] == "VHT" else "advancement",
            "divided_on": day(row["Stieldurchtrennung"]),
        }
        reviews.append(
            {
                "case_id": case,
                "reviewed_on": day(row["Untersuchungsdatum"]),
                "assessor": row["Untersucher"],
                "margin_position_mm": number(eyes[row["Auge"]]),
                "fellow_margin_position_mm": number(eyes["RL".replace(row["Auge"], "")]),
                "scleral_show_mm": number(row["Skleralshow"]),
                "oedema": number(row["Ödem"]),
                "ectropion": number(row["Ektropium"]),
            }
        )
    return list(patients.values()), list(cases.values()), reviews, []


def by_hand_german(path):
    book = openpyxl.load_workbook(path)
    patients, cases, reviews, events = {}, [], [], []
    tumour = {
        "BZK": "basal cell carcinoma",
        "Basalzellkarzinom": "basal cell carcinoma",
        "PEK": "squamous cell carcinoma",
        "Talgdrüsenkarzinom": "sebaceous carcinoma",
    }
    cover = {"VHT": "graft", "VL": "advancement", "Vorschub": "advancement", "Transpositionslappen": "transposition"}

    def serial(number):
        return date(1899, 12, 30) + timedelta(days=number)

    def acuity(cell):
        return None if cell == "k.A." else rounded(-math.log10(float(str(cell).replace(",", "."))))

    for row in book["Lider"].iter_rows(min_row=2, values_only=True):
        patients[row[1]] = {
            "patient_id": row[1],
            "birth_year": row[2],
            "sex": {"w": "female", "m": "male"}[row[3]],
            "smoker": {"nein": "never", "ja": "current", "Ex-Raucher": "former"}[row[11]],
        }
        width = None if row[7] == "k.A." else float(str(row[7]).replace(",", "."))
        cases.append(
            {
                "case_id": row[0],
                "patient_id": row[1],
                "side": "left" if row[4] == "li" else "right",
                "operated_on": serial(row[5]),
                "diagnosis": tumour[row[6]],
                "defect_width_mm": width,
                "cover": cover[row[8]],
                "graft_donor": {"Oberlid": "upper lid", "retroaurikulär": "postauricular", None: None}[row[9]],
                "divided_on": serial(row[10]),
                "fellow_logmar": acuity(row[12]),
            }
        )
    for row in book["Verlauf"].iter_rows(min_row=2, values_only=True):
        loss = 50.0 if row[7] == "50 %" else row[7]
        reviews.append(
            {
                "case_id": row[0].upper(),
                "reviewed_on": row[1].date(),
                "assessor": row[2],
                "margin_position_mm": {"ca. 5": 5.0}.get(row[3], row[3]),
                "fellow_margin_position_mm": row[4],
                "oedema": {"0": 0, "keine": 0, "+": 1, "(+)": 1, "++": 2}[row[5]],
                "margin_redness": {"keine": 0, "gering": 1, "mittel": 2, "k.A.": None}[row[6]],
                "lash_loss_percent": loss,
                "lagophthalmos_mm": {"neg.": 0.0}.get(row[8], row[8]),
            }
        )
    for row in book["Komplikationen"].iter_rows(min_row=2, values_only=True):
        kind = {"Nachblutung": "haematoma", "Infekt": "infection", "Re-OP": "revision"}[row[2]]
        events.append({"case_id": row[0], "happened_on": row[1].date(), "kind": kind})
    return list(patients.values()), cases, reviews, events


def by_hand_months(path):
    with path.open(encoding="utf-8", newline="") as table:
        rows = list(csv.DictReader(table))
    patients, cases, reviews, events = [], [], [], []
    for row in rows:
        code = row["Lid no"]
        operated = day_in(row["Surgery date"], "%d %B %Y")
        divided = (
            None if row["Days to division"] == "not done" else operated + timedelta(days=int(row["Days to division"]))
        )
        patients.append(
            {
                "patient_id": code,
                "birth_year": operated.year - int(row["Age"]),
                "sex": {"M": "male", "F": "female"}[row["Sex"]],
            }
        )
        cases.append(
            {
                "case_id": code,
                "patient_id": code,
                "side": {"R": "right", "L": "left"}[row["Eye"]],
                "operated_on": operated,
                "diagnosis": {"BCC": "basal cell carcinoma", "SCC": "squamous cell carcinoma"}[row["Tumour"]],
                "cover": {"graft": "graft", "adv": "advancement", "skin-muscle flap": "myocutaneous"}[row["Repair"]],
                "divided_on": divided,
            }
        )
        if divided is not None:
            third = day_in(row["FU3 date"], "%b %Y").replace(day=15)
            for label, day in (("3/12", divided + timedelta(91)), ("1 yr", divided + timedelta(365)), ("FU3", third)):
                notch, loss = row[f"{label} notch (mm)"], row[f"{label} lash loss"].rstrip("%")
                if label == "FU3" or notch or loss != "nd":
                    reviews.append(
                        {
                            "case_id": code,
                            "reviewed_on": day,
                            "date_precision": "month",
                            "notch_mm": float(notch) if notch else None,
                            "lash_loss_percent": None if loss == "nd" else float(loss),
                        }
                    )
        if row["Deceased on"]:
            events.append(
                {
                    "case_id": code,
                    "happened_on": day_in(row["Deceased on"], "%d %b %Y"),
                    "kind": "death",
                }
            )
    return patients, cases, reviews, events


def by_hand_american(path):
    patients, cases, reviews = {}, {}, []

    def day(text):
        return day_in(text, "%m/%d/%Y")

    for row in openpyxl.load_workbook(path)["Data"].iter_rows(min_row=3, values_only=True):
        if row[9] is None:
            continue
        if row[0]:
            case = f"{row[0]}-{'R' if row[1] == 'OD' else 'L'}"
            patients[row[0]] = {
                "patient_id": row[0],
                "birth_year": int(row[2][-4:]),
                "sex": {"M": "male", "F": "female"}[row[3]],
            }
            cases[case] = {
                "case_id": case,
                "patient_id": row[0],
                "side": "right" if row[1] == "OD" else "left",
                "operated_on": day(row[4]),
                "diagnosis": {"BCC": "basal cell carcinoma", "Melanoma": "melanoma"}[row[5]],
                "cover": "graft" if row[6].startswith("full") else "advancement",
                "divided_on": day(row[7]),
                "fellow_logmar": 1.9 if row[8] == "CF" else snellen(row[8]),
            }
        reviews.append(
            {
                "case_id": case,
                "reviewed_on": day(row[9]),
                "assessor": row[10],
                "margin_position_mm": {"5 mm": 5.0, 99: None}.get(row[11], row[11]),
                "fellow_margin_position_mm": row[12],
                "scleral_show_mm": {"trace": 0.5}.get(row[13], row[13]),
                "lagophthalmos_mm": row[14],
                "corneal_staining": row[15],
                "recurrence": {"no": 0, "none": 0, "V.a.": 1}[row[16]],
            }
        )
    return list(patients.values()), list(cases.values()), reviews, []


# Each sheet: its writer, its conversion, the ending of its file, and the lines of the mapping that are edited.
SHEETS = {
    "wide": (sheets.wide_english, by_hand_wide, "xlsx", {'"HM" = "?"': '"HM" = "2.3"', '"5-6" = "?"': '"5-6" = "5.5"'}),
    "export": (sheets.hospital_export, by_hand_export, "csv", {}),
    "german": (sheets.german_workbook, by_hand_german, "xlsx", {}),
    "months": (sheets.months_only, by_hand_months, "csv", {}),
    "american": (
        sheets.american_visits,
        by_hand_american,
        "xlsx",
        {'"trace" = "?"': '"trace" = "0.5"', '"CF" = "?"': '"CF" = "1.9"'},
    ),
}


def mapped(tmp_path, name, *, edit=True):
    write, _, ending, edits = SHEETS[name]
    path = write(tmp_path / f"{name}.{ending}")
    read = read_foreign(path)
    file = tmp_path / f"{name}.toml"
    write_mapping(file, path.name, guess_mapping(read, PROTOCOL, as_of=AS_OF))
    text = file.read_text(encoding="utf-8")
    for before, after in edits.items() if edit else ():
        assert text.count(before) == 1, before
        text = text.replace(before, after)
    file.write_text(text, encoding="utf-8")
    context = LoadContext(PROTOCOL, AS_OF, HeldRows(), {})
    return path, read, map_rows(read, read_mapping(file, PROTOCOL).mapping, context)


@pytest.mark.parametrize("name", SHEETS)
def test_the_rows_are_those_of_the_conversion_by_hand(tmp_path, name):
    path, _, result = mapped(tmp_path, name)
    for sheet, expected in zip(
        ("patients", "reconstructions", "reviews", "events"), SHEETS[name][1](path), strict=True
    ):
        key = {"patients": ("patient_id",), "reconstructions": ("case_id",), "events": ("case_id", "kind")}.get(
            sheet, ("case_id", "reviewed_on")
        )
        rows = [row.values for row in result.checked.rows if row.sheet == sheet]
        assert len(rows) == len(expected)
        assert keyed(rows, *key) == keyed(map(without_blanks, expected), *key)


@pytest.mark.parametrize("name", SHEETS)
def test_at_most_ten_lines_are_edited(name):
    assert len(SHEETS[name][3]) <= 10


def cells_of(path):
    """Every cell that holds something, counted by another library; of a merged range, the first."""
    if path.suffix == ".csv":
        content = path.read_bytes()
        text = content.decode("latin-1" if b";" in content else "utf-8")
        return sum(
            bool(cell.strip())
            for row in csv.reader(text.splitlines(), delimiter=";" if ";" in text else ",")
            for cell in row
        )
    book = openpyxl.load_workbook(path)
    return sum(cell.value is not None for sheet in book for row in sheet.iter_rows() for cell in row)


@pytest.mark.parametrize("edit", [True, False])
@pytest.mark.parametrize("name", SHEETS)
def test_every_cell_is_accounted_for(tmp_path, name, edit):
    path, _, result = mapped(tmp_path, name, edit=edit)
    counts = result.account.counts()
    assert sum(counts.values()) == cells_of(path)
    assert counts["refused"] == len(result.account.problems())


@pytest.mark.parametrize("name", SHEETS)
def test_a_stored_cell_is_a_value_of_a_row_and_no_value_is_without_a_cell(tmp_path, name):
    """Every value but the codes that were made and the marks of precision has its source cell, and the other way about."""
    _, _, result = mapped(tmp_path, name)
    stored = {cell for cell, outcome in result.account.outcomes.items() if outcome == "stored"}
    sources = {cell for cells in result.account.sources.values() for cell in cells}
    assert stored <= sources
    values = Counter(
        row.sheet
        for row in result.checked.rows
        for field in row.values
        if field not in {"case_id", "patient_id", "date_precision"}
    )
    fields = Counter(sheet for sheet, _, field in result.account.sources if field not in {"case_id", "patient_id"})
    nominal = sum(row.values.get("date_precision") == "month" for row in result.checked.rows)
    assert fields["patients"] == values["patients"]
    assert values["reviews"] - nominal <= fields["reviews"] <= values["reviews"]


def test_a_word_without_meaning_is_refused_by_its_cells_and_nothing_else_is(tmp_path):
    path, _, result = mapped(tmp_path, "american", edit=False)
    rows = list(openpyxl.load_workbook(path)["Data"].iter_rows(min_row=3))
    expected = {cell.coordinate for row in rows for cell in row if cell.value in {"trace", "CF"}}
    assert {problem.address for problem in result.account.problems()} == expected


def test_what_is_refused_is_queried_on_its_row(tmp_path):
    _, _, result = mapped(tmp_path, "american", edit=False)
    queries = [query for query in result.checked.queries if query.query_id == "refused_cells"]
    assert sum(int(re.findall(r"\d+", query.says)[-1]) for query in queries) == len(result.account.problems())


def test_reviews_known_by_month_are_marked_and_queried_once_a_load(tmp_path):
    _, _, result = mapped(tmp_path, "months")
    [query] = [query for query in result.checked.queries if query.query_id == "nominal_dates"]
    nominal = [row for row in result.checked.rows if row.values.get("date_precision") == "month"]
    assert query.says.startswith(f"{len(nominal)} reviews of this load are on a nominal day")
    assert len(nominal) == sum(row.sheet == "reviews" for row in result.checked.rows)


def test_names_and_numbers_are_nowhere_in_the_mapping(tmp_path):
    for name in ("wide", "export"):
        path, read, _ = mapped(tmp_path, name)
        text = (tmp_path / f"{name}.toml").read_text(encoding="utf-8")
        column = 1 if name == "wide" else 0
        for row in range(4 if name == "wide" else 1, len(read[0].grid)):
            cell = read[0].cell(row, column)
            assert not cell or str(cell) not in text, path


# ------------------------------------------------------------------ another sheet than the mapping was made for


def refit(tmp_path, name, change):
    """The sheet with something changed after its mapping was made; what the mapping then gives."""
    path, _, _ = mapped(tmp_path, name)
    change(path)
    return map_rows(
        read_foreign(path),
        read_mapping(tmp_path / f"{name}.toml", PROTOCOL).mapping,
        LoadContext(PROTOCOL, AS_OF, HeldRows()),
    )


def test_a_column_that_has_moved_is_refused(tmp_path):
    def swap(path):
        lines = path.read_text(encoding="latin-1").splitlines()
        lines[0] = lines[0].replace("MRD2 RA;MRD2 LA", "MRD2 LA;MRD2 RA")
        path.write_text("\n".join(lines), encoding="latin-1")

    with pytest.raises(DataRefused, match="made for another sheet") as refused:
        refit(tmp_path, "export", swap)
    assert [problem.address for problem in refused.value.problems] == ["J1", "K1"]


def test_rows_below_the_mapped_ones_are_refused_not_lost(tmp_path):
    def add(path):
        lines = path.read_text(encoding="utf-8").splitlines()
        path.write_text("\n".join([*lines, lines[-1].replace("20,", "21,", 1)]) + "\n", encoding="utf-8")

    result = refit(tmp_path, "months", add)
    below = [problem for problem in result.account.problems() if problem.row == 22]
    assert len(below) > 5
    assert all("lies below the last row of the mapping" in problem.what for problem in below)


def test_a_sheet_that_is_gone_is_refused(tmp_path):
    def remove(path):
        book = openpyxl.load_workbook(path)
        del book["Verlauf"]
        book.save(path)

    with pytest.raises(DataRefused) as refused:
        refit(tmp_path, "german", remove)
    assert "no such sheet" in refused.value.reasons[0]


def test_a_later_course_is_joined_to_the_cases_that_the_register_holds(tmp_path):
    """Only the sheet of courses, loaded after the lids: K07 is written k07 in it, and no case is stored again."""
    _, _, first = mapped(tmp_path, "german")
    held = {}
    for row in first.checked.rows:
        if row.sheet in {"patients", "reconstructions"}:
            held.setdefault(row.sheet, {})[row.key] = row.values
    path = tmp_path / "german.xlsx"
    book = openpyxl.load_workbook(path)
    for name in ("Lider", "Komplikationen", "Legende"):
        del book[name]
    book.save(tmp_path / "course.xlsx")
    read = read_foreign(tmp_path / "course.xlsx")
    guess = guess_mapping(read, PROTOCOL, as_of=AS_OF)
    result = map_rows(read, guess.mapping, LoadContext(PROTOCOL, AS_OF, HeldRows(held)))
    reviews = [row.values for row in result.checked.rows if row.sheet == "reviews"]
    assert len(reviews) == 50
    assert [row.sheet for row in result.checked.rows if row.sheet != "reviews"] == []
    assert "K07" in {row["case_id"] for row in reviews}


def test_an_outside_table_of_acuity_is_read():
    """The chart printed for authors (J. Holladay, modified): feet, metres, decimal and logMAR of one line each; two decimals."""
    chart = [
        (20, 6.0, 1.00, 0.00),
        (25, 7.5, 0.80, 0.10),
        (30, 9.0, 0.67, 0.18),
        (40, 12.0, 0.50, 0.30),
        (50, 15.0, 0.40, 0.40),
        (60, 18.0, 0.33, 0.48),
        (70, 21.0, 0.29, 0.54),
        (80, 24.0, 0.25, 0.60),
        (100, 30.0, 0.20, 0.70),
        (200, 60.0, 0.10, 1.00),
    ]
    field, rule = PROTOCOL.field("reconstructions", "fellow_logmar"), ColumnRule(1, "VA", "fellow_logmar")
    reader = CellReader(Mapping(()), AS_OF, decimal_comma=True)
    for feet, metres, decimal, logmar in chart:
        for cell, how in (
            (f"20/{feet}", ""),
            (f"6/{metres:g}", ""),
            (decimal, "decimal acuity"),
            (str(decimal).replace(".", ","), "decimal acuity"),
        ):
            value = field.read(reader.read(field, cell, replace(rule, read=how)).value, as_of=AS_OF).value
            assert value == pytest.approx(logmar, abs=0.0065), (cell, how)


def test_a_cell_merged_over_the_visits_of_a_case_is_of_each_and_counted_once(tmp_path):
    """The American sheet with each case's codes merged down over its visits, which gives the same rows and refusals."""
    path, _, plain = mapped(tmp_path, "american", edit=False)
    book = openpyxl.load_workbook(path)
    sheet = book["Data"]
    starts = [row for row in range(3, sheet.max_row) if sheet.cell(row, 1).value and sheet.cell(row, 10).value]
    ends = [*(start - 1 for start in starts[1:]), starts[-1] + 2]
    for start, end in zip(starts, ends, strict=True):
        last = max(row for row in range(start, end + 1) if sheet.cell(row, 10).value)
        for column in range(1, 10):
            if last > start:
                sheet.merge_cells(start_row=start, end_row=last, start_column=column, end_column=column)
    book.save(tmp_path / "merged.xlsx")
    read = read_foreign(tmp_path / "merged.xlsx")
    mapping = read_mapping(tmp_path / "american.toml", PROTOCOL).mapping
    result = map_rows(read, mapping, LoadContext(PROTOCOL, AS_OF, HeldRows(), {}))
    assert [row.values for row in result.checked.rows] == [row.values for row in plain.checked.rows]
    assert result.account.counts() == plain.account.counts()
    assert [each.address for each in result.account.problems()] == [each.address for each in plain.account.problems()]
