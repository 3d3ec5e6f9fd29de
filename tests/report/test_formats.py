"""Is each number printed as the trade writes it, and never so that it hides something?"""

import pytest

from outcomes.protocol import default_protocol
from outcomes.report import formats

PROTOCOL = default_protocol()
MM, GRADE, PERCENT = (PROTOCOL.field("reviews", name) for name in ("notch_mm", "oedema", "lash_loss_percent"))


@pytest.mark.parametrize(
    "share, printed",
    [(0.0, "0%"), (1.0, "100%"), (1 / 6, "17%"), (0.004, "0.4%"), (0.996, "99.6%"), (0.0001, "0.0%"), (0.5, "50%")],
)
def test_a_share_is_whole_unless_that_hides_an_event(share, printed):
    assert formats.percent(share) == printed


@pytest.mark.parametrize(
    "difference, printed, said",
    [
        (-0.12, "−12", "12 fewer"),
        (0.09, "+9", "9 more"),
        (0.0, "0", "0"),
        (-0.0, "0", "0"),
        (-0.002, "−0.2", "0.2 fewer"),
    ],
)
def test_a_difference_of_shares_keeps_its_sign(difference, printed, said):
    assert formats.points(difference) == printed
    assert formats.fewer_or_more(difference) == said


@pytest.mark.parametrize(
    "field, value, printed, said",
    [
        (MM, 0.5, "+0.5", "0.5 mm more"),
        (MM, -1.0, "−1.0", "1.0 mm less"),
        (MM, -8.9e-16, "0.0", "0.0 mm"),
        (GRADE, -1.0, "−1", "1 grades less"),
        (GRADE, 0.5, "+0.5", "0.5 grades more"),
        (GRADE, 0.0, "0", "0 grades"),
        (PERCENT, -5.0, "−5", "5% less"),
        (PERCENT, 0.0, "0", "0%"),
    ],
)
def test_a_difference_of_values_keeps_its_sign_and_its_unit(field, value, printed, said):
    assert formats.measured_change(field)(value) == printed
    assert formats.less_or_more(field)(value) == said


@pytest.mark.parametrize(
    "p, printed", [(0.00099, "<0.001"), (0.001, "0.001"), (0.0344, "0.034"), (0.0996, "0.10"), (0.3, "0.30")]
)
def test_a_p_value_is_never_nought(p, printed):
    assert formats.p_value(p) == printed


def test_a_list_ends_with_and():
    assert formats.in_list([]) == ""
    assert formats.in_list(["a"]) == "a"
    assert formats.in_list(["a", "b", "c"]) == "a, b and c"
