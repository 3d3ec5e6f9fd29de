"""Find the value at an address of the report, in a way written apart from the report's own."""

import dataclasses
import math
from datetime import date


def value_at(comparison, protocol, address):
    """The value that an address names. KeyError, AttributeError or IndexError when it names none."""
    first, *rest = address.split(".")
    if first in {"findings", "findings_since_operation"}:
        clock = "division" if first == "findings" else "operation"
        measure, window, outcome, *rest = rest
        held = [
            f
            for f in comparison.findings
            if (f.measure, f.window, f.outcome, f.clock) == (measure, window, outcome, clock)
        ]
    elif first == "timing":
        event, months, *rest = rest
        held = [t for t in comparison.timing if t.event == event and t.at_months == int(months)]
    elif first == "means":
        event, *rest = rest
        held = [m for m in comparison.means if m.event == event]
    elif first == "followed_by_window":
        window, cohort, *rest = rest
        held = [f for f in comparison.followed_by_window if (f.window, f.cohort) == (window, cohort)]
    elif first in {"flow", "balance", "learning", "surgeons", "calendar"}:
        number, *rest = rest
        held = [getattr(comparison, first)[int(number)]]
    elif first == "protocol":
        held = [protocol]
    elif first == "families":
        number, *rest = rest
        held = [comparison.families[int(number)]]
    else:
        held = [getattr(comparison, first)]
    assert len(held) == 1, f"{address} names {len(held)} things"
    if rest == ["lids_needed"]:
        return lids_needed(held[0])
    return below(
        dataclasses.asdict(held[0]) if first != "protocol" else dataclasses.asdict(protocol.rules),
        rest[first == "protocol" :],
    )


def below(held, path):
    for name in path:
        if held is None:
            return None
        if isinstance(held, list | tuple):
            if isinstance(held[0], dict):
                held = held[int(name)] if name.isdigit() else next(each for each in held if each["id"] == name)
            else:
                held = dict(held)[name]
        else:
            held = held[name]
    assert not isinstance(held, dict | list | date)
    return held


def lids_needed(finding):
    """Lids needed grow with the square of how much finer a difference is to be found (a standard error goes with the root of n)."""
    return math.ceil(
        min(finding.grafted.n, finding.advanced.n) * (finding.could_find / finding.important_difference) ** 2
    )


SHARES = {"proportion", "followup_completeness", "confidence_level", "power", "tipping_share", "seen_share"}
DIFFERENCES = {"estimate", "low", "high", "could_find", "important_difference", "margin_bias", "margin_shift"}


def printed_value(comparison, protocol, address):
    """The value at an address in the unit in which the report prints it: shares out of 100, all else as it is."""
    value, parts = value_at(comparison, protocol, address), address.split(".")
    if value is None:
        return None
    of_shares = parts[-1] in DIFFERENCES and (parts[0] == "timing" or "poor" in parts[:4] or _share(comparison, parts))
    return 100 * value if parts[-1] in SHARES or of_shares else value


def _share(comparison, parts):
    """Whether an address is that of a main outcome which is a share."""
    if not parts[0].startswith("findings"):
        return False
    return any((f.measure, f.outcome) == (parts[1], parts[3]) and f.is_share for f in comparison.findings)
