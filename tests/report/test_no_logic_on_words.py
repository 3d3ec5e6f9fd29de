"""Nothing but wording changes when every sentence of the report's code is changed: ids decide, words are looked up.

The package is loaded again in another process with every string of two or more words in `outcomes/report` replaced by as many
letters x, and writes the report and the pack's parts of the same comparison. Numbers, their addresses, the rows of tables, the
files and the marks of charts must be the same.
"""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.report.rewording import reworded

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]


def told(*words):
    done = subprocess.run(
        [sys.executable, "-m", "tests.report.rewording", *words],
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=600,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    return json.loads(done.stdout)


def test_a_sentence_is_reworded_and_an_id_is_not():
    assert reworded("Lids seen at {} months") == "xxxx xxxx xx {} xxxxxx"
    for kept in ("grafted", "one_year", "figures/flow", "datum.a == 1", "<p>two words</p>", "label:N"):
        assert reworded(kept) == kept


@pytest.fixture(scope="module")
def plain():
    return told("as written")


def test_other_words_change_nothing_but_words(plain):
    changed = told("reworded")
    assert plain.keys() == changed.keys()
    for name in plain:
        assert plain[name] == changed[name], name


def test_a_decision_on_a_sentence_would_be_noticed(plain):
    assert told("reworded", "planted")["files"] != plain["files"]
