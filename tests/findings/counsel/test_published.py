"""The published percentages and exact intervals follow from their counts, and stay apart."""

import pytest
from scipy.stats import binomtest

from tests.findings.counsel.registers import PROTOCOL, InMemory, counsel_for, lids, patient, told


@pytest.mark.parametrize("figure", PROTOCOL.published, ids=lambda figure: f"{figure.id}-{figure.of}")
def test_percentages_and_exact_intervals_from_the_counts(figure):
    """Printed in the series named under `source`; the interval recomputed by SciPy. Printing is to one decimal."""
    exact = binomtest(figure.count, figure.of).proportion_ci(0.95, method="exact")
    assert figure.percent == pytest.approx(100 * figure.count / figure.of, abs=0.06)
    if figure.low is not None:
        assert figure.low == pytest.approx(100 * exact.low, abs=0.1)
        assert figure.high == pytest.approx(100 * exact.high, abs=0.1)


def test_the_published_figure_on_the_sheet_is_of_its_own_count_alone():
    """McKelvie et al., Orbit 2017: 5 of 122, whose exact interval is 1.3 to 9.3 % (SciPy)."""
    exact = binomtest(5, 122).proportion_ci(0.95, method="exact")
    assert (round(100 * exact.low, 1), round(100 * exact.high, 1)) == (1.3, 9.3)
    for register in (InMemory(lids("grafted", 5)), InMemory(lids("grafted", 40, poor=20))):
        figure = told(counsel_for(register, patient()), "operated_again").published[0]
        assert (figure.count, figure.of, figure.of_100.had, figure.of_100.low, figure.of_100.high) == (5, 122, 4, 1, 10)
