"""What does every test share? Which files of this folder are not tests, and which folders a developer leaves for later."""

from pathlib import Path

import pytest

collect_ignore = ["run.py"]

HERE = Path(__file__).parent
MAKES_WHOLE_THINGS = {"capture", "cli", "demo", "findings", "report", "store", "whole"}
"""Folders whose tests make registers, comparisons, pages and packs: all of them count as slow."""


def pytest_collection_modifyitems(items):
    """Mark what makes whole things as slow, so that the quick part stays quick."""
    for item in items:
        if HERE in item.path.parents and item.path.relative_to(HERE).parts[0] in MAKES_WHOLE_THINGS:
            item.add_marker(pytest.mark.slow)
