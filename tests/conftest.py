"""What every test shares, which files of this folder are no tests, and which folders a developer leaves for later."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

collect_ignore = ["run.py"]

# As the program sets it: the threads of the linear algebra library make a comparison in a test four times as long.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

HERE = Path(__file__).parent
MAKES_WHOLE_THINGS = {
    *(HERE / each for each in ("capture", "cli", "demo", "store", "whole")),
    *(HERE / "report" / each for each in ("counsel", "pack")),
    *(HERE / "findings" / each for each in ("counsel", "data_quality", "disclosure", "time_to_event")),
}
"""Folders whose tests make registers, comparisons, pages and packs: they count as slow, unless they are marked quick."""

# A deadline of a property measures the computer, not the program.
settings.register_profile("outcomes", deadline=None)
settings.load_profile("outcomes")


def pytest_configure(config):
    """Name the marker of tests that are quick although they stand in a folder of slow ones."""
    config.addinivalue_line("markers", "quick: belongs to the quick part, although its folder does not")


def pytest_collection_modifyitems(items):
    """Mark what makes whole things as slow, so that the quick part stays quick."""
    for item in items:
        inside = MAKES_WHOLE_THINGS.intersection(item.path.parents)
        if inside and item.get_closest_marker("quick") is None:
            item.add_marker(pytest.mark.slow)
