"""Do the two maps tell the truth?"""

from __future__ import annotations

from tests.maps import README, ROOT, with_parts


def test_readme_holds_what_program_and_protocol_say_now() -> None:
    text = README.read_text(encoding="utf-8")
    assert with_parts(text) == text, "run: python tests/maps.py"


def test_readme_names_every_command() -> None:
    from outcomes.cli.app import COMMANDS

    text = README.read_text(encoding="utf-8")
    assert [name for name in COMMANDS if f"outcomes {name}" not in text] == []


def test_developers_map_names_every_room() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rooms = [path.name for path in (ROOT / "outcomes").iterdir() if path.is_dir() and (path / "__init__.py").exists()]
    assert [room for room in rooms if f"{room}/" not in text] == []
