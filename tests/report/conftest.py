"""What the tests of the report share: the files of three invented comparisons, written once."""

import pytest

from outcomes.protocol import default_protocol
from outcomes.report import write_report
from tests.report.invented import empty_comparison, invented_comparison, one_sided_comparison

PROTOCOL = default_protocol()


@pytest.fixture(scope="session")
def comparisons():
    return {"whole": invented_comparison(), "one-sided": one_sided_comparison(), "empty": empty_comparison()}


@pytest.fixture(scope="session")
def folders(tmp_path_factory, comparisons):
    return {name: tmp_path_factory.mktemp(name) for name in comparisons}


@pytest.fixture(scope="session")
def files(folders, comparisons):
    return {name: write_report(held, PROTOCOL, folders[name]) for name, held in comparisons.items()}
