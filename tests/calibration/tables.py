"""How are the counts shown?"""

from __future__ import annotations

import math

from tests.calibration.cell import COVERAGE, ERROR, Cell

HEAD = """# Do the intervals hold the truth, and do the tests err no more often than they say?

Written by `python3 tests/calibration/run.py`. Two cohorts of 12, 20 or 40 lids, a tenth of the patients with two lids that are
alike (correlation 0.6), 10 % of the grafted and 20 % of the advanced lids not seen in a window. Every share has the Monte Carlo
error of the simulation beside it, in points.

The target: a 95 % interval holds the truth in 93 to 97.5 %, and in no situation in less than 92.5 %; a test of no difference
rejects in 5.5 % at most. *Wide*: more than 97.5 %. With rare results in a dozen lids only a few intervals are possible, and those
that hold the truth often enough hold it too often; it cannot be helped, and errs on the safe side. Values in half millimetres
are wide on purpose: half a step is allowed at each end, since a true shift of a quarter of a millimetre cannot be seen otherwise.
*Low*: less than 92.5 %, but within twice the Monte Carlo error of it; *high*: the same of a test above 5.5 %. Where too few lids
were followed nothing is said, and *answered* is below 100 %. Gray's test drew 999 arrangements here and draws 9,999 in the
program; resamples were 400, and 200 in whole comparisons, where the program takes 2,000.
"""


def result(cells: list[Cell]) -> str:
    """All cells, a table for each kind and each method."""
    parts = [HEAD]
    for kind in (COVERAGE, ERROR):
        parts.append(f"\n## {kind[0].upper()}{kind[1:]}\n")
        for what in dict.fromkeys(cell.what for cell in cells if cell.kind == kind):
            parts.append(
                f"\n### {what}\n\n| situation | lids a cover | simulated | answered | share | error | |\n|---|---|---|---|---|---|---|\n"
            )
            parts += [_line(cell) for cell in cells if cell.kind == kind and cell.what == what]
    return "".join(parts)


def _line(cell: Cell) -> str:
    answered = cell.answered / cell.simulated if cell.simulated else math.nan
    share, error = ("–", "–") if not cell.answered else (f"{cell.share:.1%}", f"{cell.monte_carlo_error * 100:.1f}")
    return (
        f"| {cell.situation} | {cell.lids} | {cell.simulated} | {answered:.0%} | {share} | {error} | {cell.verdict} |\n"
    )


def summary(cells: list[Cell]) -> str:
    """One line a method: the least and greatest share over all situations, and how many missed the target."""
    lines = [
        "How often each 95 % interval held the truth, and each test erred, in simulated registers of 12, 20 and 40 lids a cover",
        "(a tenth of the patients with two lids, some lids not seen); least and greatest share over all situations. The target:",
        "93 to 97.5 % and never under 92.5 %; tests 5.5 % at most. Wider intervals come from rare results in few lids.",
        "", "| what | situations | least | greatest | beyond the target |", "|---|---|---|---|---|",
    ]  # fmt: skip
    for kind in (COVERAGE, ERROR):
        for what in dict.fromkeys(cell.what for cell in cells if cell.kind == kind):
            own = [cell for cell in cells if cell.kind == kind and cell.what == what and cell.answered]
            lines.append(_summary_line(kind, what, own))
    lines.append("")
    lines.append("Every situation, with its Monte Carlo error: `tests/calibration/RESULT.md`.")
    return "\n".join(lines) + "\n"


def _summary_line(kind: str, what: str, own: list[Cell]) -> str:
    shares = [cell.share for cell in own]
    missed = sum(cell.verdict in {"too seldom", "too often"} for cell in own)
    near = sum(cell.verdict in {"low", "high"} for cell in own)
    wide = sum(cell.verdict.startswith("wide") for cell in own)
    beyond = f"{missed} missed, {near} within chance" + (f", {wide} wide" if kind == COVERAGE else "")
    return f"| {what} | {len(own)} | {min(shares):.1%} | {max(shares):.1%} | {beyond} |"
