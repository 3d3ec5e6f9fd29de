"""Findings as words, tables, pictures and documents; nothing is calculated here."""

from outcomes.report.comparison_json import document, document_text
from outcomes.report.export import Charts, write_report
from outcomes.report.tables.writers.text import terminal_summary

__all__ = ["Charts", "document", "document_text", "terminal_summary", "write_report"]
