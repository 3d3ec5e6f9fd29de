"""The command makes a pack of a freeze on any day alike, and refuses what it cannot do with a sentence."""

import json
import subprocess
import sys
from datetime import date

import pytest

from outcomes.cli.pack import day_of_lock


def packed(*arguments):
    return subprocess.run(
        [sys.executable, "-m", "outcomes.cli", "pack", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_day_for_which_a_pack_speaks_is_that_of_the_freeze(register):
    assert day_of_lock(register, "spring") == date(2026, 6, 30)


@pytest.mark.parametrize(
    "options, says, code",
    [
        (("--frozen", "autumn"), 'there is no freeze "autumn"', 1),
        (("--frozen", "spring", "--window", "six_month"), 'ou mean "six_months"', 2),
        (("--frozen", "spring", "--from", "yesterday"), "is no date", 2),
        ((), "Missing option", 2),
        (("--frozen", "spring", "--for", "friends"), "Invalid value for '--for'", 2),
        (("--frozen", "spring", "--for", "journal"), "add --approved", 2),
        (("--frozen", "spring", "--for", "journal", "--approved", "Dr Invented agreed"), "a person's name", 2),
        (("--frozen", "spring", "--for", "public", "--approved", "2026/17"), "goes with --for journal only", 2),
    ],
)
def test_what_cannot_be_done_is_refused_with_a_sentence_and_leaves_no_file(register, tmp_path, options, says, code):
    asked = options if "--for" in options else (*options, "--for", "public")
    done = packed("--register", register, "--out", tmp_path / "pack", *asked)
    assert done.returncode == code
    assert says in " ".join(done.stderr.split())
    assert "Traceback" not in done.stderr
    assert not list((tmp_path / "pack").glob("*"))


def test_without_a_purpose_nothing_is_written_where_nobody_can_be_asked(register, tmp_path):
    done = packed("--register", register, "--out", tmp_path / "pack", "--frozen", "spring")
    assert done.returncode == 2
    assert "own-eyes, journal, public" in done.stderr
    assert not (tmp_path / "pack").exists()


@pytest.mark.slow
def test_the_command_writes_the_pack_that_the_program_writes(register, packs, tmp_path):
    part = ["--from", "2017-01-01", "--window", "six_months", "--window", "one_year"]
    for measure in ("margin_position", "notching", "oedema"):
        part.extend(("--measure", measure))
    done = packed(
        "--register",
        register,
        "--frozen",
        "spring",
        "--for",
        "public",
        "--with-data",
        "--out",
        tmp_path / "pack",
        *part,
    )
    assert done.returncode == 0, done.stderr
    both = [
        json.loads((folder / "pack.json").read_text(encoding="utf-8")) for folder in (packs[True], tmp_path / "pack")
    ]
    assert both[0] == both[1]
