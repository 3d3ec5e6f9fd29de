"""Install the program, build the invented clinic's register and compare it: `python3 demo/run.py`, on a computer with only Python.

Everything in it is invented. The report lands in demo/out, which each run makes anew.
"""

import shutil
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / ".ci" / "requirements"))

import install


def main() -> None:
    """Install what is missing, run `outcomes demo`, and say where the report is."""
    python = install.ready_python("run")
    out = install.ROOT / "demo" / "out"
    if out.exists():
        shutil.rmtree(str(out))
    shown = subprocess.run([str(python.with_name("outcomes")), "demo", "--out", str(out)], check=False)
    if shown.returncode:
        sys.exit(shown.returncode)
    for report in sorted(out.rglob("report.html")):
        print(f"The report is {report}: open it in a web browser.")


if __name__ == "__main__":
    main()
