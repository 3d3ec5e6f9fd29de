"""The patient's sheet: pictures of 100 people, in words that can be read out."""

from outcomes.report.counsel.html import write_html_sheet
from outcomes.report.counsel.language import Language, read_language
from outcomes.report.counsel.pdf import write_pdf_sheet
from outcomes.report.counsel.sheet import Sheet, make_sheet
from outcomes.report.counsel.terminal import surgeon_details, surgeon_summary

__all__ = [
    "Language",
    "Sheet",
    "make_sheet",
    "read_language",
    "surgeon_details",
    "surgeon_summary",
    "write_html_sheet",
    "write_pdf_sheet",
]
