"""Who were the lids in each cohort, and how far apart are the cohorts before and after weighting?"""

from __future__ import annotations

from outcomes.findings.results import BalanceLine, Comparison
from outcomes.protocol import Protocol
from outcomes.report import wording
from outcomes.report.figures import Phrase, Place, say
from outcomes.report.lookup import rule_place
from outcomes.report.tables.model import Column, Row, Table

COHORTS = ("grafted", "advanced")


def baseline_table(comparison: Comparison, protocol: Protocol) -> Table:
    """Each characteristic in both cohorts with its missing counts and its standardised differences."""
    columns = (
        Column("characteristic", "Characteristic"),
        *(Column(f"{cohort}_{part}", label, "right", cohort.capitalize())
          for cohort in COHORTS for part, label in (("value", "Mean (SD) or lids"), ("missing", "Not recorded"))),
        Column("smd", "Crude", "right", "Standardised difference"),
        Column("smd_adjusted", "Weighted", "right", "Standardised difference"),
        Column("adjusted_for", "Weighted for"),
    )
    rows = tuple(_row(Place(f"balance.{number}", line), line) for number, line in enumerate(comparison.balance))
    return Table("baseline", "Who they were", columns, rows, _notes(comparison, protocol))


def _row(place: Place, line: BalanceLine) -> Row:
    unit = f", {line.unit}" if line.unit else ""
    cells: list[Phrase] = [(f"{line.level}" if line.level else f"{line.label}{unit}",)]
    for cohort in COHORTS:
        cells.append(_value(place, line, cohort))
        cells.append((place.figure(f"{cohort}_missing", wording.count),))
    cells.extend(_standardised(place, path) for path in ("smd", "smd_adjusted"))
    cells.append(("consequence of the cover" if line.consequence else "yes" if line.adjusted_for else "–",))
    return Row(tuple(cells), band=line.label if line.level else "")


def _value(place: Place, line: BalanceLine, cohort: str) -> Phrase:
    if not getattr(line, f"{cohort}_known"):
        return ("–",)
    if line.level:
        return say("{} of {}", place.figure(cohort, wording.count), place.figure(f"{cohort}_known", wording.count))
    mean = place.figure(cohort, wording.decimal)
    if not place.holds(f"{cohort}_spread"):
        return (mean,)
    return say("{} ({})", mean, place.figure(f"{cohort}_spread", wording.decimal))


def _standardised(place: Place, path: str) -> Phrase:
    return (place.figure(path, wording.standardised),) if place.holds(path) else ("–",)


def _notes(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    said = [
        say("Standardised differences are advanced minus grafted, in standard deviations; beyond {} either way counts as an imbalance.",
            rule_place(protocol).figure("imbalance_smd", lambda bound: f"{bound:g}")),
    ]
    said.extend((f"{line.label}: {line.note}",) for line in comparison.balance if line.note)
    return tuple(dict.fromkeys(said))


def adjustment_sentences(comparison: Comparison) -> tuple[Phrase, ...]:
    """Say how the choice of cover was modelled, and how many lids' worth of comparison is left."""
    held, place = comparison.adjustment, Place("adjustment", comparison.adjustment)
    if not held.estimable:
        why = f": {held.note}" if held.note else ""
        return ((f"The choice of cover could not be modelled{why}. Every adjusted figure is therefore absent.",),)
    labels = {line.field: line.label for line in comparison.balance}
    said: list[Phrase] = [
        ("The weights make the cohorts alike in " + _names(held.covariates, labels) + ".",),
        say("After weighting the comparison is worth {} grafted and {} advanced lids.",
            place.figure("effective_n_grafted", wording.decimal), place.figure("effective_n_advanced", wording.decimal)),
    ]
    if held.left_out:
        said.append((f"Left out because the lids are too few for more: {_names(held.left_out, labels)}.",))
    if held.penalised:
        said.append(("The model of the cover was fitted with Firth's penalty, because some characteristics nearly decide the cover.",))
    return (*said, *(((held.note,),) if held.note else ()))


def _names(fields: tuple[str, ...], labels: dict[str, str]) -> str:
    return wording.in_list([labels.get(field, field)[0].lower() + labels.get(field, field)[1:] for field in fields]) or "nothing"
