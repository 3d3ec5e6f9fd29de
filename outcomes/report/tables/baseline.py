"""The table of characteristics before operation, with standardised differences."""

from __future__ import annotations

from outcomes.findings.results import BalanceLine, Comparison
from outcomes.protocol import Protocol
from outcomes.report import formats
from outcomes.report.finding_index import rule_place
from outcomes.report.finding_words import left_out_words, why_not_adjusted
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.traced_text import Phrase, Place, say

COHORTS = ("grafted", "advanced")


def baseline_table(comparison: Comparison, protocol: Protocol) -> Table:
    """Each characteristic in both cohorts with its missing counts and its standardised differences."""
    columns = (
        Column("characteristic", "Characteristic"),
        *(
            Column(f"{cohort}_{part}", label, "right", cohort.capitalize())
            for cohort in COHORTS
            for part, label in (("value", "Mean (SD) or lids"), ("missing", "Not recorded"))
        ),
        Column("smd", "Crude", "right", "Standardised difference"),
        Column("smd_adjusted", "Weighted", "right", "Standardised difference"),
        Column("adjusted_for", "Weighted for"),
    )
    weighted = comparison.adjustment.covariates
    rows = tuple(
        _row(Place(f"balance.{number}", line), line, weighted=line.label in weighted)
        for number, line in enumerate(comparison.balance)
    )
    return Table(
        "baseline",
        "Each characteristic in both cohorts, and how alike they are",
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
        return "follows from the cover"
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
    said.extend((f"{line.label}: {line.note}",) for line in comparison.balance if line.note)
    return tuple(dict.fromkeys(said))


def adjustment_sentences(comparison: Comparison) -> tuple[Phrase, ...]:
    """Say how the choice of cover was modelled, and how many lids' worth of comparison is left."""
    held, place = comparison.adjustment, Place("adjustment", comparison.adjustment)
    why = why_not_adjusted(held)
    note: list[Phrase] = [(f"{why[0].upper()}{why[1:]}.",)] if why else []
    if not held.estimable:
        return (("The choice of cover could not be modelled, so every adjusted figure is absent.",), *note)
    said: list[Phrase] = [
        (f"Weighting makes the cohorts alike in: {'; '.join(held.covariates)}.",),
        say(
            "After weighting, the comparison is worth {} grafted and {} advanced lids.",
            place.figure("effective_n_grafted", formats.decimal),
            place.figure("effective_n_advanced", formats.decimal),
        ),
    ]
    if held.left_out:
        said.append((f"Left out of the weighting: {'; '.join(map(left_out_words, held.left_out))}.",))
    return (*said, *note)
