"""The words of the pack keep their limit, leave judgements to the author, and choose no result for being good."""

from dataclasses import replace

import pytest

from outcomes.findings.results import Adjusted
from outcomes.protocol import default_protocol
from outcomes.report.finding_index import finding_place
from outcomes.report.pack.abstract import abstract
from outcomes.report.pack.manuscript import limitations, told_results, verdicts, words_in
from outcomes.report.sentences import signed_change, with_interval
from outcomes.report.traced_text import plain
from outcomes.report.warning_words import caution_words

PROTOCOL = default_protocol()


def said(parts):
    return " ".join(plain(each) for part in parts for each in part.sentences)


@pytest.mark.parametrize("limit", [200, 250, 350])
def test_the_abstract_keeps_to_its_limit(helds, limit):
    for held in helds.values():
        assert words_in(abstract(held.comparison, held.facts, held.protocol, limit=limit)) <= limit


def test_every_main_measure_is_in_the_shortest_abstract_in_the_order_of_the_protocol(helds):
    for held in helds.values():
        text = said(abstract(held.comparison, held.facts, held.protocol, limit=1)).lower()
        asked = [m for m in PROTOCOL.main_measures if m.id in {"margin_position", "notching", "oedema"}]
        assert all(measure.label.lower() in text for measure in asked)


@pytest.mark.parametrize("limit", [1, 80, 150, 250, 2000])
def test_whatever_the_limit_the_abstract_keeps_each_adjusted_estimate_how_to_read_it_and_the_confounding(helds, limit):
    for held in helds.values():
        text = said(abstract(held.comparison, held.facts, held.protocol, limit=limit))
        assert "Differences are advanced minus grafted with 95% intervals, adjusted for" in text
        assert "Covers were chosen because of the defect; only what was recorded could be adjusted for." in text
        told = told_results(held.comparison, held.protocol)
        assert told
        for each in told:
            assert each.verdict in text
            if each.adjusted is not None and each.adjusted.estimate is not None:
                written = plain(with_interval(finding_place(each), "adjusted", signed_change(each, held.protocol)))
                assert f"adjusted difference {written}" in text


def test_the_order_of_the_results_does_not_depend_on_how_good_they_are(helds):
    held = helds[False]
    plain_order = _results(held.comparison, held)
    best = replace(
        held.comparison,
        findings=tuple(
            replace(each, verdict="better with advanced" if each.measure == "oedema" else "too few to say")
            for each in held.comparison.findings
        ),
    )
    assert [s.split(":")[0] for s in _results(best, held)][:3] == [s.split(":")[0] for s in plain_order][:3]


def _results(comparison, held):
    (part,) = [p for p in abstract(comparison, held.facts, held.protocol, limit=350) if p.heading == "Results"]
    return [plain(each) for each in part.sentences]


def test_judgements_are_marked_gaps_in_the_abstract_and_the_limitations(helds):
    for held in helds.values():
        text = said(abstract(held.comparison, held.facts, held.protocol, limit=250))
        assert text.count("[AUTHOR:") == 2
        assert "[AUTHOR:" in plain(limitations(held.comparison)[-1])
        for word in ("superior", "should be preferred", "recommend", "safe", "significant"):
            assert word not in text


def test_the_limitations_are_the_warnings_that_hold_and_no_other(helds):
    held = helds[False]
    told = [plain(each) for each in limitations(held.comparison)]
    assert [caution_words(each) for each in held.comparison.warnings] == told[: len(held.comparison.warnings)]
    without = replace(held.comparison, warnings=())
    assert len(limitations(without)) == len(told) - len(held.comparison.warnings)


def test_nothing_is_called_left_out_in_a_pack_for_the_surgeons_own_eyes(helds):
    own = helds[False]
    said_of_own = " ".join(plain(each) for each in verdicts(own.comparison, own.protocol))
    assert "Left out" not in said_of_own
    assert "Not asked for: retraction, scleral show and lash loss." in said_of_own


def test_each_reason_why_something_is_left_out_is_its_own(helds):
    own = helds[False]
    findings = []
    for each in own.comparison.findings:
        if each.measure == "notching":
            nobody = {"n": 0, "mean": None, "sd": None} if hasattr(each.grafted, "mean") else {"n": 0, "events": 0}
            findings.append(
                replace(
                    each,
                    grafted=replace(each.grafted, **nobody),
                    advanced=replace(each.advanced, **nobody),
                    verdict="too few to say",
                )
            )
        elif each.measure == "oedema":
            bare = replace(each.contrast, estimate=None, low=None, high=None)
            findings.append(replace(each, contrast=bare, adjusted=None, withheld="public", verdict=None))
        else:
            findings.append(each)
    told = " ".join(plain(each) for each in verdicts(replace(own.comparison, findings=tuple(findings)), own.protocol))
    assert "Left out, as counts so small could point to a person: oedema of the cover." in told
    assert "Not measured at the main review: notching." in told
    assert "Not asked for: retraction, scleral show and lash loss." in told


def test_a_verdict_that_survives_suppression_is_said_without_its_numbers(helds):
    own = helds[False]
    findings = tuple(
        replace(
            each,
            contrast=replace(each.contrast, estimate=None, low=None, high=None),
            adjusted=None,
            withheld="public",
            verdict="better with advanced" if each.is_planned else None,
        )
        if each.measure == "oedema"
        else each
        for each in own.comparison.findings
    )
    shown = replace(own.comparison, findings=findings)
    text = said(abstract(shown, own.facts, own.protocol, limit=250))
    kept = "better with advanced (numbers not shown: small counts)"
    assert kept in text
    told = [plain(each) for each in verdicts(shown, own.protocol)]
    assert "Better with advanced: oedema of the cover." in told
    assert "Numbers not shown, as counts are small: oedema of the cover." in told


def test_the_adjusted_estimates_and_the_sentence_on_confounding_stay_in_the_shortest_abstract(helds):
    for held in helds.values():
        text = said(abstract(held.comparison, held.facts, held.protocol, limit=1))
        assert "Covers were chosen because of the defect; only what was recorded could be adjusted for." in text
    own = helds[False]
    assert isinstance(next(each for each in own.comparison.findings if each.is_planned).adjusted, Adjusted)
    assert said(abstract(own.comparison, own.facts, own.protocol, limit=1)).count("adjusted difference") == 3
