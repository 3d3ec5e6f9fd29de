"""Print the SHA-256 of every file that the demo's comparison and congress pack write, to compare before and after a change.

Run: python tests/whole/demo_digests.py > before.txt; a restructuring leaves every line as it was. The committed list,
demo_digests.txt, is rewritten by every commit that changes numbers or wording.
"""

import hashlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def run(folder, *arguments):
    command = [sys.executable, "-m", "outcomes.cli", *arguments]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    subprocess.run(command, cwd=folder, env=environment, check=True, stdout=subprocess.DEVNULL)


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        register = ("--register", "outcomes-demo/demo.duckdb")
        run(folder, "demo")
        run(folder, "freeze", "lock", *register)
        run(folder, "pack", "--for", "public", "--frozen", "lock", "--as-of", "2026-06-30", "--out", "pack", *register)
        for top in ("outcomes-demo/report", "pack"):
            for path in sorted((folder / top).rglob("*")):
                if path.is_file():
                    print(hashlib.sha256(path.read_bytes()).hexdigest(), path.relative_to(folder).as_posix())


if __name__ == "__main__":
    main()
