"""Every room of outcomes/ imports only what it may, and no measure is named outside the protocol.

The two tables below are the rule; DEVELOPERS.md says why. Whatever is in neither table may be imported nowhere, so a
new library is a decision, taken here.
"""

import ast
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "outcomes"

# Which of our rooms each room may import, besides itself. "" is outcomes/__init__.py.
OURS = {
    "": set(),
    "__main__": {"cli"},
    "errors": set(),
    "parallel": set(),
    "lazy_names": set(),
    "encryption": set(),
    "whole_files": set(),
    "statistics": set(),
    "protocol": {"errors"},
    "store": {"protocol", "errors", "encryption", "whole_files", "lazy_names"},
    "capture": {"protocol", "errors"},
    "identity": {"protocol", "errors", "encryption", "whole_files"},
    "cohort": {"protocol", "errors"},
    "findings": {"cohort", "statistics", "protocol", "errors", "parallel", "lazy_names"},
    "report": {"findings", "protocol", "errors", "parallel", "lazy_names"},
    "cli": {"errors", "protocol", "store", "capture", "identity", "findings", "report", "parallel"},
}

# Where each outside library may be imported: a room, or one file of it.
OUTSIDE = {
    "PIL": {"report"},
    "altair": {"report"},
    "cryptography": {"encryption"},
    "docx": {"report"},
    "duckdb": {"store"},
    "fastexcel": {"capture"},
    "jinja2": {"report"},
    "numpy": {"statistics", "findings", "cohort"},
    "polars": {"capture", "cohort", "findings"},
    "pptx": {"report"},
    "pydantic": {"protocol"},
    "pydantic_core": {"protocol"},
    "python_calamine": {"capture"},
    "rich": {"cli", "report/tables/writers/text.py", "report/terminal.py"},
    "scipy": {"statistics"},
    "tomllib": {"protocol", "report/counsel/language.py", "capture/foreign/mapping_file.py"},
    "typer": {"cli"},
    "typst": {"report"},
    "vl_convert": {"report"},
    "xlsxwriter": {"capture"},
}

# What would make `outcomes --help` slow.
HEAVY = {
    "altair",
    "docx",
    "duckdb",
    "numpy",
    "polars",
    "pptx",
    "pydantic",
    "scipy",
    "typst",
    "vl_convert",
    "xlsxwriter",
}

Import = tuple[int, str, bool]  # line, dotted name, whether it happens when the module is imported


def room_of(path: PurePosixPath) -> str:
    """The room that a file of the package belongs to: its first folder, or its own name."""
    return path.parts[0] if len(path.parts) > 1 else path.stem.removeprefix("__init__")


def imports_of(source: str, path: PurePosixPath) -> Iterator[Import]:
    package = ["outcomes", *path.parent.parts]
    tree = ast.parse(source)
    deferred = {
        inner
        for outer in ast.walk(tree)
        if isinstance(outer, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        for inner in ast.walk(outer)
    }
    for node in ast.walk(tree):
        for name in names_imported(node, package):
            yield node.lineno, name, node not in deferred


def names_imported(node: ast.AST, package: list[str]) -> list[str]:
    match node:
        case ast.Import(names=names):
            return [alias.name for alias in names]
        case ast.ImportFrom(module=module, names=names, level=level):
            stem = package[: len(package) - level + 1] if level else []
            whole = ".".join([*stem, *([module] if module else [])])
            return [f"{whole}.{alias.name}" for alias in names]
        case ast.Call(
            func=ast.Name(id="__import__" | "import_module") | ast.Attribute(attr="import_module"),
            args=[ast.Constant(value=str(name)), *_],
        ):
            return [name]
    return []


def import_faults(source: str, path: PurePosixPath) -> list[str]:
    """What a file imports against the rule, as `line: sentence`."""
    return [
        f"{path}:{line}: {fault}"
        for line, name, at_once in imports_of(source, path)
        if (fault := import_fault(name, path, at_once=at_once))
    ]


def import_fault(name: str, path: PurePosixPath, *, at_once: bool) -> str:
    room = room_of(path)
    top, _, rest = name.partition(".")
    if top == "outcomes":
        theirs = rest.partition(".")[0]
        allowed = theirs not in OURS or theirs == room or theirs in OURS[room]
        return "" if allowed else f"{room or 'outcomes'} may not import {theirs}"
    if name.startswith("scipy.stats") and at_once:
        return "scipy.stats takes a second to import: only inside the function that needs it"
    if top in OUTSIDE:
        return "" if OUTSIDE[top] & {room, str(path)} else f"{top} belongs to {', '.join(sorted(OUTSIDE[top]))} only"
    return "" if top in sys.stdlib_module_names else f"{top} is in no table of this test, so it is imported nowhere"


def measure_faults(source: str, path: PurePosixPath, measures: set[str]) -> list[str]:
    """Where code names a measure: as a whole string, or, for a name that is no plain word, anywhere inside one."""
    tree = ast.parse(source)
    prose = {statement.value for statement in ast.walk(tree) if isinstance(statement, ast.Expr)}  # docstrings
    texts = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in prose
    ]
    return [
        f"{path}:{text.lineno}: names the measure {measure}; ask the protocol instead"
        for text in texts
        for measure in sorted(measures)
        if text.value == measure or ("_" in measure and measure in words_of(text.value))
    ]


def words_of(text: str) -> set[str]:
    return set("".join(sign if sign.isalnum() or sign == "_" else " " for sign in text).split())


def measures_of_the_protocol() -> set[str]:
    with (PACKAGE / "protocol" / "default.toml").open("rb") as protocol:
        return {measure["id"] for measure in tomllib.load(protocol)["measures"]}


def files_of_the_package() -> list[tuple[str, PurePosixPath]]:
    found = sorted(PACKAGE.rglob("*.py"))
    return [(file.read_text(encoding="utf-8"), PurePosixPath(file.relative_to(PACKAGE).as_posix())) for file in found]


def test_every_room_imports_only_what_it_may():
    files = files_of_the_package()
    assert len(files) > 1, f"no code found below {PACKAGE}"
    assert [fault for source, path in files for fault in import_faults(source, path)] == []


def test_every_file_belongs_to_a_room_of_the_table():
    assert {room_of(path) for _, path in files_of_the_package()} <= set(OURS)


def test_no_measure_is_named_outside_the_protocol():
    measures = measures_of_the_protocol()
    assert "margin_position" in measures
    assert [fault for source, path in files_of_the_package() for fault in measure_faults(source, path, measures)] == []


@pytest.mark.parametrize("start", ["import outcomes.cli", "import outcomes.cli; outcomes.cli.main()"])
def test_nothing_heavy_is_imported_before_a_command_runs(start):
    code = (
        "import sys\nsys.argv = ['outcomes', '--help']\n"
        f"try:\n    {start}\nexcept SystemExit:\n    pass\nprint('loaded:', *sys.modules)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=PACKAGE.parent)
    _, _, loaded = ran.stdout.rpartition("loaded:")
    assert "outcomes.cli" in loaded.split()
    assert HEAVY & set(loaded.split()) == set()


def test_lists_of_the_clinic_day_load_no_frames_and_no_charts():
    """What `outcomes due` imports: it answers at once, so it reads plain rows and writes plain text."""
    needed = "outcomes.findings.schedule, outcomes.report.schedule_tables, outcomes.report.calendar"
    writers = "outcomes.report.tables.writers.text, outcomes.report.tables.writers.csv"
    code = f"import sys, {needed}, {writers}\nprint(*sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=PACKAGE.parent)
    assert (HEAVY - {"pydantic"}) & set(ran.stdout.split()) == set()


def test_estimators_leave_out_what_numpy_has_for_builders_and_tests_and_spoil_nothing():
    code = (
        "import sys, outcomes.statistics.proportion as estimators, numpy as np\n"
        "print(estimators.special is not None, 'numpy.f2py' in sys.modules, 'numpy.testing' in sys.modules)\n"
        "np.testing.assert_array_equal(np.f2py.__name__, 'numpy.f2py')"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=PACKAGE.parent)
    assert ran.stdout.split() == ["True", "False", "False"]


# The rule itself, shown to be able to fail.


@pytest.mark.parametrize(
    "path, source",
    [
        ("cohort/follow_up.py", "import duckdb"),
        ("cohort/follow_up.py", "import outcomes.store.extract"),
        ("cohort/follow_up.py", "def f():\n    from outcomes.findings import balance"),
        ("store/record.py", "from outcomes import capture"),
        ("store/record.py", "from ..capture import workbook"),
        ("store/record.py", "from .. import capture"),
        ("store/deep/record.py", "from ...capture.workbook import read_workbook"),
        ("statistics/wilson.py", "from outcomes.errors import OutcomesError"),
        ("statistics/wilson.py", "import polars as pl"),
        ("statistics/wilson.py", "import scipy.stats"),
        ("statistics/wilson.py", "from scipy import stats"),
        ("statistics/wilson.py", "from scipy.stats import norm"),
        ("statistics/wilson.py", "class C:\n    from scipy.stats import norm"),
        ("findings/timing.py", "from scipy.special import ndtri"),
        ("report/charts/curve.py", "if TYPE_CHECKING:\n    import polars as pl"),
        ("report/charts/curve.py", "import importlib\nimportlib.import_module('polars')"),
        ("report/charts/curve.py", "import rich.table"),
        ("cli/compare.py", "from outcomes.statistics.wilson import wilson"),
        ("cli/compare.py", "import tomllib"),
        ("capture/prompts.py", "import typer"),
        ("findings/timing.py", "from pydantic.dataclasses import dataclass"),
        ("findings/timing.py", "import pandas as pd"),
        ("findings/timing.py", "from statsmodels.api import OLS"),
        ("errors.py", "import outcomes.protocol"),
        ("__init__.py", "from outcomes.cli import main"),
    ],
)
def test_the_rule_finds_what_breaks_it(path, source):
    assert len(import_faults(source, PurePosixPath(path))) == 1


@pytest.mark.parametrize(
    "path, source",
    [
        ("store/record.py", "import duckdb, datetime\nfrom outcomes.protocol.reading import read_protocol"),
        (
            "protocol/entries.py",
            "from pydantic.dataclasses import dataclass\nfrom pydantic_core import PydanticCustomError",
        ),
        ("store/record.py", "from outcomes import __version__\nfrom .open import connection\nfrom . import migrate"),
        ("statistics/wilson.py", "import numpy as np\nfrom scipy import special\ndef f():\n    import scipy.stats"),
        ("findings/timing.py", "import polars as pl\nfrom outcomes.statistics.wilson import wilson"),
        ("report/tables/writers/text.py", "from rich.table import Table"),
        ("cli/compare.py", "import typer\ndef compare():\n    from outcomes.findings import comparison"),
    ],
)
def test_the_rule_lets_stand_what_keeps_it(path, source):
    assert import_faults(source, PurePosixPath(path)) == []


@pytest.mark.parametrize(
    "source, found",
    [
        ("if measure == 'oedema': ...", 1),
        ("match measure:\n    case 'oedema': ...", 1),
        ("frame.filter(measure='margin_position')", 1),
        ("query = f'select margin_position from {table}'", 1),
        ("'''Why is oedema, or margin_position, in this docstring? It may be.'''", 0),
        ("def f():\n    '''Rank margin_position first.'''", 0),
        ("text = 'the oedema of the lid'", 0),
        ("text = 'margin_positions'", 0),
    ],
)
def test_a_measure_named_in_code_is_found(source, found):
    faults = measure_faults(source, PurePosixPath("findings/timing.py"), {"oedema", "margin_position"})
    assert len(faults) == found
