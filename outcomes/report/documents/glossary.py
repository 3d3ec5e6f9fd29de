"""The glossary at the end of the report."""

from __future__ import annotations

TERMS = (
    (
        "Adjusted",
        "With the characteristics recorded before operation, and the surgeon where two surgeons did both covers, held alike.",
    ),
    ("Division", "The second operation, in which the pedicle of the flap is cut. Day 0 of every lid measure."),
    (
        "E-value",
        "How strongly something unrecorded would have to be associated with both cover and result to explain a difference away.",
    ),
    ("Effective number", "How many unweighted lids a weighted comparison is worth."),
    ("Exploratory", "A comparison that was not planned; it has an interval and a p value, and no verdict."),
    ("Fellow lid", "The lower lid of the other eye."),
    ("Further", "The main outcome of a measure at a review other than the main one, and timed events."),
    (
        "Interval",
        "The range of true differences that fit what was seen; of many made like this, as many as its percentage says hold the true one.",
    ),
    (
        "Main outcome",
        "What a measure is judged by: a mean for millimetres, per cent and grades, a share for yes or no.",
    ),
    ("Masked", "By an assessor who did not know the cover."),
    ("Overlap weights", "Weights that let a lid count by how well it could have had the other cover."),
    (
        "p",
        "How often chance would give a difference so large if the covers did not differ; corrected: for how many comparisons were planned.",
    ),
    ("Percentage points", "The difference between two shares in per cent: 35% and 6% are 29 percentage points apart."),
    (
        "Permutation test",
        "A check of the crude difference: the covers are exchanged between patients at random, many times.",
    ),
    ("Planned", "Each measure once, by its main outcome, at the main review."),
    ("q", "The share of false differences to be expected among those with a q at most as large."),
    ("Quartiles", "A quarter of the lids lie below the lower, a quarter above the upper."),
    (
        "Smallest difference that matters",
        "Set in the protocol before results are looked at; this project's own defaults unless the clinic set its own.",
    ),
    ("Standardised difference", "A difference of two cohorts in standard deviations."),
    (
        "Win probability",
        "The probability that a lid with advanced skin has the better grade than one with a skin graft, ties counted half.",
    ),
    ("better", "The adjusted interval excludes zero, and the correction for many comparisons leaves it so."),
    ("may be better", "The adjusted interval excludes zero; the correction for many comparisons does not leave it so."),
    ("no difference that matters", "The adjusted interval lies wholly within the smallest difference that matters."),
    ("cannot tell", "Neither a difference nor its absence can be said, or a reason withholds it, which is named."),
    ("too few to say", "Fewer lids than the protocol's minimum in a cohort, or no interval."),
)


def glossary() -> tuple[tuple[str, str], ...]:
    """Each term with its meaning, in alphabetical order; the verdicts last."""
    return TERMS
