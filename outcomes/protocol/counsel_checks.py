"""Cross-reference checks of the tables and rules behind the patient's sheet."""

from __future__ import annotations

from outcomes.protocol.counsel import CounselItem, Likeness, Published
from outcomes.protocol.entries import CounselRules
from outcomes.protocol.fault import Fault
from outcomes.protocol.protocol import Protocol


def counsel_faults(protocol: Protocol) -> list[Fault]:
    """Everything wrong in the rules, the told results, the likeness rules and the published figures."""
    faults = _rule_faults(protocol, protocol.counsel)
    for told in protocol.told:
        faults += _told_faults(protocol, told)
    for rule in protocol.likeness:
        faults += _likeness_faults(protocol, rule)
    ids = {told.id for told in protocol.told}
    for figure in protocol.published:
        faults += _published_faults(figure, ids)
    return faults


def _rule_faults(protocol: Protocol, rules: CounselRules) -> list[Fault]:
    numbers = _numbers(protocol)
    return [
        Fault("counsel", "", key, f'"{name}" is not a characteristic that is a number')
        for key in ("terms", "ranges")
        for name in getattr(rules, key)
        if name not in numbers
    ]


def _numbers(protocol: Protocol) -> set[str]:
    return {each.id for each in protocol.characteristics if not each.levels_of}


def _told_faults(protocol: Protocol, told: CounselItem) -> list[Fault]:
    if sum(map(bool, (told.measure, told.timed, told.characteristic))) != 1:
        return [Fault("told", told.id, "", "needs exactly one of measure, timed, characteristic")]
    if told.measure:
        return _told_measure_faults(protocol, told)
    if told.timed:
        return _told_event_faults(protocol, told)
    days = {each.id for each in protocol.characteristics if each.days_between}
    return (
        []
        if told.characteristic in days
        else [Fault("told", told.id, "characteristic", "must be a number of days: " + ", ".join(sorted(days)))]
    )


def _told_measure_faults(protocol: Protocol, told: CounselItem) -> list[Fault]:
    measures = {measure.id: measure for measure in protocol.measures}
    windows = {window.id: window for window in protocol.windows}
    if told.measure not in measures:
        return [Fault("told", told.id, "measure", f'"{told.measure}" is not a measure')]
    if told.window not in windows:
        return [Fault("told", told.id, "window", "must be one of the windows " + ", ".join(windows))]
    if not protocol.judges(measures[told.measure], windows[told.window]):
        return [Fault("told", told.id, "window", "the measure has no poor result in this window")]
    return []


def _told_event_faults(protocol: Protocol, told: CounselItem) -> list[Fault]:
    dated = {timed.id for timed in protocol.timed if timed.origin == "events"}
    if told.timed not in dated:
        return [Fault("told", told.id, "timed", "must be dated in the events: " + ", ".join(sorted(dated)))]
    if told.within_months < 1:
        return [Fault("told", told.id, "within_months", "must be a whole number, 1 or more")]
    return []


def _likeness_faults(protocol: Protocol, rule: Likeness) -> list[Fault]:
    known = {field.id for field in protocol.fields if field.sheet in {"patients", "reconstructions"}}
    numbers = _numbers(protocol)
    faults = [
        Fault("likeness", rule.id, "same", f'"{name}" is not a field of patients or reconstructions')
        for name in rule.same
        if name not in known
    ]
    faults += [
        Fault("likeness", rule.id, "within", f'"{name}" is not a characteristic that is a number')
        for name, _ in rule.within
        if name not in numbers
    ]
    if not rule.same and not rule.within:
        faults.append(Fault("likeness", rule.id, "", "needs same or within"))
    return faults


def _published_faults(figure: Published, told: set[str]) -> list[Fault]:
    faults = []
    if figure.count > figure.of:
        faults.append(Fault("published", figure.id, "count", "must be a whole number from 0 to of, which is 1 or more"))
    elif abs(100 * figure.count / figure.of - figure.percent) > 0.1:  # noqa: PLR2004 - one decimal was printed
        faults.append(
            Fault("published", figure.id, "percent", f"{figure.percent:g} is not {figure.count} of {figure.of}")
        )
    if figure.told and figure.told not in told:
        faults.append(
            Fault("published", figure.id, "told", "must be one of the told results: " + ", ".join(sorted(told)))
        )
    return faults
