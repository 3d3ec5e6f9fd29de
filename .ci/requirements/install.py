"""Make the checkout's .venv hold the exact versions listed beside this file, unless it does already.

Both demo/run.py and tests/run.py begin here, on a computer that has nothing but Python. Standard library only, and
written so that a Python too old for the project still reads the file and gets as far as being told so: annotations
are plain names, and nothing newer than Python 3.6 runs before `check_python`.
"""

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
OLDEST = (3, 11)
# Which lists stand behind a name: whoever has the tests' libraries has the program's too.
LISTS = {"run": ["run"], "test": ["run", "test"]}
UNREACHABLE = ("NewConnectionError", "ConnectTimeout", "ReadTimeout", "ProxyError", "connection broken", "resolve")


def ready_python(pins: str, root: Path = ROOT) -> Path:
    """Return the .venv's Python once everything in `requirements/<pins>.txt` and the project itself are installed.

    Ends the program with a sentence that says what to do where that is not possible; the next run then takes up
    the work, and makes anew what was left half made.
    """
    check_python(sys.version_info[:2])
    folder = root / ".venv"
    try:
        whole = is_whole(folder)
        if not (whole and digest(pins, root) in installed(folder)):
            if not whole:
                make_folder(folder)
            install(folder, pins, root)
    except KeyboardInterrupt:
        raise SystemExit("Stopped. The next run takes it up again.") from None
    return python_of(folder)


def check_python(version: tuple) -> None:
    """End the program where this Python is too old for the project."""
    if version < OLDEST:
        raise SystemExit(
            f"This is Python {version[0]}.{version[1]}; the project needs Python {OLDEST[0]}.{OLDEST[1]} or newer. "
            f"Install a newer Python, then start the same command with it, for example: python3.13 {sys.argv[0]}"
        )


def check_venv_module() -> None:
    """End the program where this Python cannot make a virtual environment."""
    missing = [name for name in ("venv", "ensurepip") if importlib.util.find_spec(name) is None]
    if missing:
        raise SystemExit(
            f"This Python comes without its module {' and '.join(missing)}, so no .venv can be made. On Debian or "
            f"Ubuntu: sudo apt-get install python3-venv. Elsewhere: install a full Python {OLDEST[0]}.{OLDEST[1]} or "
            "newer. Then run the same command again."
        )


def python_of(folder: Path) -> Path:
    """Where a virtual environment keeps its Python on this system."""
    return folder / "Scripts" / "python.exe" if os.name == "nt" else folder / "bin" / "python"


def digest(pins: str, root: Path) -> str:
    """Everything that an installation depends on, in one line: the lists, and the project's own settings."""
    listed = [root / ".ci" / "requirements" / f"{name}.txt" for name in LISTS[pins]]
    summed = hashlib.sha256(b"".join(part.read_bytes() for part in [root / "pyproject.toml", *listed]))
    return f"{pins} {summed.hexdigest()}"


def stamp(folder: Path) -> Path:
    """The file that says what was last installed, a digest a line; empty for as long as something is under way."""
    return folder / "installed.txt"


def installed(folder: Path) -> list:
    """The digests of what was last installed; none where nothing was, or not by these scripts."""
    return stamp(folder).read_text(encoding="utf-8").splitlines() if stamp(folder).exists() else []


def is_whole(folder: Path) -> bool:
    """Whether the folder is a virtual environment of this Python that starts, has pip, and was not left half made."""
    interrupted = stamp(folder).exists() and not installed(folder)
    if interrupted or not python_of(folder).exists():
        return False
    probe = "import importlib.util as u, sys; print(*sys.version_info[:2], u.find_spec('pip') is not None)"
    try:
        said = subprocess.run([str(python_of(folder)), "-c", probe], capture_output=True, text=True, check=False)
    except OSError:
        return False
    return said.stdout.split() == [str(sys.version_info[0]), str(sys.version_info[1]), "True"]


def make_folder(folder: Path) -> None:
    """Make the virtual environment anew, in place of whatever lies there."""
    check_venv_module()
    print(f"Making {folder} ...", flush=True)
    try:
        if folder.exists():
            shutil.rmtree(str(folder))
        folder.mkdir()
        stamp(folder).touch()
    except OSError as problem:
        raise SystemExit(
            f"{folder} could not be made ({problem}). Close every program that uses it, delete it, see that you may "
            "write here, and run the same command again."
        ) from problem
    # Where this was started from inside the .venv, the Python that made it is the one still there.
    maker = getattr(sys, "_base_executable", sys.executable)
    made = subprocess.run([maker, "-m", "venv", str(folder)], capture_output=True, text=True, check=False)
    if made.returncode:
        raise SystemExit(f"{made.stdout}{made.stderr}\n{folder} could not be made; the lines above say why.")


def install(folder: Path, pins: str, root: Path) -> None:
    """Install the exact versions, then the project as an editable checkout; pip's own settings decide from where."""
    stamp(folder).write_text("", encoding="utf-8")
    listed = root / ".ci" / "requirements" / f"{pins}.txt"
    print(f"Installing what {listed} lists (the first time some 300 MB, a few minutes) ...", flush=True)
    try:
        pip(folder, ["-r", str(listed)], listed)
        pip(folder, ["--no-deps", "--no-build-isolation", "--editable", str(root)], listed)
    except SystemExit:
        # pip ended by itself and so left nothing half done: the folder can be used again.
        stamp(folder).write_text("nothing", encoding="utf-8")
        raise
    stamp(folder).write_text("\n".join(digest(name, root) for name in LISTS[pins]), encoding="utf-8")


def pip(folder: Path, what: list, listed: Path) -> None:
    """Run `pip install`, and say in a sentence why it failed."""
    # --no-user: a computer whose pip is set to install for the user alone would refuse to fill a .venv.
    options = ["--quiet", "--no-input", "--no-user", "--disable-pip-version-check"]
    command = [str(python_of(folder)), "-m", "pip", "install", *options, *what]
    ran = subprocess.run(command, stderr=subprocess.PIPE, text=True, errors="replace", check=False)
    if ran.returncode:
        sys.stderr.write(ran.stderr)
        raise SystemExit(reason(ran.stderr, listed))


def reason(said: str, listed: Path) -> str:
    """What to do about a failure of pip, read from what it said."""
    if any(sign in said for sign in UNREACHABLE):
        return (
            "The libraries could not be fetched: the package index that pip uses did not answer. Check the network, "
            "or pip's settings (pip config list) where your hospital keeps an index or a proxy of its own; then run "
            "the same command again."
        )
    return (
        f"pip could not install the exact versions in {listed}; the lines above say why. If one has no file for this "
        "Python or this system, try Python 3.11, 3.12 or 3.13; then run the same command again."
    )
