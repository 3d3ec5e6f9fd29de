"""Findings shown in words, tables, charts and documents; nothing is calculated here."""

from outcomes.report.export import write_report
from outcomes.report.tables.writers.text import terminal_summary

__all__ = ["terminal_summary", "write_report"]
