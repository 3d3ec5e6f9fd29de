"""The program as it may be tomorrow: a copy of this one with one migration more, run as a process of its own."""

import shutil
import subprocess
import sys
from pathlib import Path

from outcomes.store.schema import newest_schema

ROOT = Path(__file__).resolve().parents[2]
NUMBER = newest_schema() + 1
MIGRATION = """-- Grain: one column more, which no protocol asks for yet.
alter table patients add column dominant_eye varchar;
alter table reviews add column lamp varchar;
create table notes (change integer, says varchar);
"""


def build(folder):
    """The folder holds tomorrow's program."""
    shutil.copytree(ROOT / "outcomes", folder / "outcomes", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(ROOT / "queries", folder / "queries")
    shutil.copytree(ROOT / "tests" / "store", folder / "tests" / "store", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "tests" / "__init__.py", folder / "tests")
    shutil.copy(ROOT / "pyproject.toml", folder)
    (folder / "queries" / "schema" / f"{NUMBER:04}_tomorrow.sql").write_text(MIGRATION)
    return folder


def command(folder, script, *arguments):
    """The command that runs a script in that program."""
    start = "import sys; from pathlib import Path; from tests.store.clinic import *; from outcomes.store import *\n"
    start += "from outcomes.errors import OutcomesError\npath = Path(sys.argv[1])\n"
    return {"args": [sys.executable, "-c", start + script, *map(str, arguments)], "cwd": folder, "text": True}


def told(folder, script, *arguments):
    """What a script prints in that program."""
    done = subprocess.run(**command(folder, script, *arguments), capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()
