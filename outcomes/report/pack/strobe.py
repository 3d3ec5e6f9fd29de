"""The items of the STROBE statement for cohort studies, in our own words, with the place of each in the pack."""

from __future__ import annotations

from outcomes.report.pack.checklist import AUTHOR, Sections, item_columns, item_rows
from outcomes.report.pack.citations import SOURCES
from outcomes.report.tables.model import Table

_STROBE: Sections = (
    (
        "Title and abstract",
        (
            (
                "1a",
                "Design named in title or abstract",
                "words/abstract",
                "says cohort study; the title is for the author",
            ),
            (
                "1b",
                "Balanced summary of what was done and found",
                "words/abstract",
                "structured, numbers filled in; the conclusion is for the author",
            ),
        ),
    ),
    (
        "Introduction",
        (
            ("2", "Background and reason", AUTHOR, "the register knows no literature"),
            (
                "3",
                "Aims and any hypothesis stated beforehand",
                AUTHOR,
                "the main measures and the main review are fixed in the protocol: words/methods",
            ),
        ),
    ),
    (
        "Methods",
        (
            (
                "4",
                "Design, early in the paper",
                "words/methods, Setting and cases",
                "cohort study from a register; prospective or not is for the author",
            ),
            (
                "5",
                "Setting, places and dates",
                "words/methods, Setting and cases",
                "months of first and last operation and of the last review; the place is for the author",
            ),
            (
                "6a",
                "Who was eligible, from where, how followed",
                "tables/flow; words/methods, Reviews",
                "covers, filters asked for, schedule of reviews",
            ),
            ("6b", "Matching", "words/methods, Adjustment", "none; adjustment instead"),
            (
                "7",
                "Outcomes, exposures and confounders defined",
                "tables/definitions; tables/timed_definitions",
                "every measure, scale, cut and clock",
            ),
            (
                "8",
                "How each was measured, alike in both groups",
                "words/methods, What was measured; tables/cohorts",
                "scales, assessors, reviews by an assessor who did not know the cover",
            ),
            (
                "9",
                "What was done about bias",
                "words/methods, Adjustment; tables/checks",
                "adjustment, tipping points for the lids not measured, both clocks, masked reviews apart",
            ),
            (
                "10",
                "How the size came about",
                "words/methods, Setting and cases; tables/flow",
                "all cases in the register; no size was planned by the register",
            ),
            (
                "11",
                "Quantities: how grouped and why",
                "tables/definitions",
                "each cut with its reason, where the protocol gives one",
            ),
            (
                "12a",
                "Statistical methods, confounding included",
                "words/methods, Comparison, Adjustment",
                "estimators with sources",
            ),
            (
                "12b",
                "Subgroups and interactions",
                "words/methods, Setting and cases",
                "none but the filters asked for, which stand in the stamp",
            ),
            (
                "12c",
                "Missing data",
                "words/methods, Comparison; tables/further",
                "tipping points; nothing is filled in",
            ),
            (
                "12d",
                "Loss to follow-up",
                "words/methods, Comparison; tables/followed",
                "tipping points; lids seen in each cohort",
            ),
            (
                "12e",
                "Sensitivity analyses",
                "tables/checks",
                "cover planned, masked reviews, other clock, revised as poor, first cases left out, within surgeons",
            ),
        ),
    ),
    (
        "Results",
        (
            ("13a", "Numbers at each stage", "tables/flow; figures/flow", "operated to analysed"),
            ("13b", "Reasons for not taking part", "tables/flow; figures/flow", "reasons at each step"),
            ("13c", "Flow diagram", "figures/flow", "drawn"),
            (
                "14a",
                "Characteristics and possible confounders",
                "tables/baseline; figures/balance",
                "with standardised differences",
            ),
            (
                "14b",
                "Missing for each variable",
                "tables/baseline; tables/further",
                "columns Not recorded; lids due and not seen",
            ),
            ("14c", "Length of follow-up", "tables/cohorts", "median with interval and completeness"),
            (
                "15",
                "Outcome events or summaries over time",
                "tables/further; tables/timing; tables/events",
                "every measure at every review",
            ),
            (
                "16a",
                "Unadjusted and adjusted estimates with precision; which confounders",
                "tables/planned; words/methods, Adjustment",
                "crude and adjusted with intervals",
            ),
            ("16b", "Category boundaries", "tables/definitions", "the cut of each measure"),
            (
                "16c",
                "Relative risk turned into absolute",
                "tables/main",
                "differences are absolute",
            ),
            (
                "17",
                "Other analyses done",
                "tables/checks; tables/further",
                "all are there, none chosen by its result",
            ),
        ),
    ),
    (
        "Discussion",
        (
            ("18", "Key results", AUTHOR, "verdicts: tables/main"),
            (
                "19",
                "Limitations, direction of bias",
                "words/limitations",
                "the warnings that hold; the direction is for the author",
            ),
            ("20", "Cautious interpretation", AUTHOR, "the rule of the verdicts: words/methods, Verdicts"),
            ("21", "Whom the results hold for", AUTHOR, "who the cases were: tables/baseline"),
        ),
    ),
    ("Other", (("22", "Funding", AUTHOR, "the register does not hold it"),)),
)


def strobe_table(places: frozenset[str]) -> Table:
    """Each item of the statement for cohort studies, with the place in this pack or who must answer it."""
    rows = item_rows(_STROBE, places)
    note = f"Items in our own words after: {SOURCES['strobe']} Places are files of this pack, without their endings."
    return Table(
        "strobe", "STROBE items for cohort studies, and where each is answered", item_columns(), rows, ((note,),)
    )
