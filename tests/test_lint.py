"""The code is clean to the linter and the type checker; what they ask is in pyproject.toml."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.mark.parametrize("tool", [["ruff", "check", "--output-format", "concise"], ["mypy"]], ids=["ruff", "mypy"])
def test_the_tool_finds_nothing(tool):
    ran = subprocess.run([sys.executable, "-m", *tool], capture_output=True, text=True, check=False, cwd=ROOT)
    assert ran.returncode == 0, ran.stdout + ran.stderr
