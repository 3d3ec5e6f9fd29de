"""The TARGET items for observational studies that emulate a target trial, and the table of that trial beside the register.

The items are in our own words by the six sections of the statement: the wording of its single items was not seen.
"""

from __future__ import annotations

from outcomes.findings.results import Comparison
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.flow_words import step_words
from outcomes.report.pack.checklist import AUTHOR, Sections, item_columns, item_rows
from outcomes.report.pack.citations import SOURCES
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import Phrase

_ITEMS: Sections = (
    (
        "Abstract",
        (
            (
                "1",
                "Says that a target trial is emulated from observational data, and the estimate with its interval",
                "words/abstract",
                "the design and the adjusted estimates; the name of the design is for the author",
            ),
        ),
    ),
    (
        "Introduction",
        (
            (
                "2",
                "Why the question matters and why it is asked of observational data",
                AUTHOR,
                "the register knows no literature",
            ),
            (
                "3",
                "The causal question",
                "words/methods, Comparison",
                "the difference among lids that could have had either cover",
            ),
        ),
    ),
    (
        "Methods: the trial that is emulated, and how each part is mapped to the data",
        (
            ("4", "Who is eligible", "tables/target_trial; tables/flow", "covers, filters asked for, division"),
            (
                "5",
                "The strategies compared",
                "tables/target_trial",
                "skin graft and advanced skin, as done; as planned among the checks",
            ),
            (
                "6",
                "How they are assigned",
                "tables/target_trial; tables/baseline",
                "by the surgeon; adjusted for what was recorded",
            ),
            (
                "7",
                "When follow-up starts and ends",
                "tables/target_trial; words/methods, Reviews",
                "division or operation; last observation",
            ),
            ("8", "The outcomes", "tables/definitions; tables/timed_definitions", "the main outcome of each measure"),
            ("9", "The causal contrast", "tables/target_trial", "as done, whatever came between"),
            (
                "10",
                "What must hold for it to be identified",
                "tables/target_trial; words/limitations",
                "no unrecorded confounding; overlap; who was measured",
            ),
            (
                "11",
                "The analysis, with adjustment for baseline confounders",
                "words/methods, Comparison, Adjustment",
                "estimators with sources",
            ),
            (
                "12",
                "Where the data come from, and their quality",
                AUTHOR,
                "a register; its completeness is for the author",
            ),
        ),
    ),
    (
        "Results",
        (
            ("13", "Who was eligible, assigned and analysed", "tables/flow; figures/flow", "each step with its losses"),
            ("14", "Characteristics at the start", "tables/baseline; figures/balance", "before and after weighting"),
            (
                "15",
                "Length of follow-up and losses",
                "tables/cohorts; tables/followed",
                "median, completeness, lids seen at each review",
            ),
            (
                "16",
                "The estimate with its precision",
                "tables/main; tables/planned",
                "adjusted, with intervals; crude beside it",
            ),
            (
                "17",
                "How it changes with the assumptions",
                "tables/checks; tables/unseen",
                "each check; what the lids not measured could change",
            ),
        ),
    ),
    (
        "Discussion",
        (
            ("18", "What the estimate means, and for whom", AUTHOR, "verdicts: tables/main"),
            (
                "19",
                "Limits: how the emulation differs from the trial",
                "tables/target_trial; words/limitations",
                "side by side; the direction of bias is for the author",
            ),
        ),
    ),
    (
        "Other information",
        (
            ("20", "Ethics, registration, protocol", AUTHOR, "the protocol's fingerprint is in every stamp"),
            ("21", "Funding, interests, data and code", AUTHOR, "shared data, where the level allows them: data"),
        ),
    ),
)


def target_table(places: frozenset[str]) -> Table:
    """Each item with the place in this pack or who must answer it."""
    rows = item_rows(_ITEMS, places)
    note = f"In our own words by the sections of: {SOURCES['target']} Their numbers here are ours."
    return Table("target", "TARGET items, and where each is answered", item_columns(), rows, ((note,),))


def target_trial_table(comparison: Comparison, protocol: Protocol) -> Table:
    """The trial that one would have liked, beside what the register could do."""
    window = protocol.window(protocol.primary_window).label
    adjusted = (
        formats.in_list([each.lower() for each in comparison.adjustment.covariates]) or "nothing that was recorded"
    )
    steps = "; ".join(step_words(step) for step in comparison.flow if not step.window) or "every case"
    parts: tuple[tuple[str, str, str], ...] = (
        (
            "Who",
            "Adults with a lower lid defect that could be covered either way",
            f"Lids of the register with one of the two covers: {steps}",
        ),
        (
            "Covers",
            "Free full-thickness skin graft, or lower-lid skin advanced onto the flap",
            "The same, as done; as planned among the checks",
        ),
        (
            "Assignment",
            "At random, within strata of defect width and laxity",
            f"By the surgeon, because of the defect; adjusted for {adjusted}",
        ),
        (
            "Masking",
            "Assessors who do not know the cover",
            "Mostly those who operated; reviews of masked assessors are a check where there are any",
        ),
        (
            "Start",
            "Day of operation for every outcome",
            "Day of division for measures of the lid, day of operation for dated events",
        ),
        (
            "Follow-up",
            f"Every lid at every review, the main one {window} after division",
            "Lids that came back; what the others could change is worked out",
        ),
        ("Outcome", "The main outcome of each measure", "The same"),
        (
            "Contrast",
            "Between covers as assigned, whatever came between",
            "Among lids that could well have had either cover, among those measured, whatever came between",
        ),
        (
            "Assumptions",
            "None beyond the trial's own",
            "No unrecorded confounding, overlap of the covers, and lids not measured like those measured",
        ),
        (
            "Analysis",
            "Difference of means or shares with patients as clusters",
            "The same, adjusted; corrected for how many comparisons were planned",
        ),
    )
    rows = tuple(Row(tuple((cell,) for cell in part)) for part in parts)
    columns = (
        Column("part", "Part"),
        Column("trial", "The trial one would have liked"),
        Column("register", "What the register could do"),
    )
    notes: tuple[Phrase, ...] = ((f"After: {SOURCES['target']}",),)
    return Table("target_trial", "The target trial beside the register", columns, rows, notes)
