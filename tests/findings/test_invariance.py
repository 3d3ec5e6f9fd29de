"""A comparison does not change by what should not matter, and only its signs change when the cohorts are exchanged."""

from dataclasses import asdict, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from outcomes.cohort import Selection
from outcomes.findings import case_series, compare, stamp
from outcomes.protocol import read_protocol
from outcomes.report import document
from outcomes.store import Source, reading, record_rows
from tests.rows import AS_OF, checked_rows, register_at, series_of, sheets
from tests.whole.planted.edges import lid, seen

pytestmark = pytest.mark.slow

FEW = Path(__file__).with_name("few_lids.toml")
PROTOCOL = read_protocol(FEW)
ASKED = {"measures": ("notching", "retraction", "satisfaction"), "windows": ("three_months", "six_months")}
OTHER = {"graft": "advancement", "advancement": "graft"}

few = settings(max_examples=5, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@st.composite
def registers(draw):
    """Five to seven lids a cover; some patients with two, some lids planned otherwise, not seen, or graded twice."""
    rng = np.random.default_rng(draw(st.integers(0, 10_000)))
    lids = []
    for cover, other in OTHER.items():
        for number in range(draw(st.integers(5, 7))):
            one = lid(
                number, cover, distraction_mm=float(rng.integers(4, 12)), defect_width_mm=float(rng.integers(10, 26))
            )
            lids.append({**one, "cover_planned": other if rng.random() < 0.1 else cover})
    lids[1]["patient_id"] = lids[0]["patient_id"]
    lids[-1]["patient_id"] = lids[2]["patient_id"]
    reviews = [row for row in seen(lids, lambda _: values(rng)) if rng.random() < 0.8]
    reviews += [{**row, **values(rng), "masked": "yes", "assessor": "PL"} for row in reviews if rng.random() < 0.3]
    events = [
        {"case_id": each["case_id"], "happened_on": each["operated_on"] + timedelta(days=int(rng.integers(40, 800))), "kind": kind}
        for each in lids for kind in ("recurrence", "revision", "death") if rng.random() < 0.2
    ]  # fmt: skip
    died = {row["case_id"]: row["happened_on"] for row in events if row["kind"] == "death"}
    reviews = [row for row in reviews if row["reviewed_on"] <= died.get(row["case_id"], date.max)]
    return sheets(lids, reviews, [row for row in events if row["happened_on"] <= died.get(row["case_id"], date.max)])


def values(rng):
    position = 5 + 0.5 * int(rng.integers(-1, 5))
    return {
        "notch_mm": 0.5 * int(rng.integers(0, 4)), "margin_position_mm": position, "fellow_margin_position_mm": 5.0,
        "oedema": str(rng.integers(0, 3)), "satisfaction": str(rng.integers(3, 11)),
    }  # fmt: skip


def compared(rows, protocol=PROTOCOL, **asked):
    series = series_of(rows, protocol=protocol, **(asked or ASKED))
    return compare(series, stamp(series, digest="0" * 64, frozen="", software="outcomes"))


def tree(comparison):
    """Everything but what names the register and the protocol."""
    return {key: part for key, part in document(comparison).items() if key != "register"}


def flipped(part, middle=0.0):
    """A contrast, or anything with low and high, of the cohorts exchanged; `middle` is no difference."""
    if part is None:
        return None
    turn = {
        name: None if value is None else 2 * middle - value
        for name, value in asdict(part).items()
        if name in {"estimate", "low", "high"}
    }
    turned = replace(part, **{**turn, "low": turn["high"], "high": turn["low"]})
    if hasattr(part, "effective_n_grafted"):
        turned = replace(
            turned, effective_n_grafted=part.effective_n_advanced, effective_n_advanced=part.effective_n_grafted
        )
    return turned


def near(one, other):
    """The same numbers but for rounding; E-values hang on which share is the baseline, and are left out."""
    if one is None or other is None:
        return one is other
    here, there = asdict(one), asdict(other)
    return all(
        here[name] == (there[name] if isinstance(there[name], str | bool | None) else pytest.approx(there[name], abs=1e-6))
        for name in here if not name.startswith("e_value")
    )  # fmt: skip


def other_way(verdict):
    """The verdict with the covers exchanged."""
    names = {"advanced": "graft", "graft": "advanced"}
    words = (verdict or "").split()
    return " ".join([*words[:-1], names[words[-1]]]) if words and words[-1] in names else verdict


@few
@given(registers())
def test_exchanging_the_cohorts_flips_every_sign_and_every_verdict(rows):
    lids = [
        {**each, "cover": OTHER[each["cover"]], "cover_planned": OTHER[each["cover_planned"]]}
        for each in rows["reconstructions"]
    ]
    before, after = compared(rows), compared({**rows, "reconstructions": lids})
    for one, other in zip(before.findings, after.findings, strict=True):
        assert asdict(one.grafted) == asdict(other.advanced)
        assert asdict(one.advanced) == asdict(other.grafted)
        middle = 0.5 if one.outcome == "value" else 0.0
        for name in ("contrast", "adjusted"):
            assert near(flipped(getattr(one, name), middle), getattr(other, name)), (
                one.measure,
                one.window,
                one.outcome,
                name,
            )
        assert near(flipped(one.unseen.worst_case), other.unseen.worst_case)
        assert near(flipped(one.unseen.as_other_cohort, middle), other.unseen.as_other_cohort)
        assert all(near(flipped(mine), theirs) for mine, theirs in zip(one.checks, other.checks, strict=True))
        assert other_way(one.verdict) == other.verdict
        assert [note.id for note in one.notes] == [note.id for note in other.notes]
        assert (one.withheld, one.family, one.q) == (other.withheld, other.family, pytest.approx(other.q, abs=1e-6))
    for one, other in zip(before.timing, after.timing, strict=True):
        assert near(flipped(one.contrast), other.contrast)
        assert near(flipped(one.adjusted), other.adjusted)
        assert other_way(one.verdict) == other.verdict
    assert {warning.code for warning in before.warnings} == {warning.code for warning in after.warnings}


@few
@given(registers(), st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_nothing(rows, random):
    shuffled = {sheet: random.sample(list(held), len(held)) for sheet, held in rows.items()}
    assert tree(compared(shuffled)) == tree(compared(rows))


@few
@given(registers())
def test_other_codes_in_the_same_order_and_the_other_side_change_nothing(rows):
    def renamed(row):
        new = {**row}
        for name in ("case_id", "patient_id", "surgeon", "assessor"):
            if row.get(name):
                new[name] = f"Z9-{row[name]}-Q"
        return new | ({"side": "left"} if "side" in row else {})

    before, after = compared(rows), compared({sheet: [renamed(row) for row in held] for sheet, held in rows.items()})
    assert without_names(tree(after)) == without_names(tree(before))


def without_names(held):
    """The tree without the codes of surgeons and assessors, which are printed."""
    balance = [{**line, "level": ""} for line in held["balance"]]
    cohorts = {
        name: {key: part for key, part in cohort.items() if key != "assessors"}
        for name, cohort in held["cohorts"].items()
    }
    return {**held, "balance": balance, "cohorts": cohorts}


@few
@given(registers())
def test_codes_in_another_order_change_nothing(rows):
    order = {each["case_id"]: f"{9999 - place}" for place, each in enumerate(rows["reconstructions"])}
    people = {each["patient_id"]: f"P{9999 - place}" for place, each in enumerate(rows["patients"])}
    renamed = {
        sheet: [
            {**row, **({"case_id": order[row["case_id"]]} if "case_id" in row else {}),
             **({"patient_id": people[row["patient_id"]]} if "patient_id" in row else {})}
            for row in held
        ] for sheet, held in rows.items()
    }  # fmt: skip
    before, after = compared(rows), compared(renamed)
    for one, other in zip(before.findings, after.findings, strict=True):
        assert near(one.contrast, other.contrast)
        assert near(one.adjusted, other.adjusted)
        assert near(one.unseen.worst_case, other.unseen.worst_case)
        assert one.verdict == other.verdict


def test_an_empty_measure_changes_nothing(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(
        FEW.read_text(encoding="utf-8")
        + '[[fields]]\nid = "itch"\nsheet = "reviews"\nkind = "grade"\nscale = "severity"\nobserved = true\nlabel = "Itch"\n'
        + 'definition = "How much the lid itches."\n[[measures]]\nid = "itch"\nfield = "itch"\nmain = true\nworse = "higher"\n'
        + 'poor = { at_least = 1 }\nlabel = "Itch"\n',
        encoding="utf-8",
    )  # fmt: skip
    more = read_protocol(path)
    rows = one_register()
    before, after = (compared(rows, protocol, windows=("six_months",)) for protocol in (PROTOCOL, more))
    added = [finding for finding in after.findings if finding.measure == "itch"]
    assert len(added) == 4  # the mean, the win probability and the poor share, and the mean on the other clock
    assert all(finding.notes and finding.contrast.p is None for finding in added)
    assert [finding for finding in after.findings if finding.measure != "itch"] == list(before.findings)
    assert (after.timing, after.balance, after.adjustment) == (before.timing, before.balance, before.adjustment)


def one_register():
    """A register that is always the same."""
    rng = np.random.default_rng(5)
    lids = [
        lid(number, cover, distraction_mm=float(rng.integers(4, 12))) for number in range(6) for cover in OTHER
    ]  # fmt: skip
    return sheets(lids, seen(lids, lambda _: values(rng)))


def answered(path):
    with reading(path) as held:
        series = case_series(
            held, held.protocol, Selection(AS_OF, measures=ASKED["measures"], windows=ASKED["windows"])
        )
        return tree(compare(series, stamp(series, digest=held.digest, frozen="", software="outcomes")))


def test_loading_the_same_rows_again_changes_nothing(tmp_path):
    rows = one_register()
    path = register_at(tmp_path / "register.duckdb", rows, protocol=PROTOCOL)
    before = answered(path)
    for again in (rows, {sheet: list(reversed(held)) for sheet, held in rows.items()}):
        source = Source("again", "1" * 64, "test", "")
        record_rows(path, checked_rows(again, PROTOCOL), queries=(), source=source, at=datetime(2026, 7, 1, tzinfo=UTC))
        assert answered(path) == before


def test_a_register_file_and_rows_in_memory_give_the_same(tmp_path):
    rows = one_register()
    path = register_at(tmp_path / "register.duckdb", rows, protocol=PROTOCOL)
    assert answered(path) == tree(compared(rows))


@pytest.mark.parametrize("written", ["6/12", "20/40"])
def test_vision_written_as_a_fraction_is_the_same_as_in_logmar(tmp_path, written):
    """6/12 and 20/40 are log10(2), which is 0.301."""

    def with_vision(value, name):
        rows = one_register()
        rows["reconstructions"] = [
            {**each, "fellow_logmar": value if place % 3 else "0"} for place, each in enumerate(rows["reconstructions"])
        ]
        return answered(register_at(tmp_path / name, rows, protocol=PROTOCOL))

    one, other = with_vision(written, "one.duckdb"), with_vision("0.301", "other.duckdb")
    lines = [next(line for line in held["balance"] if line["field"] == "fellow_vision") for held in (one, other)]
    assert lines[0]["grafted"] == pytest.approx(lines[1]["grafted"], abs=1e-5)
    assert one["findings"] == other["findings"]
