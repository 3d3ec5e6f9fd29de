"""What the tests of the pack share: a real freeze of the invented clinic, and packs of a part of it, written once."""

from datetime import date
from pathlib import Path

import pytest

import demo.generate as generator
from outcomes.cli.pack import answered, filters_of
from outcomes.findings import Selection
from outcomes.report.pack.writing import Asked, write_pack
from tests.rows import AS_OF, register_at

# Enough for every kind of file, and quick: three measures at two reviews.
PART = Selection(
    AS_OF,
    operated_from=date(2017, 1, 1),
    windows=("six_months", "one_year"),
    measures=("margin_position", "notching", "oedema"),
)


def silent(done, of_all):
    """Show nothing."""


@pytest.fixture(scope="session")
def register(tmp_path_factory) -> Path:
    from datetime import UTC, datetime

    from outcomes.store import Source, freeze

    path = register_at(tmp_path_factory.mktemp("register") / "register.duckdb", generator.clinic())
    freeze(path, "spring", source=Source("", "", "test", "for a talk"), at=datetime(2026, 6, 30, 9, tzinfo=UTC))
    return path


@pytest.fixture(scope="session")
def helds(register):
    return {
        public: answered(register, "spring", PART, Asked(filters_of(PART), PART.says(), public, 250))
        for public in (True, False)
    }


@pytest.fixture(scope="session")
def packs(tmp_path_factory, helds):
    """The folder of the pack for the surgeon's own eyes, and that of the public one."""
    folders = {False: tmp_path_factory.mktemp("own") / "pack", True: tmp_path_factory.mktemp("public") / "pack"}
    for public, folder in folders.items():
        write_pack(helds[public], folder, silent)
    return folders


@pytest.fixture(scope="session")
def own(packs):
    return packs[False]
