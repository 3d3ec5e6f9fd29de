"""What the tests of the pack share: a real freeze of the invented clinic, and packs of a part of it.

They are made once, by whichever worker comes first; the others wait for it.
"""

import os
import pickle
import time
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

import demo.generate as generator
from outcomes.cli.pack import gathered
from outcomes.findings import Selection, at_level, public
from outcomes.findings.disclosure.levels import shared_at
from outcomes.findings.disclosure.study_facts import public_congress
from outcomes.report.pack.assembly import PackRequest, write_pack
from outcomes.store import Source, freeze
from tests.rows import AS_OF, register_at

# Enough for every kind of file, and quick: three measures at two reviews.
PART = Selection(
    AS_OF,
    operated_from=date(2017, 1, 1),
    windows=("six_months", "one_year"),
    measures=("margin_position", "notching", "oedema"),
)
PATIENCE_SECONDS = 400


def silent(done, of_all):
    """Show nothing."""


@pytest.fixture(scope="session")
def made(tmp_path_factory) -> Path:
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "packs"
    try:
        folder.mkdir()
    except FileExistsError:
        return _waited_for(folder)
    try:
        _make(folder)
    finally:
        (folder / "done").touch()
    return folder


def _waited_for(folder):
    until = time.monotonic() + PATIENCE_SECONDS
    while not (folder / "done").exists():
        assert time.monotonic() < until, "another worker did not finish the packs"
        time.sleep(0.2)
    return folder


def _make(folder):
    path = register_at(folder / "register.duckdb", generator.clinic())
    freeze(path, "spring", source=Source("", "", "test", "for a talk"), at=datetime(2026, 6, 30, 9, tzinfo=UTC))
    request = PackRequest(PART, "own eyes", "", 250, with_data=True)
    own = gathered(path, "spring", PART, request)
    safe = public(own.comparison, own.protocol)
    facts = public_congress(own.facts, safe, own.protocol)
    journal = replace(
        own,
        comparison=at_level(own.comparison, own.protocol, "journal"),
        shared=shared_at("journal", own.shared),
        request=replace(request, level="journal", approved="ethics 2026/17"),
    )
    shown = replace(own, comparison=safe, facts=facts, request=replace(request, level="public"))
    held = {False: own, True: shown, "journal": journal}
    (folder / "helds.pickle").write_bytes(pickle.dumps(held))
    for which, name in NAMES.items():
        write_pack(held[which], folder / name, silent)


NAMES = {False: "own", True: "public", "journal": "journal"}


@pytest.fixture(scope="session")
def register(made) -> Path:
    return made / "register.duckdb"


@pytest.fixture(scope="session")
def helds(made):
    """What the packs are made of, by whether they are public."""
    return pickle.loads((made / "helds.pickle").read_bytes())  # noqa: S301 - our own, of this session


@pytest.fixture(scope="session")
def packs(made):
    """The folders of the packs: for the surgeon's own eyes, for the public, for a journal."""
    return {which: made / name for which, name in NAMES.items()}
