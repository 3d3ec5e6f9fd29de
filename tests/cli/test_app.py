"""Every command explains itself, and every refusal comes as a sentence with its exit code."""

from __future__ import annotations

import os
import subprocess
import sys
from functools import partial
from pathlib import Path

import duckdb
import pytest

from outcomes.cli.app import COMMANDS
from outcomes.store import Patience
from tests.cli.running import done, files_in, outcomes, refused, tiny

ROOT = Path(__file__).resolve().parents[2]
READING = [
    ["compare", "--out", "report"],
    ["history", "C1"],
    ["ask", "two_lids"],
    ["export", "--out", "plain"],
    ["backup", "copy"],
    ["freeze", "spring"],
    ["amend", "C1", "snap_back", "1", "--reason", "typed wrongly"],
    ["withdraw", "P1", "--reason", "asked", "--yes"],
    ["erase", "P1", "--reason", "asked", "--yes"],
]


@pytest.fixture(autouse=True)
def elsewhere(tmp_path, monkeypatch):
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself(command):
    told = done(command, "--help").out
    assert len(told.splitlines()) > 5


@pytest.mark.parametrize("command", ["add", "find", "remove", "rotate", "count"])
def test_every_command_of_the_link_file_explains_itself(command):
    assert "--link-file" in done("link", command, "--help").out


def test_help_lists_every_command():
    told = done("--help").out
    assert [name for name in COMMANDS if f"  {name} " not in told] == []


@pytest.mark.parametrize(
    "wrong",
    [
        [],
        ["nosuch"],
        ["compare"],
        ["compare", "--out", "x", "--nosuch"],
        ["load"],
        ["amend", "C1"],
        ["freeze"],
        ["ask"],
        ["ask", "two_lids", "--sql", "select 1"],
        ["ask", "--sql", "select 1", "--set", "novalue"],
        ["ask", "two_lids", "--out", "answer.doc"],
        ["link"],
        ["link", "count"],
        ["export"],
    ],
)
def test_wrong_usage_ends_with_2(wrong):
    assert outcomes(*wrong).code == 2


@pytest.mark.parametrize("wrong", ["yesterday", "2024-13-01", "05/03/2024", ""])
def test_a_date_that_is_none_is_wrong_usage(wrong, tmp_path):
    told = refused("compare", "--register", tiny(tmp_path), "--out", "x", "--as-of", wrong, code=2)
    assert "--as-of" in told
    assert "2024-03-05" in told


def spoiled(folder: Path) -> dict[str, Path]:
    """Paths that are no register, each with what is wrong about it as its name."""
    whole = tiny(folder / "whole").read_bytes()
    held = {
        "text": b"case_id,patient_id\n",
        "empty": b"",
        "truncated": whole[: len(whole) // 2],
        "beginning": whole[:3000],
        "flipped": whole[:20000] + bytes(each ^ 255 for each in whole[20000:20100]) + whole[20100:],
    }
    for name, content in held.items():
        (folder / name).write_bytes(content)
    duckdb.connect(str(folder / "other")).execute("create table x (y integer)").close()
    (folder / "directory").mkdir()
    return {name: folder / name for name in (*held, "other", "directory", "missing")}


@pytest.mark.parametrize("command", READING, ids=lambda command: command[0])
def test_what_is_no_register_is_refused_with_a_sentence_and_left_alone(command, tmp_path):
    for name, path in spoiled(tmp_path).items():
        before = path.read_bytes() if path.is_file() else None
        told = refused(*command, "--register", path)
        assert str(path) in told or path.name in told, (name, told)
        assert len(told.split()) > 5, (name, told)
        assert not path.is_file() or path.read_bytes() == before, name
    assert list(Path().iterdir()) == []


def test_a_file_is_not_made_into_a_register(tmp_path):
    path = tmp_path / "notes.txt"
    path.write_text("mine")
    assert "is there already" in refused("new", "--register", path)
    assert path.read_text() == "mine"


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written_is_told(tmp_path):
    register = tiny(tmp_path / "closed")
    register.parent.chmod(0o500)
    try:
        told = refused("amend", "C1", "snap_back", "1", "--reason", "x", "--register", register)
        assert "may not be" in told
    finally:
        register.parent.chmod(0o700)


def test_out_that_cannot_be_is_told(tmp_path):
    register = tiny(tmp_path / "r")
    (tmp_path / "file").write_text("x")
    for command in (["compare", "--out", tmp_path / "file"], ["ask", "two_lids", "--out", tmp_path / "no" / "a.csv"]):
        told = refused(*command, "--register", register, code=2)
        assert "--out" in told
    refused("export", "--out", tmp_path / "file", "--register", register)
    refused("backup", tmp_path / "file", "--register", register)
    assert (tmp_path / "file").read_text() == "x"


def test_a_busy_register_is_told_with_who_holds_it(tmp_path, monkeypatch):
    register = tiny(tmp_path)
    before = files_in(tmp_path)
    hold = (
        "import duckdb, sys, time; con = duckdb.connect(sys.argv[1]); con.execute('begin'); print('held', flush=True); "
        "sys.stdin.read()"
    )
    monkeypatch.setattr("outcomes.store.Patience", partial(Patience, 0.3))
    with subprocess.Popen(
        [sys.executable, "-c", hold, str(register)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        for command in READING:
            told = refused(*command, "--register", register)
            assert f"PID {holder.pid}" in told, (command, told)
            assert "waiting up to 0.3 seconds" in told, (command, told)
        holder.communicate("")
    assert files_in(tmp_path) == before


def test_the_register_may_be_named_by_the_environment(tmp_path):
    register = tiny(tmp_path)
    assert "3 cases" in done("backup", tmp_path / "copy", OUTCOMES_REGISTER=str(register)).out


def test_the_program_runs_as_a_module():
    ran = subprocess.run(
        [sys.executable, "-m", "outcomes.cli", "--version"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert ran.stdout.startswith("outcomes ")
