"""`outcomes check` on the invented clinic: its planted oddities are listed, can be accepted, and stay quiet."""

import csv
import re

import pytest

from tests.cli.running import CLOSED_ON, copied, done, refused


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """The register of the whole invented clinic, loaded from its workbook as a user does."""
    folder = tmp_path_factory.mktemp("check")
    done("new", "--register", folder / "demo.duckdb")
    done("load", "demo/invented_clinic.xlsx", "--register", folder / "demo.duckdb", "--as-of", CLOSED_ON)
    return folder / "demo.duckdb"


@pytest.fixture
def register(whole, tmp_path):
    return copied(whole, tmp_path / "copy")


def listed(register, path):
    done("check", "--register", register, "--as-of", CLOSED_ON, "--out", path)
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_what_was_planted_is_listed(register, tmp_path):
    """The cases of PLANTED.md: a sudden jump, a defect wider than the lid, little tarsus, a late division."""
    rows = listed(register, tmp_path / "queries.csv")
    found = {(row["kind"], row["case"]) for row in rows}
    assert {
        ("jump_margin_position_mm", "VB-624M-L"), ("defect_wider_than_lid", "VB-508R-R"), ("little_tarsus", "VB-601Y-L"),
        ("little_tarsus", "VB-772H-R"), ("unusual_division", "VB-629Y-R"),
    } <= found  # fmt: skip
    assert not any(row["group"] == "assessor" for row in rows)
    assert (tmp_path / "queries-completeness.csv").exists()


def test_the_terminal_groups_them_and_says_what_gaps_cost(register):
    out = " ".join(done("check", "--register", register, "--as-of", CLOSED_ON).out.split())
    for words in (
        "Contradictions: ",
        "Jumps between reviews: 2",
        "Gaps, and what each costs",
        "Completeness of the main measures",
    ):
        assert words in out, words
    assert re.search(r"\d+ queries in 160 cases", out)


def test_an_accepted_query_stays_quiet(register, tmp_path):
    jump = next(row for row in listed(register, tmp_path / "before.csv") if row["kind"].startswith("jump_"))
    assert (
        "is accepted"
        in done(
            "check",
            "--register",
            register,
            "--as-of",
            CLOSED_ON,
            "--accept",
            jump["id"],
            "--reason",
            "seen again",
            "--who",
            "NB",
        ).out
    )
    after = listed(register, tmp_path / "after.csv")
    assert jump["id"] not in {row["id"] for row in after}
    assert "1 query accepted before" in done("check", "--register", register, "--as-of", CLOSED_ON).out
    again = ("check", "--register", register, "--as-of", CLOSED_ON, "--accept", jump["id"], "--reason", "again")
    assert "is accepted already" in refused(*again, code=2)


def test_an_amended_value_settles_its_contradiction(register, tmp_path):
    row = next(row for row in listed(register, tmp_path / "before.csv") if row["kind"] == "lashes_on_rebuilt_margin")
    command = row["settle"].partition(";")[0].split()[1:]
    value = {"VALUE": "100", "...": "misread"}
    done(*(value.get(part, part) for part in command), "--register", register, "--as-of", CLOSED_ON)
    assert row["id"] not in {each["id"] for each in listed(register, tmp_path / "after.csv")}


def test_bad_requests_are_sentences(register, tmp_path):
    asked = ("check", "--register", register, "--as-of", CLOSED_ON)
    assert "is no open query" in refused(*asked, "--accept", "00000000", "--reason", "x", code=2)
    assert "--accept needs --reason" in refused(*asked, "--accept", "00000000", code=2)
    assert "belongs to --accept" in refused(*asked, "--reason", "x", code=2)
    assert "must end in .csv" in refused(*asked, "--out", tmp_path / "a.txt", code=2)


def test_an_empty_register_has_nothing_to_ask_about(tmp_path):
    path = tmp_path / "empty.duckdb"
    done("new", "--register", path)
    assert "Nothing to ask about in 0 cases." in done("check", "--register", path).out
