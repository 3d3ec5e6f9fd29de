"""Count the reference values that were compared, and tell how far off the worst was."""

from __future__ import annotations

import sys
from collections import defaultdict

import pytest

from tests.reference import COMPARISONS, Comparison

TESTS = ("tests/statistics",)


def main(paths: list[str]) -> int:
    """Run the tests under `paths`, or those of the statistics, then print one line a case and the total."""
    outcome = int(pytest.main(["-q", "-p", "no:cacheprovider", *(paths or TESTS)]))
    by_case: dict[str, list[Comparison]] = defaultdict(list)
    for comparison in COMPARISONS:
        by_case[comparison.case].append(comparison)
    print(f"{'case':<40} {'values':>7} {'failed':>7} {'worst relative error':>21}")
    for case in sorted(by_case):
        _print_line(case, by_case[case])
    _print_line(f"{len(by_case)} cases", COMPARISONS)
    return outcome


def _print_line(name: str, comparisons: list[Comparison]) -> None:
    failed = sum(not comparison.passed for comparison in comparisons)
    worst = max((comparison.relative_error for comparison in comparisons), default=0.0)
    print(f"{name:<40} {len(comparisons):>7} {failed:>7} {worst:>21.1e}")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
