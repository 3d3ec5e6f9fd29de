"""Findings as words, tables, pictures and documents; nothing is calculated here.

The names below are imported when they are first used, so that a list on the terminal needs no charts.
"""

from typing import TYPE_CHECKING

from outcomes.lazy_names import lazy_names

if TYPE_CHECKING:
    from outcomes.report.comparison_json import document, document_text
    from outcomes.report.export import Charts, write_report
    from outcomes.report.terminal import terminal_summary

__all__ = ["Charts", "document", "document_text", "terminal_summary", "write_report"]
_MODULES = {
    "Charts": "outcomes.report.export",
    "document": "outcomes.report.comparison_json",
    "document_text": "outcomes.report.comparison_json",
    "terminal_summary": "outcomes.report.terminal",
    "write_report": "outcomes.report.export",
}
__getattr__ = lazy_names(_MODULES)
