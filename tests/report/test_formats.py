"""Each number is printed as the trade writes it, and never so that it hides something."""

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
    "difference, printed", [(-0.12, "−12"), (0.09, "+9"), (0.0, "0"), (-0.0, "0"), (-0.002, "−0.2")]
)
def test_a_difference_of_shares_keeps_its_sign(difference, printed):
    assert formats.points(difference) == printed


@pytest.mark.parametrize(
    "field, value, printed",
    [
        (MM, 0.5, "+0.50"),
        (MM, -1.0, "−1.00"),
        (MM, -8.9e-16, "0.00"),
        (GRADE, -0.349, "−0.35"),
        (PERCENT, -5.04, "−5.0"),
    ],
)
def test_a_difference_of_means_keeps_its_sign_and_has_two_decimals_or_of_per_cent_one(field, value, printed):
    assert formats.mean_change(field)(value) == printed


@pytest.mark.parametrize("p, said", [(0.0004, "<0.001"), (0.034, "= 0.034")])
def test_a_p_value_in_a_sentence_has_one_sign(p, said):
    assert formats.p_words(p) == said


@pytest.mark.parametrize(
    "p, printed", [(0.00099, "<0.001"), (0.001, "0.001"), (0.0344, "0.034"), (0.0996, "0.10"), (0.3, "0.30")]
)
def test_a_p_value_is_never_nought(p, printed):
    assert formats.p_value(p) == printed


def test_a_list_ends_with_and():
    assert formats.in_list([]) == ""
    assert formats.in_list(["a"]) == "a"
    assert formats.in_list(["a", "b", "c"]) == "a, b and c"
