"""What does every test share? Which files of this folder are not tests, and which folders a developer leaves for later."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

collect_ignore = ["run.py"]

# As the program sets it: the threads of the linear algebra library make a comparison in a test four times as long.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

HERE = Path(__file__).parent
MAKES_WHOLE_THINGS = {"capture", "cli", "demo", "findings", "report", "store", "whole"}
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
        inside = HERE in item.path.parents and item.path.relative_to(HERE).parts[0] in MAKES_WHOLE_THINGS
        if inside and item.get_closest_marker("quick") is None:
            item.add_marker(pytest.mark.slow)
