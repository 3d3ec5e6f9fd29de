"""The tables of the calibration."""

from __future__ import annotations

import math

from tests.calibration.cell import COVERAGE, ERROR, MEASURED_LIDS, POWER, Cell

HEAD = """# Coverage of the intervals, errors of the tests, and power of the verdicts

Written by `python3 tests/calibration/run.py`. Simulated registers with known truth; every share has the Monte Carlo error of the
simulation beside it, in points. Differences of measures: 12 to 150 lids a cover, a tenth of the patients with two lids that are
alike (correlation 0.6), a quarter of the lids not measured, at random or depending on what is recorded; eight characteristics and a
surgeon to adjust for, the cover chosen by them as in the invented clinic. Crude differences: the covers dealt at random. Timed events:
12, 20 or 40 lids.

The target: a 95 % interval holds the truth in 93 to 97.5 %, and in no situation from 20 lids on in less than 92.5 %; a test of no
difference rejects in 5.5 % at most. *Wide*: more than 97.5 %. *Low*: less than 92.5 %, but within twice the Monte Carlo error of it;
*high*: the same of a test above 5.5 %. At 12 lids a cover there is no target for measures. Where the covers do not overlap or too few
lids were followed nothing is said, and *answered* is below 100 %. Gray's test drew 999 arrangements here and draws 9,999 in the program.

Verdicts: planned families of 17 measures by the functions of the comparison, every measure but the one in question without a
difference; in *good lids hidden* only 45 % of the patients with advanced skin come back who have no more poor results than most (all
others 90 %); in *each measure's own good lids hidden* the same of the lids that are not poor in that very measure. *Whole comparison*: the
program on invented clinics without any effect, every window and event.
"""


def result(cells: list[Cell]) -> str:
    """All cells, a table for each kind and each method."""
    parts = [HEAD]
    for kind in (POWER, COVERAGE, ERROR):
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
        "How often each verdict was given, each 95 % interval held the truth and each test erred, in simulated registers with known",
        "truth (12 to 150 lids a cover, confounded as planted in the demo, a quarter not measured). The target: coverage of 93 to",
        "97.5 % and never under 92.5 % from 20 lids on; tests 5.5 % at most.",
        "", "| truth | verdict | 40 a cover | 70 a cover | 150 a cover |", "|---|---|---|---|---|",
        *_power_lines([cell for cell in cells if cell.kind == POWER]),
        "", "| what | situations | least | greatest | beyond the target |", "|---|---|---|---|---|",
    ]  # fmt: skip
    for kind in (COVERAGE, ERROR):
        for what in dict.fromkeys(cell.what for cell in cells if cell.kind == kind):
            own = [cell for cell in cells if cell.kind == kind and cell.what == what and cell.answered]
            own = [cell for cell in own if kind != COVERAGE or cell.lids > min(MEASURED_LIDS)]
            lines += [_summary_line(kind, what, own)] if own else []
    lines.append("")
    lines.append("Every situation, with its Monte Carlo error: `tests/calibration/RESULT.md`.")
    return "\n".join(lines) + "\n"


def _power_lines(cells: list[Cell]) -> list[str]:
    places = dict.fromkeys((cell.what, cell.situation) for cell in cells)
    held = {(cell.what, cell.situation, cell.lids): cell for cell in cells}
    return [
        f"| {what} | {situation} | "
        + " | ".join(_percent(held.get((what, situation, lids))) for lids in (40, 70, 150))
        + " |"
        for what, situation in places
    ]


def _percent(cell: Cell | None) -> str:
    return "–" if cell is None or not cell.answered else f"{cell.share:.0%} (±{100 * cell.monte_carlo_error:.1f})"


def _summary_line(kind: str, what: str, own: list[Cell]) -> str:
    shares = [cell.share for cell in own]
    missed = sum(cell.verdict in {"too seldom", "too often"} for cell in own)
    near = sum(cell.verdict in {"low", "high"} for cell in own)
    wide = sum(cell.verdict.startswith("wide") for cell in own)
    beyond = f"{missed} missed, {near} within chance" + (f", {wide} wide" if kind == COVERAGE else "")
    return f"| {what} | {len(own)} | {min(shares):.1%} | {max(shares):.1%} | {beyond} |"
