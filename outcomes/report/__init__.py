"""How are findings shown? In words, tables, pictures and documents; nothing is calculated here."""

from outcomes.report.tables.text import terminal_summary
from outcomes.report.writing import write_report

__all__ = ["terminal_summary", "write_report"]
