"""`outcomes compare` ends with 0 on the barest registers, and writes a page that says what cannot be estimated."""

import json
import re

import pytest
from typer.testing import CliRunner

from outcomes.cli.app import program
from tests.rows import register_at
from tests.whole.planted import edges

pytestmark = pytest.mark.slow

SAYS = {
    "no_cases": "nothing can be compared",
    "one_cohort_empty": "one cohort has no lids",
    "all_events": "cannot tell",
    "everybody_lost": "20 lids never measured",
    "separate_covers": "do not overlap",
    "one_event": "cannot tell",
    "one_patient_with_all_lids": "too few to say",
    "surgeon_is_cover": "each surgeon did one cover only",
    "one_cohort_unseen": "too few to say",
    "all_values_equal": "no difference that matters",
}


@pytest.mark.parametrize("name", SAYS)
def test_the_command_ends_with_0_and_the_page_says_why(tmp_path, name):
    register = register_at(tmp_path / "register.duckdb", getattr(edges, name)())
    out = tmp_path / "report"
    done = CliRunner().invoke(
        program(), ["compare", "--register", str(register), "--out", str(out), "--as-of", "2026-06-30"]
    )
    assert done.exit_code == 0, done.output
    page = (out / "report.html").read_text(encoding="utf-8")
    words = " ".join(re.sub(r"<(style|svg).*?</\1>|<[^>]+>", " ", page, flags=re.DOTALL).split())
    assert SAYS[name].lower() in words.lower()
    for nothing in (r"\bNone\b(?! of)", r"\bnan\b", r"\binf\b"):
        assert not re.search(nothing, words), re.search(f".{{60}}{nothing}.{{60}}", words)
    assert json.loads((out / "comparison.json").read_text(encoding="utf-8"))["format"] == 2
