"""One question a file: a case series in, a frozen answer out."""

from outcomes.cohort import CaseSeries, Selection
from outcomes.findings.assemble import case_series, stamp
from outcomes.findings.comparison import compare
from outcomes.findings.comparison_json import document, document_text
from outcomes.findings.disclosure.suppression import public
from outcomes.findings.results import Comparison, Stamp

__all__ = [
    "CaseSeries",
    "Comparison",
    "Selection",
    "Stamp",
    "case_series",
    "compare",
    "document",
    "document_text",
    "public",
    "stamp",
]
