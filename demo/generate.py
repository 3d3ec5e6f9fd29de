"""Write the invented clinic's workbook, and what was planted in it in numbers and in words.

    python -m demo.generate

writes invented_clinic.xlsx, planted.json and PLANTED.md beside this file. The same seed always gives the
same three files, byte for byte. Nobody and nothing in them is real.
"""

import json
from pathlib import Path

from demo.clinic.arranged import Arrangements, arranged, fellow_cannot_serve, people_of, sudden_jump
from demo.clinic.examinations import examinations
from demo.clinic.happenings import happenings
from demo.clinic.lids import Lid, lids
from demo.clinic.people import Row, people
from demo.clinic.planted import planted
from demo.clinic.sheet import in_columns, write_workbook
from demo.clinic.truth import THE_CLINIC, Truth
from demo.clinic.words import in_words

HERE = Path(__file__).parent
SEED = 20260630

Register = dict[str, list[Row]]


def rows_of(seed: int, made: list[Lid], truth: Truth) -> Register:
    """The four sheets as rows, for lids that are made already."""
    events = {one.row["case_id"]: happenings(seed, one, truth) for one in made}
    recurred = {
        case: next((row["happened_on"] for row in rows if row["kind"] == "recurrence"), None)
        for case, rows in events.items()
    }
    return {
        "patients": [who.row for who in people_of(made)],
        "reconstructions": [one.row for one in made],
        "reviews": [row for one in made for row in examinations(seed, one, recurred[one.row["case_id"]], truth)],
        "events": [row for rows in events.values() for row in rows],
    }


def tidy(register: Register) -> Register:
    """Every row with every column of its sheet."""
    return {sheet: [in_columns(sheet, row) for row in rows] for sheet, rows in register.items()}


def register(seed: int, truth: Truth) -> Register:
    """An invented register in which `truth` is true, with nothing arranged by hand."""
    return tidy(rows_of(seed, lids(seed, people(seed, truth), truth), truth))


def arranged_clinic(seed: int) -> tuple[Register, Arrangements]:
    """The invented clinic, and which case tells which arranged story."""
    arrangements = arranged(seed, lids(seed, people(seed, THE_CLINIC), THE_CLINIC), THE_CLINIC)
    made = rows_of(seed, arrangements.lids, THE_CLINIC)
    fellow_cannot_serve(arrangements.lids, made["reviews"], arrangements)
    sudden_jump(made["reviews"], arrangements)
    return tidy(made), arrangements


def clinic(seed: int = SEED) -> Register:
    """The four sheets of the invented clinic."""
    return arranged_clinic(seed)[0]


def main(folder: Path = HERE) -> None:
    """Write the workbook and what was planted in it."""
    made, arrangements = arranged_clinic(SEED)
    effects = planted(THE_CLINIC, arrangements.lids, made, arrangements.cases)
    write_workbook(made, folder / "invented_clinic.xlsx")
    (folder / "planted.json").write_text(json.dumps(effects, indent=1) + "\n", encoding="utf-8")
    (folder / "PLANTED.md").write_text(in_words(effects), encoding="utf-8")


if __name__ == "__main__":
    main()
