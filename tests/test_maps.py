"""The generated documentation is what program and protocol say now, and the maps name every command and every room."""

from __future__ import annotations

import gzip
import re

import pytest

from tests.maps import DEVELOPERS, FILES, PARTS, PROGRAM, README, ROOT, program, with_parts


def test_the_program_that_draws_in_a_browser_is_that_of_the_library_in_use() -> None:
    assert gzip.decompress(PROGRAM.read_bytes()) == gzip.decompress(program()), "run: python tests/maps.py"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_generated_files_are_up_to_date(path) -> None:
    assert path.read_text(encoding="utf-8") == FILES[path](), "run: python tests/maps.py"


@pytest.mark.parametrize("path", PARTS, ids=lambda path: path.name)
def test_generated_parts_are_there_and_up_to_date(path) -> None:
    text = path.read_text(encoding="utf-8")
    assert [name for name in PARTS[path] if f"<!-- {name}: begin -->" not in text] == []
    assert with_parts(path) == text, "run: python tests/maps.py"


def test_readme_names_every_command() -> None:
    from outcomes.cli.app import COMMANDS

    text = README.read_text(encoding="utf-8")
    assert [name for name in COMMANDS if f"outcomes {name}" not in text] == []


def test_developers_map_names_every_room() -> None:
    text = DEVELOPERS.read_text(encoding="utf-8")
    rooms = [path.name for path in (ROOT / "outcomes").iterdir() if path.is_dir() and (path / "__init__.py").exists()]
    assert [room for room in rooms if f"{room}/" not in text] == []


@pytest.mark.parametrize("path", [README, DEVELOPERS, *FILES], ids=lambda path: path.name)
def test_links_within_the_project_lead_somewhere(path) -> None:
    links = re.findall(r"\]\(([^)#:]+)\)", path.read_text(encoding="utf-8"))
    assert [link for link in links if not (path.parent / link).exists()] == []


def test_readme_links_the_dictionary_and_the_command_reference() -> None:
    text = README.read_text(encoding="utf-8")
    assert [path.name for path in FILES if f"({path.relative_to(ROOT).as_posix()})" not in text] == []
