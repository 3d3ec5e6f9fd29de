"""Work back counts that were left out of a public output, by somebody who has only that output.

The attacker knows the rules of suppression, the protocol, which measures, windows and levels there are, and that lids which
were not seen in a window are the same for every measure; the full document only says which cells to look for and whether
they were found. For each cell it keeps the set of values that agree with all that was printed: one value left is a success.
Sums are taken from means, values from sums and quartiles, variances from intervals, shares from intervals and differences.
"""

import itertools
import math
from bisect import bisect_left
from fractions import Fraction
from functools import cache

import pytest

from outcomes.findings.disclosure.rounding import share_limits

COHORTS = ("grafted", "advanced")
CLOSE = 1e-9
MOST_STEPS = 20  # a sum of so many steps has 627 partitions: more are not tried
SLACK = 0.04  # how far an interval's width may be from that of the variances, for what the attacker cannot know


def small(count, threshold):
    return isinstance(count, int | float) and 0 < count < threshold


def possible(cell, whole, *, all_too=False):
    """The values that a printed count may have: itself, or what is said of it, or anything; all may be hidden too."""
    if cell is None:
        return set(range(whole + 1))
    if isinstance(cell, dict):
        under = range(1, min(cell["fewer_than"], whole + 1))
        return {whole - each for each in (*under, *([0] if all_too else []))} if cell["all_but"] else set(under)
    return {cell}


def worked_back(full, public, protocol):
    """Every small count of the full document that the public one gives away, as (place, value)."""
    threshold = protocol.rules.public_threshold
    found = cells(full, public, protocol)
    return [(place, true) for place, true, values in found if small(true, threshold) and values == {true}]


def cells(full, public, protocol):
    """Every count of the full document, with the values that agree with the public one."""
    return [
        *_findings(full, public, protocol),
        *_timing(full, public),
        *_groups(full, public),
        *_flow(full, public),
        *_balance(full, public),
    ]


def hidden_cells(full, public, protocol):
    """How many small counts of the full document there are to look for."""
    threshold = protocol.rules.public_threshold
    return sum(small(true, threshold) for _, true, _ in cells(full, public, protocol))


def shown(finding):
    """How a finding tells of its lids: as a share with a poor result, or as values; the win probability tells of no count."""
    return "poor" if "proportion" in finding["grafted"] else "win" if finding["outcome"] == "value" else "value"


def _key(finding):
    return finding["measure"], finding["window"], finding["clock"]


def _findings(full, public, protocol):
    printed = {}
    for finding in public["findings"]:
        printed.setdefault(_key(finding), {})[shown(finding)] = finding
    told = _told_elsewhere(public)
    for finding in full["findings"]:
        if shown(finding) == "win":
            continue
        key = _key(finding)
        entries = printed.get(key, {})
        measure = protocol.measure(finding["measure"])
        rule = (measure.poor, *_lattice(protocol, measure))
        values = _agreeing_values(entries, full, rule) if shown(finding) == "value" else {}
        for cohort in COHORTS:
            true, whole = finding[cohort], full["cohorts"][cohort]["cases"]
            seen = _seen(entries, cohort, whole)
            name = (*key, shown(finding), cohort)
            yield (*name, "n"), true["n"], seen
            yield (*name, "not seen"), whole - true["n"], {whole - n for n in seen}
            unseen = _unseen(entries, cohort, whole, seen, told.get((key[1], key[2], cohort), {}))
            for part in ("missing", "not_due", "not_applicable"):
                yield (*name, part), true.get(part), unseen[part]
            if shown(finding) == "poor":
                events = _events(entries, cohort, seen, rule, public)
                yield (*name, "events"), true["events"], events
                left = {n - e for n in seen for e in events} if len(seen) == 1 else {0, 1}
                yield (*name, "well"), true["n"] - true["events"], left
                if true["n"] >= protocol.rules.public_threshold:
                    yield (*name, "everybody"), int(true["events"] == true["n"]), {int(e == true["n"]) for e in events}
            else:
                yield from _each_value(name, true, entries, cohort, values.get(cohort), rule)


def _told_elsewhere(public):
    """What is printed of lids not seen in a window, for whichever measure: the same lids are not seen for every other."""
    told = {}
    for finding in public["findings"]:
        for cohort in COHORTS:
            for part in ("not_due", "not_applicable"):
                if finding[cohort].get(part) is not None:
                    told.setdefault((finding["window"], finding["clock"], cohort), {})[part] = finding[cohort][part]
    return told


def _seen(entries, cohort, whole):
    values = set(range(whole + 1))
    for entry in entries.values():
        values &= possible(entry[cohort]["n"], whole)
    return values


def _unseen(entries, cohort, whole, seen, told):
    parts = ("missing", "not_due", "not_applicable")
    if len(seen) != 1:
        return {key: set(range(whole + 1)) for key in parts}
    [n] = seen
    values = {part: set(range(whole - n + 1)) for part in parts}
    for part, count in told.items():
        values[part] = {count}
    for entry in entries.values():
        for part in parts:
            if entry[cohort].get(part) is not None:
                values[part] = {entry[cohort][part]}
    values["missing"] &= _from_bounds(entries, cohort, whole, n) or values["missing"]
    for part in parts:
        others = [values[other] for other in parts if other != part]
        if all(len(other) == 1 for other in others):
            values[part] = {whole - n - sum(next(iter(other)) for other in others)}
    return values


def _from_bounds(entries, cohort, whole, n):
    """The bounds for the missing are made of events, lids seen and lids missing: with two known, the third is too."""
    entry = entries.get("poor")
    if not entry or entry["unseen"]["worst_case"].get("low") is None or entry[cohort].get("events") is None:
        return set()
    other = COHORTS[1 - COHORTS.index(cohort)]
    if entry[other].get("events") is None:
        return set()
    return {
        mine
        for mine in range(whole - n + 1)
        for theirs in _theirs(entry, cohort, mine)
        if _bounds(entry, {cohort: mine, other: theirs})
        == pytest.approx((entry["unseen"]["worst_case"]["low"], entry["unseen"]["worst_case"]["high"]))
    }


def _bounds(entry, missing):
    due = {name: entry[name]["n"] + missing[name] for name in COHORTS}
    if not all(due.values()):
        return None
    least = {name: entry[name]["events"] / due[name] for name in COHORTS}
    most = {name: (entry[name]["events"] + missing[name]) / due[name] for name in COHORTS}
    return least["advanced"] - most["grafted"], most["advanced"] - least["grafted"]


def _theirs(entry, cohort, mine):
    """How many of the other cohort must be missing, if so many of this one are: the width of the bounds says it."""
    other = COHORTS[1 - COHORTS.index(cohort)]
    width = entry["unseen"]["worst_case"]["high"] - entry["unseen"]["worst_case"]["low"]
    due = entry[cohort]["n"] + mine
    left = width - mine / due if due else width
    if left >= 1 - CLOSE:
        return [0]
    return [max(0, round(left * entry[other]["n"] / (1 - left)))]


def _lattice(protocol, measure):
    """The least and the greatest value that a measure can have, the step between, and the decimals of its means."""
    field = protocol.value_field(measure)
    return (*protocol.limits(measure), field.step or 1.0, 1 if field.unit == "%" else 2)


def _events(entries, cohort, seen, rule, public):
    """The numbers of poor results that agree with shares, limits, differences, sums, counts of values, and quartiles."""
    if len(seen) != 1:
        return {e for n in seen for e in range(n + 1)}
    [n] = seen
    values = set(range(n + 1))
    poor, value = entries.get("poor"), entries.get("value")
    bound = rule[0]
    if poor and n:
        values &= _from_shares(poor, cohort, n, _second_lids(public, cohort))
    if value and n:
        if value[cohort].get("counts"):
            values &= {sum(each["lids"] for each in value[cohort]["counts"] if is_poor_value(each["value"], bound))}
        values = {e for e in values if _sum_agrees(value[cohort], e, n, rule)}
        for part, share in (("median", 0.5), ("q1", 0.25), ("q3", 0.75)):
            if value[cohort].get(part) is not None:
                values &= {e for e in values if _agrees(value[cohort][part], share, (e, n), rule)}
    return values


def _second_lids(public, cohort):
    """How many lids are second ones, as far as the attacker knows."""
    group = public["cohorts"][cohort]
    return None if group.get("patients") is None else group["cases"] - group["patients"]


def _from_shares(entry, cohort, n, pairs):
    side, other = entry[cohort], entry[COHORTS[1 - COHORTS.index(cohort)]]
    values = possible(side.get("events"), n, all_too=True)
    share = side.get("proportion")
    if share is not None:
        values = {e for e in values if abs(e / n - share) <= 0.005 + CLOSE}
    if entry["contrast"].get("estimate") is not None and other.get("proportion") is not None:
        sign = 1 if cohort == "advanced" else -1
        by_difference = other["proportion"] + sign * entry["contrast"]["estimate"]
        values = {e for e in values if abs(e / n - by_difference) <= 0.01 + CLOSE}
    if side.get("low") is not None:
        possible_pairs = range(n // 2 + 1) if pairs is None else [pairs]
        ends = {e: {_ends(e, n, each) for each in possible_pairs} for e in values}
        values = {e for e in values if any(math.dist(one, (side["low"], side["high"])) < 0.011 for one in ends[e])}
    return values


@cache
def _ends(events, n, pairs):
    found = share_limits(events / n, n, pairs, 0.95)
    return found.low, found.high


def _sum_agrees(side, events, n, rule):
    """Whether the printed mean can be that of n values of which so many are poor."""
    bound, least, most, step, decimals = rule
    if side.get("mean") is None or bound is None:
        return True
    ends = (side["mean"] - 0.5 * 10**-decimals) * n, (side["mean"] + 0.5 * 10**-decimals) * n
    if bound.at_least is not None:
        low, high = (
            events * bound.at_least + (n - events) * least,
            events * most + (n - events) * (bound.at_least - step),
        )
    else:
        low, high = events * least + (n - events) * (bound.at_most + step), events * bound.at_most + (n - events) * most
    return low <= ends[1] + CLOSE and high >= ends[0] - CLOSE


def is_poor_value(value, bound):
    return value >= bound.at_least if bound.at_least is not None else value <= bound.at_most


def _agrees(quantile, share, lids, rule):
    """Whether a quantile between two ordered values can be so when that many lids lie on the poor side."""
    (events, n), (bound, least, _, step, _) = lids, rule
    if bound is None:
        return True
    above = bound.at_least is not None
    place = Fraction(share).limit_denominator(4) * (n - 1)
    first, last = math.floor(place), math.ceil(place)
    is_poor = [(at >= n - events) if above else (at < events) for at in (first, last)]
    if all(is_poor):
        return quantile >= bound.at_least - CLOSE if above else quantile <= bound.at_most + CLOSE
    if not any(is_poor):
        return quantile <= bound.at_least - step + CLOSE if above else quantile >= bound.at_most + step - CLOSE
    return not above or quantile >= least + float(place - first) * (bound.at_least - least) - CLOSE


# Values from their sum: every way to make it of steps above the least value.


def _agreeing_values(entries, full, rule):
    """For each cohort the ways to have such values, as counts of steps above the least one, that agree with what is printed."""
    entry = entries.get("value")
    if not entry:
        return {}
    ways = {cohort: _ways(entries, cohort, full["cohorts"][cohort]["cases"], rule) for cohort in COHORTS}
    low, high = entry["contrast"].get("low"), entry["contrast"].get("high")
    if low is None or not all(ways.values()):
        return ways
    width = ((high - low) / 2 / 1.96 / rule[3]) ** 2
    spreads = {
        cohort: [_variance(way, entry[cohort]["n"]) / entry[cohort]["n"] for way in ways[cohort]] for cohort in COHORTS
    }
    kept = {}
    for cohort, other in (COHORTS, COHORTS[::-1]):
        theirs = sorted(spreads[other])
        kept[cohort] = [
            way
            for way, mine in zip(ways[cohort], spreads[cohort], strict=True)
            if _any_between(theirs, width * (1 - SLACK) - mine, width * (1 + SLACK) - mine)
        ]
    return {cohort: kept[cohort] or ways[cohort] for cohort in COHORTS}


def _any_between(numbers, low, high):
    at = bisect_left(numbers, low - CLOSE)
    return at < len(numbers) and numbers[at] <= high + CLOSE


def _variance(way, n):
    total, squares = sum(k * c for k, c in way.items()), sum(k * k * c for k, c in way.items())
    return (squares - total**2 / n) / (n - 1)


def _ways(entries, cohort, whole, rule):
    side = entries["value"][cohort]
    seen = possible(side["n"], whole)
    if len(seen) != 1 or side.get("mean") is None:
        return []
    [n] = seen
    _, least, most, step, decimals = rule
    ends = [(side["mean"] - least + sign * 0.5 * 10**-decimals) * n / step for sign in (-1, 1)]
    sums = range(math.ceil(ends[0] - CLOSE), math.floor(ends[1] + CLOSE) + 1)
    if not n or not sums or sums[-1] > MOST_STEPS:
        return []
    poor = entries.get("poor")
    allowed = possible(poor[cohort].get("events"), n, all_too=True) if poor else set(range(n + 1))
    return [
        way
        for total in sums
        for way in partitions(total, round((most - least) / step))
        if sum(way.values()) <= n and _way_agrees(way, n, side, allowed, rule)
    ]


def _way_agrees(way, n, side, allowed, rule):
    bound, least, _, step, _ = rule
    values = [least] * (n - sum(way.values())) + [least + k * step for k, c in sorted(way.items()) for _ in range(c)]
    if bound is not None and sum(is_poor_value(value, bound) for value in values) not in allowed:
        return False
    return all(
        abs(_quantile(values, share) - side[part]) < CLOSE
        for part, share in (("median", 0.5), ("q1", 0.25), ("q3", 0.75))
        if side.get(part) is not None
    )


def _quantile(values, share):
    place = share * (len(values) - 1)
    first, last = math.floor(place), math.ceil(place)
    return values[first] + (place - first) * (values[last] - values[first])


@cache
def partitions(total, largest):
    """Every way to make a sum of whole steps of at most so many, as how often each size is taken.

    The number of partitions of 10 is 42 (a known value).
    """
    if total == 0:
        return ({},)
    found = []
    for size in range(min(total, largest), 0, -1):
        found.extend({**rest, size: rest.get(size, 0) + 1} for rest in partitions(total - size, size))
    return tuple(found)


def _each_value(name, true, entries, cohort, ways, rule):
    """How many lids had each value, and that or more."""
    _, least, _, step, _ = rule
    printed = {each["value"]: each["lids"] for each in entries.get("value", {cohort: {}})[cohort].get("counts") or ()}
    n = true["n"]
    for each in true["counts"]:
        steps = round((each["value"] - least) / step)
        above = sum(other["lids"] for other in true["counts"] if other["value"] >= each["value"])
        values, cut = ({printed[each["value"]]} if each["value"] in printed else {0, 1}), {0, 1}
        if ways and not printed:
            values = {way.get(steps, 0) if steps else n - sum(way.values()) for way in ways}
            cut = {sum(c for k, c in way.items() if k >= steps) for way in ways}
        yield (*name, "value", each["value"]), each["lids"], values
        if steps:
            yield (*name, "from", each["value"]), above, cut
            yield (*name, "under", each["value"]), n - above, {n - one for one in cut}


def _timing(full, public):
    printed = {(each["event"], each["at_months"]): each for each in public["timing"]}
    for finding in full["timing"]:
        of_event = sorted((m, each) for (event, m), each in printed.items() if event == finding["event"])
        for cohort in COHORTS:
            whole, true = full["cohorts"][cohort]["cases"], finding[cohort]
            out = set(range(whole + 1)).intersection(*(possible(each[cohort]["n"], whole) for _, each in of_event))
            events = _events_by(finding["at_months"], of_event, cohort, out)
            name = (finding["event"], finding["at_months"], cohort)
            yield (*name, "n"), true["n"], out
            yield (*name, "not set out"), whole - true["n"], {whole - n for n in out}
            yield (*name, "events"), true["events"], events
            yield (*name, "free"), true["n"] - true["events"], {n - e for n in out for e in events if e <= n}
            for part in ("due", "lost"):
                at = printed.get((finding["event"], finding["at_months"]))
                told = at[cohort].get(part) if at else None
                yield (*name, part), true.get(part), {told} if told is not None else {0, 1}
    for cohort in COHORTS:
        yield from _steps(full, printed, cohort)


def _events_by(months, of_event, cohort, out):
    """The events by a month: what is printed of it, at least those of every earlier month, at most those of every later one."""
    values = set(range(max(out) + 1))
    for at, each in of_event:
        there = possible(each[cohort].get("events"), max(out), all_too=True)
        if at == months:
            values &= there
        elif at < months:
            values = {e for e in values if e >= min(there)}
        else:
            values = {e for e in values if e <= max(there)}
    return values


def _steps(full, printed, cohort):
    """What happened between any two months, where both are printed."""
    events = {}
    for finding in full["timing"]:
        events.setdefault(finding["event"], []).append(finding)
    for event, findings in events.items():
        for one, two in itertools.combinations(findings, 2):
            both = [printed.get((event, each["at_months"]), {cohort: {}})[cohort].get("events") for each in (one, two)]
            known = [each for each in both if isinstance(each, int)]
            name = (event, one["at_months"], two["at_months"], cohort, "between")
            yield (
                name,
                two[cohort]["events"] - one[cohort]["events"],
                {known[1] - known[0]} if len(known) > 1 else {0, 1},
            )


def _groups(full, public):
    for cohort in COHORTS:
        true, told = full["cohorts"][cohort], public["cohorts"][cohort]
        whole = true["cases"]
        n_seen = [min(possible(each[cohort]["n"], whole)) for each in public["findings"] if each["clock"] == "division"]
        known = [line[f"{cohort}_known"] for line in public["balance"] if line.get("consequence")]
        divided = (
            {told["divided"]} if told.get("divided") is not None else set(range(max(n_seen, default=0), whole + 1))
        )
        divided &= set(known) or divided
        yield (cohort, "not divided"), whole - true["divided"], {whole - each for each in divided}
        patients = {told["patients"]} if told.get("patients") is not None else set(range(1, whole + 1))
        yield (cohort, "second lids"), whole - true["patients"], {whole - each for each in patients}
        masked = {told["masked_reviews"]} if told.get("masked_reviews") is not None else set(range(true["reviews"] + 1))
        yield (cohort, "masked reviews"), true["masked_reviews"], masked
        yield (
            (cohort, "unmasked reviews"),
            true["reviews"] - true["masked_reviews"],
            {true["reviews"] - m for m in masked},
        )
        by_each = [count for _, count in told["assessors"]]
        for place, (_, count) in enumerate(true["assessors"]):
            yield (cohort, "assessor", place), count, {by_each[place]} if by_each else {0, 1}
        without = true["reviews"] - sum(count for _, count in true["assessors"])
        yield (cohort, "no assessor"), without, {true["reviews"] - sum(by_each)} if by_each else {0, 1}


def _flow(full, public):
    printed = {step["step"]: step for step in public["flow"]}
    for cohort in COHORTS:
        whole = full["cohorts"][cohort]["cases"]
        counts = {}
        for step in full["flow"]:
            told = printed.get(step["step"])
            counts[step["step"]] = {told[cohort]} if told else set(range(whole + 1))
            name = (step["step"], cohort)
            yield (*name, "left"), step[cohort], counts[step["step"]]
            yield (*name, "gone"), abs(whole - step[cohort]), {abs(whole - each) for each in counts[step["step"]]}
        steps = full["flow"]
        for one, two in itertools.pairwise(steps):
            both = [counts[each["step"]] for each in (one, two)]
            gone = {abs(a - b) for a in both[0] for b in both[1]}
            if not one["step"].startswith("reviewed"):  # the steps before the first review are one chain
                yield (one["step"], two["step"], cohort), one[cohort] - two[cohort], gone


def _balance(full, public):
    for field in {line["field"] for line in full["balance"]}:
        lines = [line for line in full["balance"] if line["field"] == field]
        told = [line for line in public["balance"] if line["field"] == field]
        for cohort in COHORTS:
            whole = full["cohorts"][cohort]["cases"]
            known = {told[0][f"{cohort}_known"]} if told else set(range(whole + 1))
            yield (field, cohort, "not recorded"), lines[0][f"{cohort}_missing"], {whole - each for each in known}
            if lines[0]["level"]:
                yield from _levels(field, cohort, (lines, told), known)


def _levels(field, cohort, both, known):
    """The levels that are printed are known; of one that is not, what the others leave of the whole."""
    lines, told = both
    printed = {line["level"]: line[cohort] for line in told}
    coded = bool(told) and not set(printed) & {line["level"] for line in lines}
    for line in lines:
        name = (field, line["level"], cohort)
        if line["level"] in printed:
            values = {printed[line["level"]]}
        elif coded and len(told) == len(lines):
            values = {line[cohort]}
        else:
            hidden = [each for each in lines if each["level"] not in printed]
            others = sum(count for level, count in printed.items() if level in {each["level"] for each in lines})
            left = {each - others for each in known}
            values = left if len(hidden) == 1 else set(range(int(max(left)) + 1))
        yield name, line[cohort], values
        if len(lines) == 1:
            yield (*name, "not"), line[f"{cohort}_known"] - line[cohort], {k - v for k in known for v in values}
