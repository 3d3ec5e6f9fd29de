"""The summary of a comparison for a terminal."""

from __future__ import annotations

from rich.console import Group
from rich.text import Text

from outcomes.findings.results import Comparison
from outcomes.protocol import Protocol
from outcomes.report.headline import answers, who_sentence
from outcomes.report.tables.measures import main_table
from outcomes.report.tables.writers.text import as_text, cell_text
from outcomes.report.traced_text import plain
from outcomes.report.warning_words import caution_words

NO_ADVICE = "Past cases of this register; not advice."
NOTHING_MAIN = "No main measure of the primary window was asked for and measured; the report has all findings."


def terminal_summary(comparison: Comparison, protocol: Protocol) -> Group:
    """Give what a terminal shows of a comparison: what was compared, the main measures, what follows, and the warnings."""
    table = main_table(comparison, protocol)
    shown = as_text(table) if table.rows else Text(NOTHING_MAIN)
    said = (Text(f"{each.heading}: {' '.join(map(plain, each.sentences))}") for each in answers(comparison, protocol))
    warnings = (Text(f"! {caution_words(each)}", style="yellow") for each in comparison.warnings)
    return Group(cell_text(who_sentence(comparison)), Text(), shown, Text(), *said, *warnings, Text(NO_ADVICE))
