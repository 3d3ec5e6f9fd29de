"""demo/run.py and tests/run.py work on a computer with only Python, and say what to do where they cannot."""

import ast
import importlib.metadata
import importlib.util
import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parent.parent
SCRIPTS = ["demo/run.py", "tests/run.py", ".ci/requirements/install.py"]
PIN = re.compile(r"(?P<name>[a-z0-9-]+)==(?P<version>[a-z0-9.]+)( ; sys_platform == \"win32\")?")

# A project that needs nothing to be built and installed, so that these tests need no network.
TINY_PROJECT = """
[project]
name = "tiny"
[build-system]
requires = []
build-backend = "backend"
backend-path = ["."]
"""
TINY_BACKEND = """
import os
import zipfile

def build_editable(folder, settings=None, metadata=None):
    name = "tiny-1-py3-none-any.whl"
    with zipfile.ZipFile(os.path.join(folder, name), "w") as wheel:
        wheel.writestr("tiny-1.dist-info/METADATA", "Metadata-Version: 2.1\\nName: tiny\\nVersion: 1\\n")
        wheel.writestr("tiny-1.dist-info/WHEEL", "Wheel-Version: 1.0\\nRoot-Is-Purelib: true\\nTag: py3-none-any\\n")
        wheel.writestr("tiny-1.dist-info/RECORD", "")
    return name
"""


@pytest.fixture(scope="module")
def install():
    spec = importlib.util.spec_from_file_location("install", ROOT / ".ci" / "requirements" / "install.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def checkout(install, tmp_path_factory):
    """A tiny checkout with a finished .venv that holds a file of its own, which tells whether it was made anew."""
    root = tmp_path_factory.mktemp("checkout")
    (root / "pyproject.toml").write_text(TINY_PROJECT)
    (root / "backend.py").write_text(TINY_BACKEND)
    (root / ".ci" / "requirements").mkdir(parents=True)
    for name in ("run.txt", "test.txt"):
        (root / ".ci" / "requirements" / name).write_text("# nothing\n")
    install.ready_python("test", root)
    return root


@pytest.fixture
def witness(checkout):
    file = checkout / ".venv" / "witness"
    file.touch()
    return file


# An old Python


@pytest.mark.parametrize("script", SCRIPTS)
def test_an_old_python_can_read_the_script(script):
    tree = ast.parse((ROOT / script).read_text(encoding="utf-8"), feature_version=(3, 7))
    annotations = [
        annotation
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef)
        for annotation in [node.returns, *(argument.annotation for argument in node.args.args)]
    ]
    # list[str] and str | None are evaluated when the function is defined, and fail before Python 3.9 and 3.10.
    assert {type(annotation) for annotation in annotations} <= {ast.Name, ast.Constant}
    imported = {
        name.split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in ([node.module] if isinstance(node, ast.ImportFrom) else [alias.name for alias in node.names])
    }
    assert imported <= (sys.stdlib_module_names - {"__future__", "tomllib"}) | {"install"}


@pytest.mark.parametrize("version", [(3, 6), (3, 10)])
def test_an_old_python_is_told_what_to_do(install, version):
    with pytest.raises(SystemExit, match=rf"This is Python 3\.{version[1]}; .* 3\.11 or newer\. Install a newer"):
        install.check_python(version)


def test_this_python_and_a_later_one_will_do(install):
    install.check_python((3, 11))
    install.check_python((4, 0))


# A Python without the modules that make a .venv


@pytest.mark.parametrize("absent", ["venv", "ensurepip"])
def test_a_missing_module_is_named_with_what_to_install(absent):
    code = f"import sys; sys.modules[{absent!r}] = None; import install; install.check_venv_module()"
    ran = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT / ".ci" / "requirements", capture_output=True, text=True, check=False
    )
    assert ran.returncode == 1
    assert f"without its module {absent}," in ran.stderr
    assert "sudo apt-get install python3-venv" in ran.stderr
    assert "Traceback" not in ran.stderr


# Running again


@pytest.mark.slow
def test_a_second_run_starts_no_pip(install, checkout, witness, capfd):
    before = install.stamp(checkout / ".venv").stat().st_mtime_ns
    assert install.ready_python("test", checkout).exists()
    assert install.ready_python("run", checkout).exists()  # the tests' lists hold the program's
    assert install.stamp(checkout / ".venv").stat().st_mtime_ns == before
    assert capfd.readouterr() == ("", "")
    assert witness.exists()


@pytest.mark.slow
def test_changed_pins_are_installed_into_the_same_folder(install, checkout, witness, capfd):
    (checkout / ".ci" / "requirements" / "test.txt").write_text("# nothing, said otherwise\n")
    install.ready_python("test", checkout)
    assert "Installing" in capfd.readouterr().out
    assert witness.exists()


@pytest.mark.slow
def test_a_folder_made_by_other_means_is_kept(install, checkout, witness):
    install.stamp(checkout / ".venv").unlink()
    install.ready_python("test", checkout)
    assert witness.exists()


@pytest.mark.slow
def test_a_half_filled_folder_is_made_anew(install, checkout, witness):
    install.stamp(checkout / ".venv").write_text("")
    install.ready_python("test", checkout)
    assert not witness.exists()
    assert install.is_whole(checkout / ".venv")


@pytest.mark.slow
def test_a_folder_whose_python_is_gone_is_made_anew(install, checkout, witness):
    install.python_of(checkout / ".venv").unlink()
    install.ready_python("test", checkout)
    assert not witness.exists()
    assert install.is_whole(checkout / ".venv")


# No network


@pytest.mark.slow
def test_a_dead_network_is_told_in_a_sentence(install, checkout, witness, capfd, monkeypatch):
    monkeypatch.setenv("PIP_CONFIG_FILE", "")
    monkeypatch.setenv("PIP_INDEX_URL", "http://127.0.0.1:9/")  # nothing answers at this port
    monkeypatch.setenv("PIP_RETRIES", "1")
    pins = checkout / ".ci" / "requirements" / "run.txt"
    kept = pins.read_text()
    pins.write_text("no-such-library-anywhere==1.0\n")
    with pytest.raises(SystemExit, match=r"could not be fetched.*Check the network"):
        install.ready_python("run", checkout)
    assert "Traceback" not in capfd.readouterr().err
    pins.write_text(kept)
    install.ready_python("test", checkout)
    assert witness.exists()


def test_another_failure_of_pip_is_told_otherwise(install):
    said = "ERROR: No matching distribution found for numpy==2.4.6"
    assert "exact versions" in install.reason(said, Path(".ci/requirements/run.txt"))


# The lists


def pinned(*names: str) -> dict[str, str]:
    lines = [
        line
        for name in names
        for line in (ROOT / ".ci" / "requirements" / f"{name}.txt").read_text(encoding="utf-8").splitlines()
        if line and not line.startswith(("#", "-r "))
    ]
    # An exact version and nothing else: no address, no range.
    matches = [PIN.fullmatch(line) for line in lines]
    assert None not in matches, lines[matches.index(None)]
    return {match["name"]: match["version"] for match in matches}


def needed_by(requirements: list[str]) -> set[str]:
    """Every library that these requirements bring, on this system, by following what is installed."""
    waiting, found = [Requirement(text) for text in requirements], set()
    while waiting:
        requirement = waiting.pop()
        name = canonicalize_name(requirement.name)
        if name not in found and (requirement.marker is None or requirement.marker.evaluate({"extra": ""})):
            found.add(name)
            waiting += [Requirement(text) for text in importlib.metadata.requires(name) or []]
    return found


def project() -> dict:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def test_everything_that_the_program_needs_has_an_exact_version():
    settings = project()
    needed = needed_by(settings["project"]["dependencies"] + settings["build-system"]["requires"])
    assert len(needed) > len(settings["project"]["dependencies"])
    assert needed - set(pinned("run")) == set()


def test_everything_that_the_tests_need_has_an_exact_version():
    needed = needed_by(project()["dependency-groups"]["test"])
    assert needed - set(pinned("run", "test")) == set()


def test_the_exact_versions_are_ones_that_the_project_allows():
    settings = project()
    exact = pinned("run")
    asked = [Requirement(text) for text in settings["project"]["dependencies"] + settings["build-system"]["requires"]]
    assert [str(requirement) for requirement in asked if exact[requirement.name] not in requirement.specifier] == []


# The wheel


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(folder)]
    built = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert built.returncode == 0, built.stderr
    with zipfile.ZipFile(next(folder.glob("*.whl"))) as archive:
        yield archive


def files_below(folder: Path, named: str) -> set[str]:
    """The files of a folder of the checkout, by the names that they should have in the wheel."""
    return {
        f"{named}/{file.relative_to(folder).as_posix()}"
        for file in folder.rglob("*")
        if file.is_file() and "__pycache__" not in file.parts
    }


@pytest.mark.slow
def test_the_wheel_holds_the_package_the_queries_and_the_invented_clinic(wheel):
    shipped = {name for name in wheel.namelist() if ".dist-info/" not in name}
    clinic = {"outcomes/demo_data/invented_clinic.xlsx", "outcomes/demo_data/PLANTED.md"}
    queries = files_below(ROOT / "queries", "outcomes/queries")
    assert any(name.endswith(".sql") for name in queries)
    assert shipped == files_below(ROOT / "outcomes", "outcomes") | queries | clinic


@pytest.mark.slow
def test_the_wheel_brings_the_command(wheel):
    entry_points = next(name for name in wheel.namelist() if name.endswith("entry_points.txt"))
    assert "outcomes = outcomes.cli:main" in wheel.read(entry_points).decode()
