"""`link` keeps code and number apart from the register, and its passphrase out of every argument."""

from __future__ import annotations

import pytest

from tests.cli.running import done, files_in, outcomes, refused, tiny

PHRASE = {"OUTCOMES_LINK_PASSPHRASE": "four words are enough"}


@pytest.fixture
def link(tmp_path):
    (tmp_path / "elsewhere").mkdir()
    path = tmp_path / "elsewhere" / "links"
    done("link", "add", "P1", "--link-file", path, typed="H-0001\n", **PHRASE)
    return path


def test_a_code_and_a_number_are_found_both_ways(link):
    assert done("link", "find", "P1", "--link-file", link, **PHRASE).out == "H-0001\n"
    assert done("link", "find", "--number", "--link-file", link, typed="H-0001\n", **PHRASE).out == "P1\n"
    assert done("link", "count", OUTCOMES_LINK_FILE=str(link), **PHRASE).out == "1 linked.\n"


def test_a_link_is_removed_and_the_passphrase_changed(link):
    done("link", "rotate", "--link-file", link, OUTCOMES_LINK_NEW_PASSPHRASE="four other words then", **PHRASE)
    assert "passphrase is wrong" in refused("link", "count", "--link-file", link, **PHRASE)
    new = {"OUTCOMES_LINK_PASSPHRASE": "four other words then"}
    assert "0 in the file" in done("link", "remove", "P1", "--link-file", link, **new).out
    assert "no study code" in refused("link", "find", "P1", "--link-file", link, **new)


def test_a_passphrase_is_needed_and_is_never_an_argument(link):
    assert "OUTCOMES_LINK_PASSPHRASE" in refused("link", "count", "--link-file", link, code=2)
    assert outcomes("link", "count", "--link-file", link, "--passphrase", "x", **PHRASE).code == 2
    assert outcomes("link", "add", "P2", "H-0002", "--link-file", link, **PHRASE).code == 2
    assert "--link-file" in refused("link", "count", code=2, **PHRASE)


def test_the_number_is_not_repeated_in_a_refusal(link):
    told = refused("link", "add", "P2", "--link-file", link, typed="H-0001\n", **PHRASE)
    assert "H-0001" not in told
    assert "printable" in refused("link", "add", "P2", "--link-file", link, typed="", **PHRASE)


def test_no_command_of_the_register_touches_the_link_file(link, tmp_path):
    register = tiny(tmp_path / "kept")
    before = link.read_bytes()
    found = {"OUTCOMES_LINK_FILE": str(link), **PHRASE}
    done("freeze", "spring", "--register", register, **found)
    done("backup", tmp_path / "copy", "--register", register, **found)
    done("export", "--out", tmp_path / "plain", "--register", register, **found)
    written = {**files_in(tmp_path / "kept"), **files_in(tmp_path / "plain"), "copy": (tmp_path / "copy").read_bytes()}
    for content in written.values():
        assert b"OUTCOMES LINK" not in content
        assert before not in content
    assert link.read_bytes() == before


@pytest.mark.parametrize("code", ["Mrs Smith", "Jane Wood", "0123 456 7890", "01.02.1950"])
def test_what_is_no_study_code_is_refused(link, code):
    before = link.read_bytes()
    said = refused("link", "add", code, "--link-file", link, typed="H-0009\n", code=2, **PHRASE)
    assert "looks like" in said
    assert code not in said
    assert link.read_bytes() == before
