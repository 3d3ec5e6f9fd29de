"""A damaged input ends in rows or in a refusal, never in anything else.

The long form is `python tests/capture/fuzz.py 10000`.
"""

import random
from collections import Counter

import pytest

from tests.capture import fuzz

TURNS = 300


@pytest.fixture(scope="module")
def parts():
    return fuzz.good()


def test_damaged_inputs_are_taken_or_refused(parts):
    ends = Counter(fuzz.turn(f"suite:{number}", *parts) for number in range(TURNS))
    assert ends.keys() == {"taken", "refused by row", "refused as a whole"}
    assert min(ends.values()) > TURNS // 20  # each way was tried: the damage is neither too light nor too heavy


def test_the_same_seed_damages_in_the_same_way(parts):
    content = parts[1]["reviews.csv"]
    assert fuzz.damaged(content, random.Random("a")) == fuzz.damaged(content, random.Random("a"))
    assert fuzz.damaged(content, random.Random("a")) != content


def test_the_undamaged_inputs_are_taken(parts, tmp_path):
    (tmp_path / "clinic.xlsx").write_bytes(fuzz.packed(parts[0]))
    assert fuzz.outcome_of(tmp_path / "clinic.xlsx") == "taken"
    (tmp_path / "tables").mkdir()
    for name, content in parts[1].items():
        (tmp_path / "tables" / name).write_bytes(content)
    assert fuzz.outcome_of(tmp_path / "tables") == "taken"
