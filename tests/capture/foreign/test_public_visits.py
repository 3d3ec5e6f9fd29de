"""A public set of repeated clinical visits comes through mapping and checks with the totals of the package that ships it.

The set is the epilepsy trial of Thall & Vail (Biometrics 1990;46:657-671), 59 patients with four visits each, as the tests of
statsmodels carry it. It has no dates and no lids: days, sides and a diagnosis are added, and its counts go to a percentage,
only to have a number of the same kind; nothing clinical is meant.
"""

import csv
from collections import Counter
from datetime import date, timedelta
from pathlib import Path

import pytest
import statsmodels

from outcomes.capture import HeldRows
from outcomes.capture.foreign import LoadContext, guess_mapping, map_rows, read_foreign, read_mapping, write_mapping
from outcomes.protocol import default_protocol

AS_OF = date(2026, 6, 30)
SET = Path(statsmodels.__file__).parent / "genmod" / "tests" / "results" / "epil.csv"


@pytest.fixture(scope="module")
def rows():
    with SET.open(newline="") as table:
        return list(csv.DictReader(table))


def test_totals_are_those_of_the_package(tmp_path, rows):
    operated, divided = date(2020, 1, 1), date(2020, 1, 22)
    path = tmp_path / "visits.csv"
    with path.open("w", newline="") as table:
        writer = csv.writer(table, delimiter=";")
        writer.writerow(
            ["case", "eye", "age", "date of surgery", "tumour", "anterior lamella", "division", "visit date", "count"]
        )
        for row in rows:
            seen = divided + timedelta(days=14 * int(row["period"]))
            writer.writerow(
                [
                    f"S{row['subject']}",
                    "R",
                    row["age"],
                    f"{operated:%d.%m.%Y}",
                    "benign",
                    row["trt"],
                    f"{divided:%d.%m.%Y}",
                    f"{seen:%d.%m.%Y}",
                    row["y"],
                ]
            )
    sheets, protocol = read_foreign(path), default_protocol()
    file = tmp_path / "map.toml"
    write_mapping(file, path.name, guess_mapping(sheets, protocol, as_of=AS_OF))
    text = file.read_text()
    for before, after in (
        ('"placebo" = "?"', '"placebo" = "graft"'),
        ('"progabide" = "?"', '"progabide" = "advancement"'),
        ('heading = "count", to = "unmapped"', 'heading = "count", to = "lash_loss_percent"'),
    ):
        assert text.count(before) == 1, text
        text = text.replace(before, after)
    file.write_text(text)
    result = map_rows(sheets, read_mapping(file, protocol).mapping, LoadContext(protocol, AS_OF, HeldRows()))
    stored = {
        sheet: [row.values for row in result.checked.rows if row.sheet == sheet]
        for sheet in ("reconstructions", "reviews")
    }
    assert len(stored["reconstructions"]) == len({row["subject"] for row in rows}) == 59
    assert len(stored["reviews"]) == len(rows) == 236
    cover = {"placebo": "graft", "progabide": "advancement"}
    of_case = {row["case_id"]: row["cover"] for row in stored["reconstructions"]}
    assert Counter(of_case.values()) == Counter(cover[trt] for _, trt in {(row["subject"], row["trt"]) for row in rows})
    total, expected = Counter(), Counter()
    for row in stored["reviews"]:
        period = (row["reviewed_on"] - divided).days // 14
        total[of_case[row["case_id"]], period] += int(row.get("lash_loss_percent", 0))
    beyond = [row for row in rows if int(row["y"]) > 100]
    for row in rows:
        expected[cover[row["trt"]], int(row["period"])] += int(row["y"]) if row not in beyond else 0
    assert total == expected
    assert [problem.what for problem in result.account.problems()] == [
        f'"{row["y"]}": must be a number from 0 to 100%' for row in beyond
    ]
