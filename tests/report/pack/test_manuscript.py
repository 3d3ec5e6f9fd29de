"""Do the words of the pack keep their limit, leave judgements to the author, and choose no result for being good?"""

from dataclasses import replace

import pytest

from outcomes.findings.results import Range
from outcomes.protocol import default_protocol
from outcomes.report.pack.manuscript import abstract, limitations, readings, words_in
from outcomes.report.traced_text import plain

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


def test_the_order_of_the_results_does_not_depend_on_how_good_they_are(helds):
    held = helds[False]
    plain_order = _results(held.comparison, held)
    best = replace(
        held.comparison,
        findings=tuple(
            replace(each, reading="better with advanced" if each.measure == "oedema" else "too few to say")
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
    assert [each.text for each in held.comparison.warnings] == told[: len(held.comparison.warnings)]
    without = replace(held.comparison, warnings=())
    assert len(limitations(without)) == len(told) - len(held.comparison.warnings)


def test_nothing_is_called_left_out_in_a_pack_for_the_surgeons_own_eyes(helds):
    own = helds[False]
    bare = [
        replace(each, contrast=replace(each.contrast, estimate=None), if_missing=Range(None, None))
        for each in own.comparison.findings
    ]
    told = " ".join(plain(each) for each in readings(replace(own.comparison, findings=tuple(bare)), own.protocol))
    assert "left out" not in told
    assert "not seen" in told.lower()
    public = " ".join(plain(each) for each in readings(helds[True].comparison, own.protocol))
    assert "Left out because of small counts" in public


def test_a_difference_that_the_missing_could_reverse_is_never_read_without_saying_so(helds):
    own = helds[False]
    turned = [
        each for each in own.comparison.findings if each.primary and each.reading.startswith("better") and each.reasons
    ]
    assert turned
    told = " ".join(plain(each) for each in readings(own.comparison, own.protocol))
    for each in turned:
        assert f"{own.protocol.measure(each.measure).label.lower()} ({'; '.join(each.reasons)})" in told
