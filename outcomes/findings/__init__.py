"""Findings: each module computes one frozen result from a case series, or from the rows of the register.

The names below are imported when they are first used, so that a finding which needs no frames is quick.
"""

from typing import TYPE_CHECKING

from outcomes.lazy_names import lazy_names

if TYPE_CHECKING:
    from outcomes.cohort import CaseSeries, Choice, Selection
    from outcomes.findings.assemble import case_series, stamp
    from outcomes.findings.comparison import begin_comparison, compare
    from outcomes.findings.disclosure.levels import at_level
    from outcomes.findings.disclosure.suppression import public
    from outcomes.findings.results import Comparison, Stamp

__all__ = [
    "CaseSeries",
    "Choice",
    "Comparison",
    "Selection",
    "Stamp",
    "at_level",
    "begin_comparison",
    "case_series",
    "compare",
    "public",
    "stamp",
]
_MODULES = {
    "CaseSeries": "outcomes.cohort",
    "Choice": "outcomes.cohort",
    "Comparison": "outcomes.findings.results",
    "Selection": "outcomes.cohort",
    "Stamp": "outcomes.findings.results",
    "at_level": "outcomes.findings.disclosure.levels",
    "begin_comparison": "outcomes.findings.comparison",
    "case_series": "outcomes.findings.assemble",
    "compare": "outcomes.findings.comparison",
    "public": "outcomes.findings.disclosure.suppression",
    "stamp": "outcomes.findings.assemble",
}
__getattr__ = lazy_names(_MODULES)
