"""How long do the commands take? `python tests/benchmark.py` prints figures and ratios; nothing here passes or fails."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
REPEATS = 5
PATIENT = (
    "--age",
    "72",
    "--defect-width",
    "20",
    "--lid-width",
    "30",
    "--depth",
    "full thickness",
    "--laxity",
    "6",
    "--fellow-vision",
    "0.1",
)
WITH_PROJECT = {**os.environ, "PYTHONPATH": str(ROOT)}


def seconds(*arguments: str, folder: Path, repeats: int = 1) -> float:
    """The median time of a whole command, from start to end of its process."""
    spent = []
    for _ in range(repeats):
        begun = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "outcomes.cli", *arguments],
            cwd=folder,
            env=WITH_PROJECT,
            check=True,
            capture_output=True,
        )
        spent.append(time.perf_counter() - begun)
    return sorted(spent)[len(spent) // 2]


def main() -> None:
    """Print the time of each command on the invented clinic, and what it is of the time that was asked for."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        workbook = str(ROOT / "demo" / "invented_clinic.xlsx")
        day = ("--as-of", "2026-06-30")
        seconds("new", folder=folder)
        told = [
            ("outcomes --help", seconds("--help", folder=folder, repeats=REPEATS), 0.4),
            ("load 1,390 rows", seconds("load", workbook, *day, folder=folder), 5.0),
            ("load them again", seconds("load", workbook, *day, folder=folder), 5.0),
            ("due", seconds("due", *day, folder=folder, repeats=REPEATS), 0.7),
            ("show, the page", seconds("show", "VB-427F-L", *day, "--out", "c.html", folder=folder), 3.0),
            ("check", seconds("check", *day, folder=folder), 3.0),
            ("compare with all charts", seconds("compare", *day, "--out", "r", folder=folder), 15.0),
            ("counsel, the sheet", seconds("counsel", *PATIENT, *day, "--out", "s.pdf", folder=folder), 3.0),
            ("freeze", seconds("freeze", "locked", folder=folder), 5.0),
            ("pack", seconds("pack", "--frozen", "locked", *day, "--out", "p", folder=folder), 40.0),
            (
                "pack --own-eyes",
                seconds("pack", "--frozen", "locked", *day, "--for", "own-eyes", "--out", "o", folder=folder),
                40.0,
            ),
        ]
    print(f"{'command':<28} {'seconds':>8} {'asked':>8} {'ratio':>7}")
    for command, spent, asked in told:
        print(f"{command:<28} {spent:>8.2f} {asked:>8.1f} {spent / asked:>7.2f}")


if __name__ == "__main__":
    main()
