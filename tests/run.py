"""Run every test, on a computer with only Python: `python3 tests/run.py`.

`--quick` leaves out what is marked slow. Whatever else follows goes to pytest: `python3 tests/run.py -k import_rule`.
"""

import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / ".ci" / "requirements"))

import install


def pytest_arguments(given: list) -> list:
    """What pytest is started with; a whole run is spread over the processors, the tests of one file together."""
    chosen = [argument for argument in given if argument != "--quick"]
    quick = ["-m", "not slow"] if "--quick" in given else []
    spread = [] if chosen else ["-n", "auto", "--maxprocesses", "4", "--dist", "loadfile"]
    return spread + quick + chosen


def main() -> None:
    """Install what is missing, run the tests, and end as pytest does."""
    python = install.ready_python("test")
    command = [str(python), "-m", "pytest", *pytest_arguments(sys.argv[1:])]
    sys.exit(subprocess.run(command, cwd=str(install.ROOT), check=False).returncode)


if __name__ == "__main__":
    main()
