"""The short form of tests/store/kill.py: one kill of each act."""

import subprocess
import sys
from pathlib import Path

import pytest


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="needs fork and SIGKILL")
def test_a_register_is_whole_after_its_program_was_killed():
    script = Path(__file__).with_name("kill.py")
    done = subprocess.run([sys.executable, script, "17"], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert sum(int(line.split()[-1]) for line in done.stdout.splitlines()) == 17
