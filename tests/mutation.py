"""Plant small faults by program, one at a time, and count those that the tests catch: `python tests/mutation.py cohort`.

Needs `cosmic-ray` (8.7 is known to work), given by --cosmic-ray when it is not on the path; it may lie in an environment of
its own. Works in a copy of the tree. Takes some two seconds a fault: `--sample 20` plants that many in each module.
"""

import argparse
import ast
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
# A room: its modules, each with the tests that should catch a fault in it; {} is the module's own name.
ROOMS = {
    "cohort": [("outcomes/cohort/*.py", "tests/cohort")],
    "statistics": [("outcomes/statistics/*.py", "tests/statistics/test_{}.py")],
    "rule": [
        ("outcomes/findings/decision_rule.py", "tests/findings/test_decision_rule.py tests/findings/test_rule_inputs.py"),
        ("outcomes/findings/families.py", "tests/findings/test_families.py tests/findings/test_rule_inputs.py"),
    ],
    "disclosure": [("outcomes/findings/disclosure/*.py", "tests/findings/disclosure/test_boundaries.py")],
    "checks": [
        (f"outcomes/capture/{name}.py", "tests/capture/test_boundaries.py tests/capture/test_data_queries.py tests/capture/test_refused.py")
        for name in ("chronology", "data_queries", "validation", "cells")
    ],
}  # fmt: skip
# Of the many operators those that plant a fault somebody could make: a boundary, a sign, a negation, a number one off.
PLANTED = {
    "AddNot", "NumberReplacer", "ReplaceTrueWithFalse", "ReplaceFalseWithTrue", "ReplaceAndWithOr", "ReplaceOrWithAnd",
    "ReplaceUnaryOperator_Delete_Not", "ReplaceUnaryOperator_Delete_Invert", "ReplaceUnaryOperator_Delete_USub",
    "ReplaceContinueWithBreak", "ZeroIterationForLoop",
    *(f"ReplaceComparisonOperator_{pair}" for pair in (
        "Lt_LtE", "LtE_Lt", "Gt_GtE", "GtE_Gt", "Lt_GtE", "LtE_Gt", "Gt_LtE", "GtE_Lt", "Eq_NotEq", "NotEq_Eq", "Is_IsNot",
        "IsNot_Is")),
    *(f"ReplaceBinaryOperator_{pair}" for pair in ("Add_Sub", "Sub_Add", "Mul_Div", "Div_Mul", "BitAnd_BitOr", "BitOr_BitAnd")),
}  # fmt: skip


def main() -> None:
    """Plant the faults of the rooms asked for, and tell how many were caught and which were not."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("rooms", nargs="+", choices=ROOMS)
    parser.add_argument("--module", default="", help="only modules whose name holds this")
    parser.add_argument("--sample", type=int, default=0, help="at most so many faults in each module")
    parser.add_argument("--cosmic-ray", default="cosmic-ray")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        shutil.copytree(
            ROOT, tree, ignore=shutil.ignore_patterns(".venv", ".git", "__pycache__", ".hypothesis", ".*_cache")
        )
        for room in asked.rooms:
            counted = Counter()
            for pattern, tests in ROOMS[room]:
                for module in sorted(tree.glob(pattern)):
                    if asked.module in module.stem and module.stem != "__init__":
                        counted += planted(module.relative_to(tree), tests.format(module.stem), tree, asked)
            print(f"{room}: {counted['KILLED']} of {counted.total()} caught", flush=True)


def planted(module: Path, tests: str, tree: Path, asked: argparse.Namespace) -> Counter:
    """How many faults of one module were caught; each that was not is printed."""
    there = [each for each in tests.split() if (tree / each).exists()] or [str(Path(tests).parent)]
    command = f"{sys.executable} -m pytest {' '.join(there)} -x -q -n 0 --tb=no -p no:cacheprovider"
    config, session = tree / "mutation.toml", tree / "mutation.sqlite"
    config.write_text(
        f'[cosmic-ray]\nmodule-path = "{module}"\ntimeout = 120.0\nexcluded-modules = []\ntest-command = "{command}"\n'
        '[cosmic-ray.distributor]\nname = "local"\n'
    )
    session.unlink(missing_ok=True)
    run = [asked.cosmic_ray, "init", str(config), str(session)], [asked.cosmic_ray, "exec", str(config), str(session)]
    environment = {"PATH": "/usr/bin:/bin", "PYTHONPATH": str(tree)}
    subprocess.run(
        command.split(), cwd=tree, env=environment, check=True, capture_output=True
    )  # and all is compiled now
    environment["PYTHONDONTWRITEBYTECODE"] = "1"  # so that no fault is ever taken from what was compiled
    subprocess.run(run[0], cwd=tree, env=environment, check=True, capture_output=True)
    choose(session, (tree / module).read_text(), asked.sample)
    subprocess.run(run[1], cwd=tree, env=environment, check=True, capture_output=True)
    with sqlite3.connect(session) as found:
        rows = found.execute("select test_outcome, diff from work_results order by job_id").fetchall()
    for outcome, diff in rows:
        if outcome != "KILLED":
            changed = [
                line for line in diff.splitlines() if line[:1] in {"+", "-", "@"} and line[:3] not in {"+++", "---"}
            ]
            print(module, outcome, *changed, sep="\n    ", flush=True)
    counted = Counter(outcome for outcome, _ in rows)
    print(f"{module}: {counted['KILLED']} of {counted.total()} caught", flush=True)
    return counted


def choose(session: Path, source: str, sample: int) -> None:
    """Keep the faults worth planting: of the operators above, in what is run, and no more than asked for."""
    lines, idle = source.splitlines(), [part for each in ast.walk(ast.parse(source)) for part in not_run(each)]
    with sqlite3.connect(session) as found:
        asked = "select operator_name, start_pos_row, start_pos_col, occurrence, job_id from mutation_specs"
        kept = [
            job for operator, row, column, _, job in sorted(found.execute(asked).fetchall())
            if operator.removeprefix("core/") in PLANTED
            and not lines[row - 1][column:].startswith("*,")
            and not any((each.lineno, each.col_offset) <= (row, column) <= (each.end_lineno, each.end_col_offset) for each in idle)
        ]  # fmt: skip
        if sample:
            kept = random.Random(1).sample(kept, min(sample, len(kept)))
        for table in ("mutation_specs", "work_items"):
            found.execute(f"delete from {table} where job_id not in ({','.join('?' * len(kept))})", kept)


def not_run(part: ast.AST) -> list[ast.expr]:
    """What no test can see a fault in: annotations, whether a class of values is frozen, whether a zip is strict."""
    if isinstance(part, ast.keyword) and part.arg == "strict":
        return [part.value]
    named = [getattr(part, "annotation", None), getattr(part, "returns", None), *getattr(part, "decorator_list", [])]
    return [each for each in named if each is not None]


if __name__ == "__main__":
    main()
