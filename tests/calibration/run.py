"""Coverage of the intervals and power of the verdicts. On a computer with only Python: `python3 tests/calibration/run.py`.

Takes about an hour on one idle processor. `--cores 2` halves that; `--registers 200` simulates at most so many registers of each
situation; `--only WORD` runs the parts whose name has the word. Writes RESULT.md and SUMMARY.md beside itself, unless only
some parts were run.
"""

import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent / ".ci" / "requirements"))

import install


def main() -> None:
    """Install what is missing, run the simulations, and end as they do."""
    python = install.ready_python("test")
    command = [str(python), "-m", "tests.calibration", *sys.argv[1:]]
    sys.exit(subprocess.run(command, cwd=str(install.ROOT), check=False).returncode)


if __name__ == "__main__":
    main()
