"""Work back the lids of each grade from mean, poor share, quartiles, interval and win probability together.

The attacker tries every way in which so many lids can have the grades of a scale; the interval is Welch's, as the difference of
two means has where no patient has two lids. One count left for a grade, or for a grade and all above it, is a success.
"""

import itertools
import math
from dataclasses import dataclass

import numpy as np
from scipy.stats import t

from tests.findings.disclosure.attack import is_poor_value, possible, shown

COHORTS = ("grafted", "advanced")
HALF = 0.5001
QUARTILES = {"median": 0.5, "q1": 0.25, "q3": 0.75}
MOST_PAIRS = 2_000_000


@dataclass(frozen=True)
class Cell:
    """A small count of a grade, or of it and all above: where, what it is, and the values that agree with what is printed."""

    place: tuple[str, ...]
    true: int
    values: frozenset[int]


def worked_back(cells):
    return [cell for cell in cells if cell.values == {cell.true}]


def cells(full, public, protocol):
    """Every small count of grades in the full document, with the values that agree with the public one."""
    threshold = protocol.rules.public_threshold
    printed = {}
    for finding in public["findings"]:
        printed.setdefault((finding["measure"], finding["window"]), {})[shown(finding)] = finding
    for finding in full["findings"]:
        measure = protocol.measure(finding["measure"])
        if finding["clock"] != "division" or shown(finding) != "value" or not protocol.value_field(measure).levels:
            continue
        told = printed.get((finding["measure"], finding["window"]), {})
        levels = range(int(protocol.limits(measure)[0]), int(protocol.limits(measure)[1]) + 1)
        ways = _ways(told, levels, measure.poor)
        for cohort, of_cohort in zip(COHORTS, ways, strict=True):
            held = {each["value"]: each["lids"] for each in finding[cohort]["counts"]}
            true = [held.get(level, 0) for level in levels]
            assert not of_cohort or tuple(true) in of_cohort, (finding["measure"], finding["window"], cohort)
            for name, count in (("at", lambda way, at: way[at]), ("from", lambda way, at: sum(way[at:]))):
                for at in range(len(levels)):
                    if 0 < count(true, at) < threshold:
                        place = (finding["measure"], finding["window"], cohort, name, str(levels[at]))
                        yield Cell(place, count(true, at), frozenset(count(way, at) for way in of_cohort))


def _ways(told, levels, poor):
    """The ways in which the grades of both cohorts can lie, as sets; empty where nothing is printed to try them by."""
    value = told.get("value")
    if not value or any(not isinstance(value[each]["n"], int) or value[each]["mean"] is None for each in COHORTS):
        return set(), set()
    sides = [sorted(_of_side(value[each], told.get("poor", {}).get(each), levels, poor)) for each in COHORTS]
    if math.prod(map(len, sides)) > MOST_PAIRS:
        return set(sides[0]), set(sides[1])
    agree = _agreeing(value["contrast"], told.get("win"), [np.array(each) for each in sides], np.array(levels))
    return tuple({side[at] for at in np.flatnonzero(agree.any(axis=1 - axis))} for axis, side in enumerate(sides))


def _of_side(value, share, levels, poor):
    """The ways of one cohort, by its lids, mean, poor lids and quartiles."""
    n = value["n"]
    events = possible(share.get("events"), n, all_too=True) if share and poor else None
    ends = [(value["mean"] - levels[0] + sign * 0.005) * n for sign in (-1, 1)]
    for total in range(math.ceil(ends[0] - 1e-9), math.floor(ends[1] + 1e-9) + 1):
        for way in _partitions(n, total, len(levels)):
            bad = sum(lids for level, lids in zip(levels, way, strict=True) if poor and is_poor_value(level, poor))
            if (events is None or bad in events) and _quartiles_agree(way, levels, value):
                yield way


def _partitions(n, total, levels):
    """Every way in which n lids have so many steps in all."""
    if levels == 1:
        if not total:
            yield (n,)
        return
    step = levels - 1
    for lids in range(min(n, total // step) + 1):
        for rest in _partitions(n - lids, total - lids * step, step):
            yield (*rest, lids)


def _quartiles_agree(way, levels, value):
    values = np.repeat(levels, way)
    printed = [(value[name], share) for name, share in QUARTILES.items() if value[name] is not None]
    return all(abs(np.quantile(values, share) - each) < 1e-6 for each, share in printed)


def _agreeing(contrast, win, ways, levels):
    """Which pairs of ways give the printed interval and the printed win probability."""
    n = [each[0].sum() if len(each) else 1 for each in ways]
    means = [each @ levels / size for each, size in zip(ways, n, strict=True)]
    squared = [
        (each @ levels**2 - size * mean**2) / (size - 1) / size for each, size, mean in zip(ways, n, means, strict=True)
    ]
    agree = np.ones((len(ways[0]), len(ways[1])), dtype=bool)
    if contrast["low"] is not None:
        variance = squared[0][:, None] + squared[1]
        parts = squared[0][:, None] ** 2 / (n[0] - 1) + squared[1] ** 2 / (n[1] - 1)
        with np.errstate(divide="ignore", invalid="ignore"):
            half = t.ppf(0.975, variance**2 / parts) * np.sqrt(variance)
        difference = means[1] - means[0][:, None]
        for end, at in ((contrast["low"], difference - half), (contrast["high"], difference + half)):
            agree &= np.abs(at - end) < 0.01 * HALF
    if win and win["contrast"]["estimate"] is not None:
        better = sum(
            np.outer(ways[0][:, one], ways[1][:, other]) * (0.5 if one == other else 1.0)
            for one, other in itertools.product(range(len(levels)), repeat=2)
            if other <= one
        )
        agree &= np.abs(better / n[0] / n[1] - win["contrast"]["estimate"]) < 0.01 * HALF
    return agree
