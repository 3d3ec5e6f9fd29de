"""What a command writes is there whole or not at all: on a disk that is full, nothing is left and nothing is in the way again."""

import shutil
import subprocess
import sys

import pytest

from tests.cli.running import CLOSED_ON, tiny

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs a limit on the size of files"),
]

PATIENT = ("--age", "74", "--defect-width", "18", "--lid-width", "30", "--depth", "full", "--laxity", "8")
FULL = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv.pop(1)),) * 2)
from outcomes.cli import main
main()
"""


@pytest.fixture(scope="module")
def held(tmp_path_factory):
    return tiny(tmp_path_factory.mktemp("held"))


@pytest.mark.parametrize(
    "arguments, out",
    [
        (("template", "sheet.xlsx"), "sheet.xlsx"),
        (("template", "sheet.pdf", "--case", "C1"), "sheet.pdf"),
        (("show", "C1", "--out", "case.html"), "case.html"),
        (("check", "--out", "queries.csv"), "queries.csv"),
        (("compare", "--no-charts", "--out", "report"), "report"),
        (("counsel", *PATIENT, "--out", "sheet.html"), "sheet.html"),
    ],
)
def test_a_full_disk_leaves_nothing_and_the_next_try_succeeds(held, tmp_path, arguments, out):
    register = shutil.copy(held, tmp_path / "register.duckdb")
    shutil.copy(f"{held}.head", f"{register}.head")
    as_of = () if arguments[0] == "template" else ("--as-of", CLOSED_ON)
    before = {each.name for each in tmp_path.iterdir()}

    def ran(limit):
        command = [sys.executable, "-c", FULL, str(limit), *arguments, *as_of, "--register", str(register)]
        return subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)

    refused = ran(200)
    assert "written" in refused.stderr, refused
    assert "Traceback" not in refused.stderr
    assert {each.name for each in tmp_path.iterdir()} == before
    done = ran(10**9)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / out).exists()
