"""Every figure of the pack shows the numbers of its findings, in one column and in two."""

from __future__ import annotations

import pytest

from outcomes.protocol import default_protocol
from tests.report.chart_numbers import (
    compare_balance,
    compare_curves,
    compare_differences,
    compare_timing,
    compare_windows,
    near,
)
from tests.report.drawn import marks, of_kind

PROTOCOL = default_protocol()
MAIN = {measure.id for measure in PROTOCOL.main_measures}


@pytest.fixture(params=[85, 175])
def figure(packs, request):
    return lambda name: marks((packs[False] / "figures" / f"{name}-{request.param}mm.svg").read_bytes())


@pytest.fixture
def comparison(helds):
    return helds[False].comparison


def test_differences(figure, comparison):
    held = [
        each
        for each in comparison.findings
        if each.is_planned and each.measure in MAIN and each.contrast.estimate is not None
    ]
    assert any(each.adjusted for each in held)
    compare_differences(figure("differences"), held, PROTOCOL)


def test_balance(figure, comparison):
    compare_balance(figure("balance"), comparison.balance, bound=PROTOCOL.rules.imbalance_smd)


@pytest.mark.parametrize("outcome", ["poor", "value"])
def test_windows(figure, comparison, outcome):
    measures = {measure.id for measure in PROTOCOL.main_measures}
    held = [
        each
        for each in comparison.findings
        if each.clock == "division"
        and each.outcome != "value"
        and each.is_share == (outcome == "poor")
        and each.measure in measures
        and each.grafted.n + each.advanced.n
    ]
    compare_windows(figure(f"main-{outcome}-by-window"), held, PROTOCOL)


@pytest.mark.parametrize("event", [timed.id for timed in PROTOCOL.timed])
def test_curves(figure, comparison, event):
    curves = [each for each in comparison.curves if each.event == event and each.points]
    compare_curves(figure(f"curve-{event.replace('_', '-')}"), curves)


def test_timing(packs, helds):
    found = marks((packs[True] / "figures" / "timing-175mm.svg").read_bytes())
    compare_timing(found, helds[True].comparison.timing, PROTOCOL)


def test_seen(figure, comparison):
    states = {"seen": "seen", "due, not seen": "missing", "not yet due": "not_due", "not applicable": "not_applicable"}
    labels = {window.id: window.label for window in PROTOCOL.windows}
    drawn = {
        (mark.said["row"], states[mark.said["state"]]): mark.right - mark.left
        for mark in of_kind(figure("seen"), "bar", "state")
    }
    assert drawn == near(
        {
            (f"{labels[each.window]}, {each.cohort[0]}", state): getattr(each, state)
            for each in comparison.followed_by_window
            for state in states.values()
        }
    )
