"""The upper tail of the binomial distribution."""

from __future__ import annotations

from scipy import special


def binomial_tail(successes: int, *, trials: int, probability: float) -> float:
    """The chance of at least so many successes in independent trials: P(X >= successes), X binomial.

    `0 <= successes <= trials`, `trials >= 1`, `0 <= probability <= 1`; ValueError otherwise. By the regularised incomplete
    beta function (Abramowitz M, Stegun IA. Handbook of Mathematical Functions, 26.5.24; from memory).

    >>> binomial_tail(8, trials=10, probability=0.5)
    0.0546875
    """
    if not 0 <= successes <= trials or trials < 1:
        raise ValueError(f"successes is {successes} of {trials} trials; must be from 0 to trials, which is 1 or more")
    if not 0 <= probability <= 1:
        raise ValueError(f"probability is {probability}; must be from 0 to 1")
    if successes == 0:
        return 1.0
    return float(special.betainc(successes, trials - successes + 1, probability))
