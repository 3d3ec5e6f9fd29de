"""What the checklists share, and the list for case series: each item with its place in the pack, or that it is for the author.

The items are in our own words, after PROCESS for case series and the IDEAL stages.
"""

from __future__ import annotations

from outcomes.findings.results import Comparison
from outcomes.findings.study_facts import Congress
from outcomes.protocol import COHORTS
from outcomes.report import formats
from outcomes.report.pack.citations import SOURCES
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import Figure, Phrase, Place, say

AUTHOR, ABSENT = "for the author", "left out of this pack: for the author, from the clinic's own"
Item = tuple[str, str, str, str]  # number, what is asked, where it is answered, what is there
Sections = tuple[tuple[str, tuple[Item, ...]], ...]


def where_words(where: str, places: frozenset[str]) -> str:
    """The places that this pack has; a public one has fewer, and says so."""
    if where == AUTHOR:
        return where
    held = [each for each in where.split("; ") if each.split(",")[0] in places]
    return "; ".join(held) or ABSENT


def item_rows(sections: Sections, places: frozenset[str]) -> tuple[Row, ...]:
    """The items of a statement, each with the place in this pack or who must answer it."""
    return tuple(
        Row(((number,), (asked,), (where_words(where, places),), (there,)), section)
        for section, items in sections
        for number, asked, where, there in items
    )


def item_columns() -> tuple[Column, ...]:
    """The columns of a list of items with their numbers."""
    return (
        Column("item", "Item"),
        Column("asked", "What is asked"),
        Column("where", "Where"),
        Column("there", "What is there"),
    )


def series_table(comparison: Comparison, facts: Congress, places: frozenset[str]) -> Table:
    """The follow-up and case-series items of PROCESS, and the stage after IDEAL."""
    items: tuple[tuple[str, str, str, Phrase], ...] = (
        (
            "PROCESS",
            "Case series named in title and keywords",
            AUTHOR,
            ("a comparison of two covers is a cohort study: answer STROBE too",),
        ),
        ("PROCESS", "Registration of the research", AUTHOR, ("the register does not hold it",)),
        (
            "PROCESS",
            "Prospective or retrospective, consecutive or not",
            AUTHOR,
            ("the register holds every case entered; whether all were entered is for the author",),
        ),
        ("PROCESS", "One centre or several", "words/methods, Setting and cases", _centres(facts)),
        ("PROCESS", "Time-frame", "words/methods, Setting and cases", _frame(facts)),
        (
            "PROCESS",
            "Length of follow-up, and loss",
            "tables/cohorts; tables/followed; tables/flow",
            _follow_up(comparison),
        ),
        ("PROCESS", "Who assessed, and whether they knew the treatment", "tables/cohorts", _assessed(comparison)),
        ("PROCESS", "Complications, how treated", "tables/events; tables/timing", ("each kind, and the revisions",)),
        (
            "PROCESS",
            "Complications graded by severity",
            AUTHOR,
            ("the register keeps kinds of event, not a grade of severity",),
        ),
        (
            "PROCESS",
            "Events within thirty days",
            AUTHOR,
            ("times run from operation or division: tables/timing; a count to thirty days is not made",),
        ),
        (
            "PROCESS",
            "The patient's own view",
            "tables/further",
            ("the patient's own answers, where the protocol has any",),
        ),
        (
            "IDEAL",
            "Stage of the innovation",
            "tables/flow",
            (
                "a register of an operation in use, with a comparison that nobody randomised: exploration and long-term study (2b and 4)",
            ),
        ),
        (
            "IDEAL",
            "Changes of technique over time told",
            AUTHOR,
            ("calendar year is in tables/baseline; what changed is for the author",),
        ),
        ("IDEAL", "Learning of each surgeon told", "tables/baseline", _surgeons(facts)),
    )
    rows = tuple(Row(((asked,), (where_words(where, places),), there), band) for band, asked, where, there in items)
    note = f"Items in our own words after: {SOURCES['process']} {SOURCES['ideal']}"
    columns = (Column("asked", "What is asked"), Column("where", "Where"), Column("there", "What is there"))
    return Table("case-series", "Items for case series and for surgical innovation", columns, rows, ((note,),))


def _centres(facts: Congress) -> Phrase:
    return say("{} sites recorded", Figure(formats.count(facts.sites), "congress.sites"))


def _surgeons(facts: Congress) -> Phrase:
    return say(
        "{} surgeons; their cases by cover, not by order", Figure(formats.count(facts.surgeons), "congress.surgeons")
    )


def _frame(facts: Congress) -> Phrase:
    first, last = (
        Figure(getattr(facts, name) or "no month", f"congress.{name}") for name in ("first_operation", "last_operation")
    )
    return say("operated from {} to {}", first, last)


def _follow_up(comparison: Comparison) -> Phrase:
    medians = (
        Place(cohort, getattr(comparison, cohort)).figure("median_followup_months", formats.months)
        for cohort in COHORTS
    )
    return say("median months: grafted {}, advanced {}", *medians)


def _assessed(comparison: Comparison) -> Phrase:
    masked = (Place(cohort, getattr(comparison, cohort)).figure("masked_reviews", formats.count) for cohort in COHORTS)
    if any(getattr(comparison, cohort).masked_reviews is None for cohort in COHORTS):
        return ("how many reviews were by an assessor who did not know the cover is not told",)
    return say("reviews by an assessor who did not know the cover: grafted {}, advanced {}", *masked)
