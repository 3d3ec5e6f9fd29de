"""How often the plausible range on the patient's sheet holds the truth.

    python -m tests.calibration.counsel

simulates registers whose truth is known, asks each for the figures of a few patients, and writes counsel.md beside this
file. A few minutes of one core; it is no part of the tests.

Two truths are asked about. The *group's*: the mean chance of the very lids that were counted, which is what a count with
its range speaks of. And the *patient's own* chance, which is what a reader takes it for: a group of lids that are not
quite like the patient's misses it by as much as they are unlike, and no interval can know by how much. A prediction
speaks of the patient's own chance.
"""

from __future__ import annotations

import math
import re
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import polars as pl

from outcomes.findings.assemble import stamp
from outcomes.findings.counsel.local_figures import local_figures, read_for_counsel
from outcomes.findings.counsel.matching import is_like
from outcomes.findings.counsel.patient import PatientValues
from outcomes.findings.counsel.proportions import event_data
from outcomes.findings.counsel.results import RiskFigure
from outcomes.findings.counsel.verdicts import outcome_verdicts
from outcomes.protocol import CounselItem, default_protocol
from outcomes.report.counsel import Sheet, make_sheet, read_language
from outcomes.report.traced_text import plain

AS_OF = date(2026, 6, 30)
SEED = 20260630
REGISTERS, PATIENTS, SHEETS = 36, 3, 9
ALIKE = 0.3  # the second lid of a patient shares the fate of the first this often
KEEP = 0.8  # share of the reviews that took place
DIVISION = 28
REVIEW_DAYS = (91, 183, 365, 730, 1096, 1461, 1826)
PROTOCOL = default_protocol()
TOLD = tuple(each for each in PROTOCOL.told if not each.characteristic)
FATES = {  # log odds, or log of the yearly rate: at the mean lid, per step of defect, age and laxity, with a graft
    "lid_lower": (-1.3, 0.8, 0.4, -0.7, 0.6),
    "notch": (-2.6, 0.5, 0.2, -0.3, 0.4),
    "swollen": (-0.3, 0.3, 0.2, -0.5, 1.5),
    "operated_again": (-2.2, 0.5, 0.2, -0.3, 0.4),
    "tumour": (-3.2, 0.4, 0.2, 0.0, 0.0),
    "death": (-2.9, 0.0, 0.6, 0.0, 0.0),
}
CHOICE = (0.7, -0.9)  # log odds of a graft per step of defect and of laxity


@dataclass(frozen=True)
class Scenario:
    """Lids of each cover, how many times the effects above the lid's own have, and how many times that of the graft has."""

    each: int
    strength: float
    graft: float = 1.0

    def says(self) -> str:
        return f"{self.each} and {self.each} lids, effects times {self.strength:g}"


SCENARIOS = tuple(Scenario(each, strength) for each in (25, 75) for strength in (0.0, 1.0))
CONFOUNDED_NULL = Scenario(75, 1.5, graft=0.0)


class Simulated:
    """A register made of frames, and the chances that it was drawn from."""

    def __init__(self, frames: dict[str, pl.DataFrame], lids: pl.DataFrame) -> None:
        self.frames, self.lids = frames, lids

    def review_spans(self) -> list[tuple[int, int]]:
        return [(0, self.frames["reviews"].height)]

    def extract(self, grain: str, _span: tuple[int, int] | None = None) -> pl.DataFrame:
        return self.frames.get(grain, pl.DataFrame(schema={"cover": pl.String, "lids": pl.Int64}))


def people(rng: np.random.Generator, lids: int) -> pl.DataFrame:
    """Lids with what they were like, a tenth of them the second of their patient; wide defects and tight lids are grafted more."""
    wide, old, loose = (rng.normal(size=lids) for _ in range(3))
    first = np.arange(lids)
    second = (first > 0) & (rng.random(lids) < 0.1)
    first = np.where(second, first - 1, first)
    old = old[first]
    grafted = rng.random(lids) < 1 / (1 + np.exp(-CHOICE[0] * wide - CHOICE[1] * loose))
    return (
        pl.DataFrame(
            {
                "case_id": [f"C{n:04}" for n in range(lids)],
                "patient_id": [f"P{n:04}" for n in first],
                "wide": wide,
                "old": old,
                "loose": loose,
                "grafted": grafted,
                "defect_width_mm": np.clip(18 + 4.5 * wide, 6, 34).round(1),
                "lid_width_mm": np.full(lids, 30.0),
                "defect_depth": np.where(rng.random(lids) < 0.75, "full thickness", "skin and muscle"),
                "distraction_mm": np.clip(7 + 2 * loose, 1, 15).round(1),
                "birth_year": (2023 - np.clip(np.round(74 + 9 * old), 30, 100)).astype(int),
                "operated_on": [date(2016, 1, 1) + timedelta(days=int(day)) for day in rng.integers(0, 3500, lids)],
            }
        )
        .with_columns(operated_year=pl.col("operated_on").dt.year())
        .with_columns(birth_year=pl.col("operated_year") - (2023 - pl.col("birth_year")))
    )


def chance(lids: pl.DataFrame, fate: str, scenario: Scenario) -> np.ndarray:
    """The linear predictor of one fate for each lid."""
    base, *effects, by_graft = FATES[fate]
    values = (lids.get_column(name).to_numpy() for name in ("wide", "old", "loose"))
    own = sum(effect * value for effect, value in zip(effects, values, strict=True))
    return base + scenario.strength * own + scenario.graft * by_graft * lids.get_column("grafted").to_numpy()


def truths(lids: pl.DataFrame, scenario: Scenario) -> dict[str, np.ndarray]:
    """The true chance of each told result for each lid."""
    found = {fate: 1 / (1 + np.exp(-chance(lids, fate, scenario))) for fate in ("lid_lower", "notch", "swollen")}
    rates = {fate: np.exp(chance(lids, fate, scenario)) for fate in ("operated_again", "tumour", "death")}
    for told, fate, years in (
        ("operated_again", "operated_again", 1),
        ("tumour_three_years", "tumour", 3),
        ("tumour_five_years", "tumour", 5),
    ):
        together = rates[fate] + rates["death"]
        found[told] = rates[fate] / together * (1 - np.exp(-together * years))
    return found


def draws(rng: np.random.Generator, lids: pl.DataFrame) -> np.ndarray:
    """One uniform number a lid; the second lid of a patient repeats the first's as often as ALIKE says."""
    drawn, patients = rng.random(lids.height), lids.get_column("patient_id").to_numpy()
    repeats = np.flatnonzero((np.arange(lids.height) > 0) & (rng.random(lids.height) < ALIKE))
    for place in repeats:
        if patients[place] == patients[place - 1]:
            drawn[place] = drawn[place - 1]
    return drawn


def simulate(rng: np.random.Generator, scenario: Scenario) -> Simulated:
    """One register; lids are drawn until both covers have their number."""
    pool = people(rng, scenario.each * 4)
    lids = pl.concat([pool.filter(pl.col("grafted") == side).head(scenario.each) for side in (True, False)]).sort(
        "case_id"
    )
    truth = truths(lids, scenario)
    divided = [day + timedelta(days=DIVISION) for day in lids.get_column("operated_on")]
    lids = lids.with_columns(
        pl.Series("divided_on", divided),
        *(pl.Series(f"truth:{told}", each) for told, each in truth.items()),
        cover=pl.when("grafted").then(pl.lit("graft")).otherwise(pl.lit("advancement")),
    )
    course = followed(rng, lids, scenario)
    reviews, observations = examined(rng, lids, truth, course)
    frames = {
        "patients": lids.select("patient_id", "birth_year").unique("patient_id", keep="first", maintain_order=True),
        "reconstructions": lids.drop("birth_year"),
        "reviews": reviews,
        "observations": observations,
        "withdrawn": pl.DataFrame(schema={"cover": pl.String, "lids": pl.Int64}),
        "events": happened(lids, course),
    }
    return Simulated(frames, lids)


@dataclass(frozen=True)
class Course:
    """The days of each event after the operation, and the day on which each lid's follow-up ends alive."""

    times: dict[str, np.ndarray]
    until: np.ndarray

    def last_day(self, place: int) -> float:
        return min(self.until[place], self.times["death"][place])


def followed(rng: np.random.Generator, lids: pl.DataFrame, scenario: Scenario) -> Course:
    """When everything happens; the two lids of one person die on one day."""
    times = {
        fate: -np.log(draws(rng, lids)) / np.exp(chance(lids, fate, scenario)) * 365.25
        for fate in ("operated_again", "tumour", "death")
    }
    patients = lids.get_column("patient_id").to_numpy()
    for place in range(1, lids.height):
        if patients[place] == patients[place - 1]:
            shift = (lids["operated_on"][place] - lids["operated_on"][place - 1]).days
            times["death"][place] = max(1.0, times["death"][place - 1] - shift)
    potential = np.array([(AS_OF - day).days for day in lids.get_column("operated_on")])
    return Course(times, np.minimum(potential, rng.uniform(0.3, 1.4, lids.height) * potential))


def examined(
    rng: np.random.Generator, lids: pl.DataFrame, truth: dict[str, np.ndarray], course: Course
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Reviews of those who came while they were followed, and what was seen at three and six months."""
    reviews, observations = [], []
    seen = {"swollen": ("oedema", 91, 1.0), "lid_lower": ("retraction_mm", 183, 1.0), "notch": ("notch_mm", 183, 1.0)}
    fate = {told: draws(rng, lids) < truth[told] for told in seen}
    for place, row in enumerate(lids.iter_rows(named=True)):
        for day in REVIEW_DAYS:
            if rng.random() > KEEP or day + DIVISION >= course.last_day(place):
                continue
            review = len(reviews)
            reviews.append(
                {
                    "review_id": review,
                    "case_id": row["case_id"],
                    "reviewed_on": row["divided_on"] + timedelta(days=day),
                    "assessor": "A",
                    "masked": "no",
                    "mode": "clinic",
                }
            )
            observations += [
                {"review_id": review, "field": field, "value": poor * float(fate[told][place])}
                for told, (field, at, poor) in seen.items()
                if at == day
            ]
    return pl.DataFrame(reviews), pl.DataFrame(observations)


def happened(lids: pl.DataFrame, course: Course) -> pl.DataFrame:
    """What happened while a lid was followed, and that the patient moved away at the end of it."""
    kinds = {"operated_again": "revision", "tumour": "recurrence", "death": "death"}
    rows = []
    for place, row in enumerate(lids.iter_rows(named=True)):
        days = {kind: math.ceil(course.times[fate][place]) for fate, kind in kinds.items()}
        days = {kind: day for kind, day in days.items() if day <= min(course.until[place], days["death"])}
        if "death" not in days:
            days["moved away"] = int(course.until[place])
        rows += [
            {"case_id": row["case_id"], "happened_on": row["operated_on"] + timedelta(days=day), "kind": kind}
            for kind, day in days.items()
        ]
    return pl.DataFrame(rows)


Tally = dict[tuple[str, str], list[bool]]


def ask(rng: np.random.Generator, scenario: Scenario, held: Simulated, tally: Tally) -> None:
    """Ask one register for a few patients' figures, and note which ranges hold which truth."""
    series, _ = read_for_counsel(held, PROTOCOL, as_of=AS_OF)
    lids = {told.id: event_data(series, told).lids for told in TOLD}
    given = stamp(series, digest="0" * 64, frozen="", software="calibration")
    for row in people(rng, PATIENTS).iter_rows(named=True):
        found = local_figures(series, PatientValues(row), given)
        for answer, told in zip(found.outcomes, TOLD, strict=True):
            for side in (answer.grafted, answer.advanced):
                own = truths(pl.DataFrame([{**row, "grafted": side.cohort == "grafted"}]), scenario)[told.id][0]
                here = lids[told.id].filter(pl.col("cohort") == side.cohort)
                for level in (side.all, side.like, side.predicted):
                    if level is None:
                        continue
                    counted = here.filter(is_like(answer.group, PROTOCOL)) if level.level == "like" else here
                    truth = of_group(counted.filter("known") if told.measure else counted, held, told)
                    spoken_of = own if level.level == "predicted" else truth
                    name = answer.group.rule if level.level == "like" else level.level
                    for each in (name, "on the sheet") if level is side.used else (name,):
                        tally[each, "stated"].append(holds(level, spoken_of))
                        tally[each, "own"].append(holds(level, own))


def of_group(lids: pl.DataFrame, held: Simulated, told: CounselItem) -> float:
    """The mean true chance of the lids that were counted: those with a value, or all that were followed in time."""
    truth = held.lids.select("case_id", pl.col(f"truth:{told.id}").alias("truth"))
    return float(lids.select("case_id").join(truth, on="case_id").get_column("truth").mean())


def holds(answer: RiskFigure, truth: float) -> bool:
    """Whether the range as it is printed, in whole people, holds the truth."""
    return answer.of_100.low <= 100 * truth <= answer.of_100.high


FAVOURS = re.compile(r"better|worse|safer|prefer|recommend|should", re.IGNORECASE)


@dataclass(frozen=True)
class Steering:
    """Of so many patients' sheets from so many registers, how many hold a sentence that favours a cover, and the verdicts."""

    sheets: int
    favouring: int
    verdicts: Counter[str]


def steering(rng: np.random.Generator, scenario: Scenario, *, registers: int, patients: int) -> Steering:
    """Make the sheets of a few patients from each register, each whole as a patient reads it, and look for such a sentence."""
    english, verdicts, favouring = read_language("en"), Counter(), 0
    for _ in range(registers):
        series, _values = read_for_counsel(simulate(rng, scenario), PROTOCOL, as_of=AS_OF)
        given, known = stamp(series, digest="0" * 64, frozen="", software="calibration"), outcome_verdicts(series)
        verdicts.update(known.values())
        for row in people(rng, patients).iter_rows(named=True):
            sheet = make_sheet(local_figures(series, PatientValues(row), given, verdicts=known), PROTOCOL, english)
            favouring += bool(FAVOURS.search(text_of(sheet)))
    return Steering(registers * patients, favouring, verdicts)


def text_of(sheet: Sheet) -> str:
    """Everything on the sheet about the results, and what is said of the differences."""
    phrases = [
        *sheet.warning,
        sheet.opening,
        *sheet.likeness,
        *sheet.unknown.paragraphs,
        *sheet.basis.paragraphs,
        sheet.caution,
    ]
    for pair in (*sheet.pairs, *sheet.lines):
        phrases += [pair.label, pair.caption, *pair.nothing, pair.verdict]
        phrases += [sentence for cell in pair.cells for sentence in (*cell.seen, *cell.sentences)]
    return " ".join(plain(phrase) for phrase in phrases)


def main(registers: int = REGISTERS) -> None:
    """Run every scenario and write the table."""
    began, tables = time.time(), []
    for scenario in SCENARIOS:
        rng, tally = np.random.default_rng(SEED), defaultdict(list)
        for _ in range(registers):
            ask(rng, scenario, simulate(rng, scenario), tally)
        tables.append((scenario, tally))
        print(scenario.says(), {key: (round(np.mean(each), 3), len(each)) for key, each in tally.items()}, flush=True)
    steered = [
        (words, steering(np.random.default_rng(SEED), scenario, registers=registers // 3, patients=SHEETS))
        for words, scenario in (
            ("no effect of the cover, strong confounding", CONFOUNDED_NULL),
            ("the same with the effects of a graft above", replace(CONFOUNDED_NULL, graft=1.0)),
        )
    ]
    Path(__file__).with_name("counsel.md").write_text(told_in_words(tables, registers, steered), encoding="utf-8")
    print(f"{time.time() - began:.0f} s")


def told_in_words(tables: list[tuple[Scenario, Tally]], registers: int, steered: list[tuple[str, Steering]]) -> str:
    """The table as Markdown."""
    together: Tally = defaultdict(list)
    for _, tally in tables:
        for key, each in tally.items():
            together[key] += each
    lines = [
        "# How often the plausible range on the patient's sheet holds the truth",
        "",
        f"Made by `python -m tests.calibration.counsel`: {registers} simulated registers a scenario, {PATIENTS} patients each, six",
        f"results, two covers; a tenth of the lids are second lids that share the first's fate in {ALIKE:.0%}; a fifth of the",
        "reviews did not take place; follow-up ends early at random; death competes. The range is the printed one.",
        "A count speaks of the mean chance of the lids that it counted, a prediction of the patient's own chance. Beside it:",
        "how often the range holds the patient's own chance, which a group that is not like the patient misses. `on the sheet`",
        "is the narrowest answer that could be borne, the one that is printed; the others are those from which it is taken.",
        "",
        "| answer | truth spoken of | own chance | ranges |",
        "|---|---|---|---|",
    ]
    lines += [_line(name, together) for name in _names(together)]
    for scenario, tally in tables:
        lines += [
            "",
            f"## {scenario.says()}",
            "",
            "| answer | truth spoken of | own chance | ranges |",
            "|---|---|---|---|",
        ]
        lines += [_line(name, tally) for name in _names(tally)]
    lines += [
        "",
        "## Sheets with a sentence that favours a cover",
        "",
        f"{CONFOUNDED_NULL.each} lids a cover, the effects of defect, age and laxity times {CONFOUNDED_NULL.strength:g};",
        f"{SHEETS} patients a register.",
        "",
        "| register | sheets | favouring | verdicts on the outcomes |",
        "|---|---|---|---|",
    ]
    for words, found in steered:
        said = ", ".join(f"{name} {number}" for name, number in found.verdicts.most_common())
        lines.append(f"| {words} | {found.sheets} | {found.favouring} | {said} |")
    return "\n".join([*lines, ""])


def _names(tally: Tally) -> list[str]:
    wanted = ["on the sheet", "all", *(rule.id for rule in PROTOCOL.likeness), "predicted"]
    return [name for name in wanted if tally.get((name, "own"))]


def _line(name: str, tally: Tally) -> str:
    shares = [f"{np.mean(tally[name, truth]):.1%}" if tally.get((name, truth)) else "" for truth in ("stated", "own")]
    return f"| {name} | {' | '.join(shares)} | {len(tally[name, 'own'])} |"


if __name__ == "__main__":
    main()
