"""The case series: who counts, and every lid that does not count is accounted for."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import polars as pl
import pytest

from outcomes.cohort import Loss, Selection, assemble, event_intervals, event_times, followed, read_frames
from outcomes.errors import WrongUsage
from outcomes.protocol import default_protocol, protocol_from_text
from tests.rows import AS_OF, DIVIDED, OPERATED, RowRegister, after, case, review, series_of, sheets

TIMED = {timed.id: timed for timed in default_protocol().timed}


def flow(series: object) -> list[tuple[str, int, int]]:
    return [(step.id, step.grafted, step.advanced) for step in series.flow]  # type: ignore[attr-defined]


def test_cohorts_go_by_what_was_done_and_other_covers_are_counted_out() -> None:
    rows = sheets([case("A", cover_planned="advancement"), case("B", "advancement"), case("C", "transposition")])
    series = series_of(rows)
    assert flow(series)[0] == ("reconstructed", 1, 1)
    assert series.flow[0].lost == (Loss("other_cover", 1),)


def test_each_filter_is_a_step_of_the_flow_and_of_the_stamp() -> None:
    rows = sheets(
        [case("A", site="N"), case("B", site="S"), case("C", "advancement", site="N", operated_on=date(2023, 1, 1))]
    )
    series = series_of(rows, sites=("N",), operated_from=date(2024, 1, 1))
    assert flow(series)[:3] == [
        ("reconstructed", 2, 1),
        ("operated_from", 2, 0),
        ("sites", 1, 0),
    ]
    assert [(step.label, step.lost) for step in series.flow[1:3]] == [
        ("2024-01-01", (Loss("filtered", 1),)),
        ("N", (Loss("filtered", 1),)),
    ]
    assert series.selection.says() == ("operated on or after 2024-01-01", "sites: N")


def test_what_lies_after_the_as_of_day_is_not_known() -> None:
    rows = sheets(
        [case("A"), case("B", operated_on=date(2026, 1, 1), divided_on=None)],
        [review("A", 183, notch_mm=1)],
        [{"case_id": "A", "happened_on": after(300), "kind": "death"}],
    )
    series = series_of(rows, as_of=after(100))
    assert (series.cases.height, series.measured.height, series.events.height) == (1, 0, 0)


def test_a_value_whose_thousandths_pass_32_bits_stays_what_it_is() -> None:
    tree = json.loads(default_protocol().text)
    notch = next(each for each in tree["fields"] if each["id"] == "notch_mm")
    notch["high"] = 10_000_000
    protocol = protocol_from_text(json.dumps(tree))
    series = series_of(sheets([case("A")], [review("A", 183, notch_mm=3_000_000.5)]), protocol=protocol)
    assert series.values("notching").value.tolist() == [3_000_000.5]


@pytest.mark.parametrize("wrong", [{"windows": ("six_month",)}, {"measures": ("notch",)}, {"diagnoses": ("bcc",)}])
def test_unknown_filter_is_wrong_usage_with_what_is_known(wrong: dict[str, tuple[str, ...]]) -> None:
    with pytest.raises(WrongUsage, match="Known: "):
        series_of(sheets([case("A")]), **wrong)


def test_event_times_by_hand() -> None:
    """Lids that were never reviewed are in contact to day 21 after division; one reviewed on day 100 to day 273."""
    rows = sheets(
        [case("A"), case("B"), case("C"), case("D")],
        [review("C", 100, notch_mm=0)],
        [
            {"case_id": "A", "happened_on": date(2024, 12, 31), "kind": "recurrence"},
            {"case_id": "B", "happened_on": date(2024, 7, 1), "kind": "death"},
            {"case_id": "D", "happened_on": date(2024, 3, 1), "kind": "moved away"},
        ],
    )
    found = event_times(series_of(rows), TIMED["recurrence"])
    assert found.select("case_id", "days", "cause").rows() == [
        ("A", (after(21) - OPERATED).days, 0),
        ("B", (after(21) - OPERATED).days, 0),
        ("C", (after(273) - OPERATED).days, 0),
        ("D", (after(21) - OPERATED).days, 0),
    ]


def test_recurrence_on_the_day_of_death_counts_as_recurrence() -> None:
    events = [{"case_id": "A", "happened_on": after(10), "kind": kind} for kind in ("death", "recurrence")]
    assert event_times(series_of(sheets([case("A")], events=events)), TIMED["recurrence"]).item(0, "cause") == 1


def test_a_state_is_reached_at_the_first_of_two_reviews_in_a_row() -> None:
    rows = sheets(
        [case(name) for name in "ABCDEF"],
        [
            review("A", 40, oedema=2),
            review("A", 90, oedema=1),
            review("A", 180, oedema=0),
            review("A", 400, oedema=0),
            review("B", 40, oedema=0),
            review("C", 40, oedema=3),
            review("C", 91, notch_mm=1),
            review("D", 40, oedema=0),
            review("D", 90, oedema=1),
            review("D", 180, oedema=0),
            review("D", 400, oedema=0),
            review("E", 40, oedema=1),
            review("E", 90, oedema=0),
            review("F", 40, oedema=0),
            review("F", 90, oedema=0),
            review("F", 180, oedema=2),
        ],
    )
    found = event_intervals(series_of(rows), TIMED["oedema_settled"])
    assert found.select("case_id", "left", "right", "latest").rows() == [
        ("A", 90.0, 180.0, 400),
        ("B", 0.0, float("inf"), 40),  # seen once only: it may be noise
        ("C", 40.0, float("inf"), 40),
        ("D", 90.0, 180.0, 400),  # once at 40, then swollen again: not reached yet
        ("E", 40.0, float("inf"), 90),  # at the last review only
        ("F", 0.0, 40.0, 180),
    ]


def test_follow_up_runs_from_division_to_the_last_measured_review_or_death() -> None:
    rows = sheets(
        [case("A"), case("B"), case("C"), case("D", divided_on=None)],
        [review("A", 200, notch_mm=0), review("B", 50, notch_mm=0)],
        [{"case_id": "B", "happened_on": after(300), "kind": "death"}],
    )
    whole = (AS_OF - DIVIDED).days
    assert followed(series_of(rows)).select("case_id", "observed", "potential").rows() == [
        ("A", 200, whole),
        ("B", 300, 300),
        ("C", 0, whole),
    ]


def test_characteristics_by_hand() -> None:
    rows = sheets(
        [
            case(
                "A",
                defect_width_mm=15,
                lid_width_mm=30,
                canthus_involved="none",
                defect_depth="full thickness",
                surgeon="KM",
            )
        ]
    )
    rows["patients"][0]["smoker"] = "unknown"
    row = series_of(rows).cases.row(0, named=True)
    assert {
        name: row[f"is:{name}"]
        for name in ("defect_share", "canthus", "full_thickness", "age", "current_smoker", "days_to_division")
    } == {
        "defect_share": 0.5,
        "canthus": 0.0,
        "full_thickness": 1.0,
        "age": 74.0,
        "current_smoker": None,
        "days_to_division": 31.0,
    }


def test_row_order_changes_nothing() -> None:
    cases = [case("A"), case("B", "advancement")]
    reviews = [review("A", 183, notch_mm=1), review("A", 91, notch_mm=0), review("B", 183, notch_mm=2)]
    one, other = series_of(sheets(cases, reviews)), series_of(sheets(cases[::-1], reviews[::-1]))
    assert one.cases.equals(other.cases)
    assert one.measured.sort(pl.all()).equals(other.measured.sort(pl.all()))


def test_reviews_read_in_spans_are_those_read_at_once() -> None:
    cases, rules = [case("B", "advancement"), case("A")], default_protocol()
    reviews = [
        review(lid, day, notch_mm=day / 100, assessor=assessor, mode=mode, masked=masked)
        for lid in ("B", "A")
        for day, assessor, mode, masked in (
            (183, "Z", "clinic", "yes"),
            (183, "K", "photograph", "no"),
            (91, "K", "clinic", None),
            (91, None, "telephone", "no"),
        )
    ]
    one, other = (
        assemble(read_frames(RowRegister(sheets(cases, reviews), rules, size), rules), rules, Selection(AS_OF))
        for size in (1_000, 3)
    )
    assert (one.reviews.height, one.measured.height) == (8, 8)
    assert one.reviews.equals(other.reviews)
    assert one.measured.equals(other.measured)
    assert one.measured.get_column("assessor").to_list()[:4] == ["K", None, "K", "Z"]


def test_who_withdrew_is_a_number_in_the_flow_and_nowhere_else() -> None:
    cases = [case("G1"), case("G2"), case("A1", "advancement")]
    rules = default_protocol()
    frames = read_frames(RowRegister(sheets(cases), rules), rules)
    gone = pl.DataFrame({"cover": ["graft", "advancement", "transposition"], "lids": [2, 1, 5]})
    series = assemble(replace(frames, withdrawn=gone), rules, Selection(AS_OF))
    assert [(step.id, step.grafted, step.advanced, step.lost) for step in series.flow][:2] == [
        ("reconstructed_or_withdrawn", 4, 2, ()),
        ("not_withdrawn", 2, 1, (Loss("withdrew", 3),)),
    ]
    assert series.cases.height == 3
