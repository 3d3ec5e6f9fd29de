"""The table of characteristics before operation, with standardised differences."""

from __future__ import annotations

from outcomes.findings.results import BalanceLine, Comparison
from outcomes.protocol import COHORTS, Protocol
from outcomes.report import formats
from outcomes.report.finding_index import rule_place
from outcomes.report.finding_words import COVERS, left_out_words, why_not_adjusted
from outcomes.report.headline import surgeon_sentence
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import Phrase, Place, joined, say


def baseline_table(comparison: Comparison, protocol: Protocol) -> Table:
    """Each characteristic in both cohorts with its missing counts and its standardised differences."""
    columns = (
        Column("characteristic", "Characteristic"),
        *(
            Column(f"{cohort}_{part}", label, "right", COVERS[cohort])
            for cohort in COHORTS
            for part, label in (("value", "Mean (SD) or lids"), ("missing", "Not recorded"))
        ),
        Column("smd", "Crude", "right", "Standardised difference"),
        Column("smd_adjusted", "Weighted", "right", "Standardised difference"),
        Column("adjusted_for", "Adjusted for"),
    )
    weighted = comparison.adjustment.covariates
    rows = tuple(
        _row(Place(f"balance.{number}", line), line, weighted=line.label in weighted)
        for number, line in enumerate(comparison.balance)
    )
    return Table(
        "baseline",
        "Characteristics before operation",
        columns,
        rows,
        _notes(comparison, protocol),
    )


def _row(place: Place, line: BalanceLine, *, weighted: bool) -> Row:
    graded = line.level not in {"", "yes"}
    unit = f" ({line.unit})" if line.unit else ""
    cells: list[Phrase] = [(line.level if graded else f"{line.label}{unit}",)]
    for cohort in COHORTS:
        cells.append(_value(place, line, cohort))
        cells.append((place.figure(f"{cohort}_missing", formats.count),))
    cells.extend(_standardised(place, path) for path in ("smd", "smd_adjusted"))
    cells.append((_role(line, weighted=weighted),))
    return Row(tuple(cells), band=line.label if graded else "")


def _role(line: BalanceLine, *, weighted: bool) -> str:
    if line.consequence:
        return "no: follows from the cover"
    return "yes" if weighted else "left out" if line.adjusted_for else "–"


def _value(place: Place, line: BalanceLine, cohort: str) -> Phrase:
    if not getattr(line, f"{cohort}_known"):
        return ("–",)
    if line.level:
        return say("{} of {}", place.figure(cohort, formats.count), place.figure(f"{cohort}_known", formats.count))
    spread = getattr(line, f"{cohort}_spread")
    written = formats.mean_beside(spread)
    if spread is None:
        return (place.figure(cohort, written),)
    return say("{} ({})", place.figure(cohort, written), place.figure(f"{cohort}_spread", written))


def _standardised(place: Place, path: str) -> Phrase:
    return (place.figure(path, formats.standardised),) if place.holds(path) else ("–",)


def _notes(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    said = [
        say(
            "Standardised differences are advanced minus grafted, in standard deviations; beyond {} either way counts as an imbalance.",
            rule_place(protocol).figure("imbalance_smd", lambda bound: f"{bound:g}"),
        ),
    ]
    said.extend(_still_apart(comparison, protocol))
    said.extend((f"{line.label}: {line.note}",) for line in comparison.balance if line.note)
    return tuple(dict.fromkeys(said))


def _still_apart(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    """Name what weighting leaves out of balance; nothing where it leaves nothing."""
    apart = [
        say(
            "{} ({})",
            line.label if line.level in {"", "yes"} else f"{line.label}: {line.level}",
            *_standardised(place, "smd_adjusted"),
        )
        for place, line in ((Place(f"balance.{at}", line), line) for at, line in enumerate(comparison.balance))
        if not line.consequence and abs(line.smd_adjusted or 0.0) > protocol.rules.imbalance_smd
    ]
    return (say(STILL_APART, joined(apart, ", ")),) if apart else ()


STILL_APART = (
    "Still out of balance after weighting: {}. The adjusted differences do not allow for it, or not wholly, and it may explain a "
    "part of them."
)


def adjustment_sentences(comparison: Comparison) -> tuple[Phrase, ...]:
    """Say what was adjusted for and what not, and how many lids the weighted comparison is worth."""
    held, place = comparison.adjustment, Place("adjustment", comparison.adjustment)
    why = why_not_adjusted(held)
    if not held.estimable:
        return ((f"Nothing could be adjusted for{f': {why}' if why else ''}. Crude differences only.",),)
    said: list[Phrase] = [
        (f"Adjusted for: {'; '.join(held.covariates)}.",),
        surgeon_sentence(comparison),
        _weighted(place),
    ]
    if held.left_out:
        said.append((f"Not adjusted for: {'; '.join(map(left_out_words, held.left_out))}.",))
    return tuple(said)


def _weighted(place: Place) -> Phrase:
    """Say what weighted means, and how many unweighted lids it is worth where that is given."""
    words = "Weighted: each lid counts by how well it could have had the other cover, so that the cohorts become alike"
    if not place.holds("effective_n_grafted") or not place.holds("effective_n_advanced"):
        return (f"{words}.",)
    numbers = (place.figure(f"effective_n_{cohort}", formats.count) for cohort in COHORTS)
    return say("{}; the weighted comparison is worth {} grafted and {} advanced lids.", words, *numbers)
