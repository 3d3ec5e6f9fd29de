"""`explain` finds as many cases as the number counts, and refuses what it cannot trace."""

import csv
import io
import json
import subprocess
import sys

import pytest

from outcomes.cli.explain import selection_of
from outcomes.findings import case_series
from outcomes.findings.trace.explanation import trace
from outcomes.store import reading_frozen
from tests.report.pack.reading import value_at

COUNTS = ("n", "events", "missing", "not_due", "not_applicable", "seen", "cases", "divided", "grafted", "advanced")


def is_count(address, value):
    parts = address.split(".")
    if parts[0] == "balance":
        return parts[-1] in {"grafted_missing", "advanced_missing"}
    if parts[0] == "timing":
        return parts[-1] == "n"
    return (
        parts[0] in {"findings", "followed_by_window", "congress", "grafted", "advanced"}
        and parts[-1] in COUNTS
        and isinstance(value, int)
    )


def counts_of(folder):
    tree = json.loads((folder / "comparison.json").read_text(encoding="utf-8"))
    rows = csv.DictReader(io.StringIO((folder / "numbers.csv").read_text(encoding="utf-8-sig"), newline=""))
    addresses = dict.fromkeys(row["id"] for row in rows)
    return tree, [each for each in addresses if is_count(each, value_at(tree, each))]


def agrees(value, cases):
    """A count that public output does not give is at least one, and under its threshold; or lacks so few of all."""
    if isinstance(value, dict):
        return cases >= value["fewer_than"] if value["all_but"] else 0 < cases < value["fewer_than"]
    return cases == value


@pytest.mark.parametrize("public", [False, True], ids=["own eyes", "public"])
def test_every_count_has_as_many_cases_behind_it(packs, register, public):
    tree, addresses = counts_of(packs[public])
    record = json.loads((packs[public] / "pack.json").read_text(encoding="utf-8"))
    assert len(addresses) > 30
    with reading_frozen(register, "spring") as held:
        series = case_series(held, held.protocol, selection_of(record["asked"]))
        wrong = []
        for address in addresses:
            value = value_at(tree, address)
            found = trace(held, series, tree, address)
            if value is not None and not agrees(value, len(found.cases)):
                wrong.append((address, value, len(found.cases)))
    assert wrong == []


def test_every_listed_number_can_be_traced_to_a_definition(packs, register):
    tree = json.loads((packs[False] / "comparison.json").read_text(encoding="utf-8"))
    record = json.loads((packs[False] / "pack.json").read_text(encoding="utf-8"))
    rows = csv.DictReader(io.StringIO((packs[False] / "numbers.csv").read_text(encoding="utf-8-sig"), newline=""))
    addresses = list(dict.fromkeys(row["id"] for row in rows))[::9]
    with reading_frozen(register, "spring") as held:
        series = case_series(held, held.protocol, selection_of(record["asked"]))
        for address in addresses:
            assert trace(held, series, tree, address).definition, address


def explained(*arguments):
    return subprocess.run(
        [sys.executable, "-m", "outcomes.cli", "explain", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_command_prints_the_value_its_definition_the_query_and_the_cases(packs, register):
    address = "findings.notching.six_months.poor.grafted.events"
    tree = json.loads((packs[False] / "comparison.json").read_text(encoding="utf-8"))
    value = value_at(tree, address)
    done = explained(packs[False], address, "--register", register)
    assert done.returncode == 0, done.stderr
    assert f"{address}: {value}" in done.stdout
    assert "poor result: 1 mm or more" in done.stdout
    assert f"{value} cases" in done.stdout
    assert "Extract observations" in done.stdout
    assert "select" in done.stdout


def test_an_address_with_a_slip_is_refused_with_the_nearest_one(packs, register):
    done = explained(packs[False], "findings.notching.six_months.poor.grafted.event", "--register", register)
    assert done.returncode == 2
    assert "did you mean" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_folder_that_is_no_pack_is_refused(tmp_path, register):
    done = explained(tmp_path, "grafted.cases", "--register", register)
    assert done.returncode == 2
    assert "is no pack" in done.stderr
