"""In a register without an effect of the cover, and strong confounding, no sentence of a sheet favours a cover."""

from dataclasses import replace

import numpy as np

from tests.calibration.counsel import CONFOUNDED_NULL, SEED, steering


def test_no_sentence_favours_a_cover_where_the_cover_has_no_effect():
    """A thinned form: the calibration makes more sheets of more registers (tests/calibration/counsel.md)."""
    found = steering(np.random.default_rng(SEED), CONFOUNDED_NULL, registers=2, patients=10)
    assert (found.sheets, found.favouring) == (20, 0)


def test_a_difference_between_the_covers_that_is_there_is_said():
    """The same with twice the effect of a graft: the words looked for are found where they should be."""
    strong = replace(CONFOUNDED_NULL, graft=2.0)
    assert steering(np.random.default_rng(SEED), strong, registers=1, patients=3).favouring > 0
