"""Findings: each module computes one frozen result from a case series."""

from outcomes.cohort import CaseSeries, Selection
from outcomes.findings.assemble import case_series, stamp
from outcomes.findings.comparison import compare
from outcomes.findings.disclosure.levels import at_level
from outcomes.findings.disclosure.suppression import public
from outcomes.findings.results import Comparison, Stamp

__all__ = [
    "CaseSeries",
    "Comparison",
    "Selection",
    "Stamp",
    "at_level",
    "case_series",
    "compare",
    "public",
    "stamp",
]
