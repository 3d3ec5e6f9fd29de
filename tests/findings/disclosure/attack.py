"""Can somebody who has only the public output work back a count that was left out of it?

The attacker knows the rules of suppression, the protocol, which measures, windows and levels there are, and that lids which
were not seen in a window are the same for every measure; the full document only says which cells to look for and whether
they were found. For each cell it keeps the set of values that agree with all that was printed: one value left is a success.
"""

import itertools
import math
from fractions import Fraction

import pytest

COHORTS = ("grafted", "advanced")
CLOSE = 1e-9


def small(count, threshold):
    return count is not None and 0 < count < threshold


def worked_back(full, public, protocol):
    """Every small count of the full document that the public one gives away, as (place, value)."""
    threshold = protocol.rules.public_threshold
    found = [
        *_findings(full, public, protocol),
        *_timing(full, public),
        *_groups(full, public),
        *_flow(full, public),
        *_balance(full, public),
    ]
    return [(place, true) for place, true, values in found if small(true, threshold) and len(values) == 1]


def hidden_cells(full, public, protocol):
    """How many small counts of the full document there are to look for."""
    threshold = protocol.rules.public_threshold
    found = [*_findings(full, public, protocol), *_timing(full, public), *_groups(full, public), *_flow(full, public)]
    return sum(small(true, threshold) for _, true, _ in [*found, *_balance(full, public)])


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
        bound, lattice = measure.poor, _lattice(protocol, measure)
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
                events = _events(entries, cohort, seen, (bound, *lattice))
                yield (*name, "events"), true["events"], events
                left = {n - e for n in seen for e in events} if len(seen) == 1 else {0, 1}
                yield (*name, "well"), true["n"] - true["events"], left
            else:
                yield from _each_value(name, true, entries, cohort)


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
    exact = {entry[cohort]["n"] for entry in entries.values()}
    return exact or set(range(whole + 1))


def _unseen(entries, cohort, whole, seen, told):
    parts = ("missing", "not_due", "not_applicable")
    if len(seen) > 1:
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
    """The least value that a measure can have, and the step between its values: as the protocol says it, or whole grades."""
    return protocol.limits(measure)[0], protocol.value_field(measure).step or 1.0


def _events(entries, cohort, seen, rule):
    """The numbers of poor results that agree with shares, differences, counts of values, and quartiles."""
    values = {e for n in seen for e in range(n + 1)}
    poor, value = entries.get("poor"), entries.get("value")
    bound = rule[0]
    [n] = seen if len(seen) == 1 else [None]
    if poor and n:
        values &= _from_shares(poor, cohort, n)
    if value and n:
        if value[cohort]["counts"]:
            values &= {sum(each["lids"] for each in value[cohort]["counts"] if _is_poor(each["value"], bound))}
        for part, share in (("median", 0.5), ("q1", 0.25), ("q3", 0.75)):
            if value[cohort].get(part) is not None:
                values &= {e for e in values if _agrees(value[cohort][part], share, (e, n), rule)}
    return values


def _from_shares(entry, cohort, n):
    side, other = entry[cohort], entry[COHORTS[1 - COHORTS.index(cohort)]]
    if side.get("events") is not None:
        return {side["events"]}
    share = side.get("proportion")
    if share is None and entry["contrast"].get("estimate") is not None and other.get("proportion") is not None:
        sign = 1 if cohort == "advanced" else -1
        share = other["proportion"] + sign * entry["contrast"]["estimate"]
    if share is not None:
        return {round(share * n)}
    return set(range(n + 1))


def _is_poor(value, bound):
    return value >= bound.at_least if bound.at_least is not None else value <= bound.at_most


def _agrees(quantile, share, lids, rule):
    """Whether a quantile between two ordered values can be so when that many lids lie on the poor side."""
    (events, n), (bound, least, step) = lids, rule
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


def _each_value(name, true, entries, cohort):
    printed = {each["value"]: each["lids"] for each in entries.get("value", {cohort: {"counts": []}})[cohort]["counts"]}
    for each in true["counts"]:
        values = {printed[each["value"]]} if each["value"] in printed else {0, 1}
        yield (*name, "value", each["value"]), each["lids"], values


def _timing(full, public):
    printed = {(each["event"], each["at_months"]): each for each in public["timing"]}
    for finding in full["timing"]:
        of_event = sorted((m, each) for (event, m), each in printed.items() if event == finding["event"])
        for cohort in COHORTS:
            whole, true = full["cohorts"][cohort]["cases"], finding[cohort]
            out = {each[cohort]["n"] for _, each in of_event} or set(range(whole + 1))
            before = max((each[cohort]["events"] for m, each in of_event if m <= finding["at_months"]), default=0)
            after = min((each[cohort]["events"] for m, each in of_event if m >= finding["at_months"]), default=max(out))
            events = set(range(before, after + 1))
            name = (finding["event"], finding["at_months"], cohort)
            yield (*name, "n"), true["n"], out
            yield (*name, "not set out"), whole - true["n"], {whole - n for n in out}
            yield (*name, "events"), true["events"], events
            yield (*name, "free"), true["n"] - true["events"], {n - e for n in out for e in events}
            for part in ("due", "lost"):
                at = printed.get((finding["event"], finding["at_months"]))
                told = at[cohort].get(part) if at else None
                yield (*name, part), true.get(part), {told} if told is not None else {0, 1}
    for cohort in COHORTS:
        yield from _steps(full, printed, cohort)


def _steps(full, printed, cohort):
    """What happened between two moments, where both are printed."""
    events = {}
    for finding in full["timing"]:
        events.setdefault(finding["event"], []).append(finding)
    for event, findings in events.items():
        for one, two in itertools.pairwise(findings):
            both = [printed.get((event, each["at_months"])) for each in (one, two)]
            told = {both[1][cohort]["events"] - both[0][cohort]["events"]} if all(both) else {0, 1}
            name = (event, one["at_months"], two["at_months"], cohort, "between")
            yield name, two[cohort]["events"] - one[cohort]["events"], told


def _groups(full, public):
    for cohort in COHORTS:
        true, told = full["cohorts"][cohort], public["cohorts"][cohort]
        whole = true["cases"]
        n_seen = [each[cohort]["n"] for each in public["findings"] if each["clock"] == "division"]
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
