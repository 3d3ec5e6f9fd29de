"""A register of any size as a folder of CSV tables, written in blocks of lids so that memory does not grow with it.

`python tests/large_register.py FOLDER --lids 100000` writes patients, reconstructions, reviews and events: about ten
reviews a lid, two lids of one patient in eight, the cover chosen by the defect, gaps that grow with time. The same seed
writes the same bytes. All data are invented.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import polars as pl

Draw = np.random.Generator
BLOCK = 20_000
FIRST_OPERATION, DAYS_OF_OPERATIONS, CLOSED = date(2010, 1, 4), 3_900, date(2026, 6, 30)
REVIEW_DAYS = np.array([7, 24, 42, 91, 183, 300, 365, 560, 730, 1_096, 1_461, 1_826])
ATTENDANCE = np.array([0.98, 0.94, 0.96, 0.95, 0.93, 0.9, 0.92, 0.85, 0.88, 0.82, 0.76, 0.7])
SURGEONS = [f"S{number:02}" for number in range(40)]
SITES = [f"C{number:02}" for number in range(12)]


def blocks(lids: int, seed: int) -> Iterator[dict[str, pl.DataFrame]]:
    """The four tables, block by block; each block has its own stream of the seed."""
    for start in range(0, lids, BLOCK):
        yield block(start, min(BLOCK, lids - start), np.random.default_rng([seed, start]))


def block(start: int, lids: int, draw: Draw) -> dict[str, pl.DataFrame]:
    """The tables of some lids: every eighth lid is the other lid of the patient before it."""
    number = np.arange(start, start + lids)
    second = (number % 8 == 7) & (number > start)
    patient = np.where(second, number - 1, number)
    cases = reconstructions(number, patient, second, draw)
    events, last = happenings(cases, draw)
    return {
        "patients": people(number[~second], draw),
        "reconstructions": cases.drop("advanced", "operated", "divided"),
        "reviews": reviews(cases, last, draw),
        "events": events,
    }


def people(number: np.ndarray, draw: Draw) -> pl.DataFrame:
    size = number.size
    return pl.DataFrame(
        {
            "patient_id": codes("P", number),
            "birth_year": draw.integers(1925, 1966, size),
            "sex": word(draw, size, ["female", "male"], [0.55, 0.45]),
            "smoker": word(draw, size, ["never", "former", "current", "unknown", ""], [0.5, 0.24, 0.16, 0.06, 0.04]),
            "diabetes": yes(draw, size, 0.15),
            "immunosuppressed": yes(draw, size, 0.04),
            "anticoagulated": yes(draw, size, 0.22),
            "prior_lid_radiotherapy": yes(draw, size, 0.02),
        }
    )


def reconstructions(number: np.ndarray, patient: np.ndarray, second: np.ndarray, draw: Draw) -> pl.DataFrame:
    size = number.size
    lid = halves(draw.normal(29, 1.7, size), 25, 34)
    width = halves(lid * np.clip(draw.normal(0.65, 0.17, size), 0.28, 1), 4, 34)
    laxity = halves(draw.normal(6, 1.8, size), 0, 14)
    lean = -0.4 + 0.35 * (laxity - 6) - 0.09 * (width - 19) + draw.logistic(0, 1, size)
    elsewhere = draw.random(size) < 0.06
    cover = np.where(elsewhere, "transposition", np.where(lean > 0, "advancement", "graft"))
    planned = np.where(draw.random(size) < 0.03, "graft", cover)
    operated = draw.integers(0, DAYS_OF_OPERATIONS, size)
    operated[second] = operated[np.flatnonzero(second) - 1] + draw.integers(0, 100, int(second.sum()))
    wait = np.where(cover == "advancement", draw.integers(28, 43, size), draw.integers(14, 29, size))
    undivided = draw.random(size) < 0.01
    basal = draw.random(size) < 0.79
    planned_wait = wait + np.where(undivided, 0, draw.integers(-3, 4, size))
    return pl.DataFrame(
        {
            "case_id": codes("L", number),
            "patient_id": codes("P", patient),
            "side": np.where(second, "left", "right"),
            "surgeon": draw.choice(SURGEONS, size),
            "site": draw.choice(SITES, size),
            "operated_on": days(operated),
            "diagnosis": np.where(basal, "basal cell carcinoma", "squamous cell carcinoma"),
            "bcc_subtype": np.where(basal, word(draw, size, ["nodular", "infiltrating", "mixed"], [0.6, 0.3, 0.1]), ""),
            "recurrent_tumour": yes(draw, size, 0.12),
            "defect_width_mm": width,
            "lid_width_mm": lid,
            "defect_height_mm": halves(draw.normal(9, 3, size), 2, 25),
            "defect_depth": word(draw, size, ["full thickness", "skin and muscle"], [0.8, 0.2]),
            "canthus_involved": word(draw, size, ["none", "medial", "lateral", "both"], [0.75, 0.12, 0.1, 0.03]),
            "distraction_mm": blanked(draw, laxity, 0.03),
            "snap_back": draw.integers(0, 4, size),
            "fellow_logmar": np.round(np.clip(draw.normal(0.15, 0.2, size), -0.2, 1.6), 1),
            "clinical_margin_mm": draw.integers(3, 7, size),
            "flap_width_mm": halves(width - 2, 3, 32),
            "tarsus_left_mm": halves(draw.normal(4.2, 0.4, size), 4, 6),
            "cover_planned": planned,
            "cover": cover,
            "graft_donor": np.where(cover == "graft", word(draw, size, ["upper lid", "postauricular"], [0.7, 0.3]), ""),
            "division_planned_on": days(operated + np.maximum(planned_wait, 7)),
            "divided_on": pl.Series(np.where(undivided, "", days(operated + wait))),
            "advanced": cover == "advancement",
            "operated": operated,
            "divided": np.where(undivided, -1, operated + wait),
        }
    )


def happenings(cases: pl.DataFrame, draw: Draw) -> tuple[pl.DataFrame, np.ndarray]:
    """Deaths, departures, revisions and recurrences, and the last day on which each lid was followed."""
    size, case = cases.height, cases["case_id"].to_numpy()
    operated, advanced = cases["operated"].to_numpy(), cases["advanced"].to_numpy()
    closed = (CLOSED - FIRST_OPERATION).days
    death = operated + 120 + np.ceil(draw.exponential(9_000, size)).astype(np.int64)
    moved = operated + 120 + np.ceil(draw.exponential(16_000, size)).astype(np.int64)
    end = np.minimum(death, moved)
    partner = cases["patient_id"].to_numpy()
    shared = partner[1:] == partner[:-1]  # what ends the follow-up of one lid ends that of the other
    end[1:][shared] = end[:-1][shared]
    death[1:][shared] = moved[1:][shared] = closed + 1
    rate = np.where(advanced, 9_000, 6_500)
    revision = operated + 60 + np.ceil(draw.exponential(rate)).astype(np.int64)
    recurrence = operated + 90 + np.ceil(draw.exponential(30_000, size)).astype(np.int64)
    last = np.minimum(end, closed)
    tables = [
        pl.DataFrame(
            {"case_id": case[there].tolist(), "happened_on": days(day[there]).tolist(), "kind": [kind] * there.sum()},
            schema=["case_id", "happened_on", "kind"],
            schema_overrides={"case_id": pl.String, "happened_on": pl.String, "kind": pl.String},
        )
        for kind, day, there in (
            ("death", death, (death <= moved) & (death <= closed)),
            ("moved away", moved, (moved < death) & (moved <= closed)),
            ("revision", revision, revision <= last),
            ("recurrence", recurrence, recurrence <= last),
        )
    ]
    return pl.concat(tables).sort("case_id", "happened_on", "kind"), last


def reviews(cases: pl.DataFrame, last: np.ndarray, draw: Draw) -> pl.DataFrame:
    divided, advanced = cases["divided"].to_numpy(), cases["advanced"].to_numpy()
    day = divided[:, None] + REVIEW_DAYS + np.rint(draw.normal(0, 0.04, (cases.height, 12)) * REVIEW_DAYS).astype(int)
    visit = np.arange(REVIEW_DAYS.size)
    day = (
        np.maximum.accumulate(day - visit, axis=1) + visit
    )  # no visit on the day of the one before it, nor before that
    seen = (draw.random(day.shape) < ATTENDANCE) & (day <= last[:, None]) & (divided[:, None] >= 0)
    lid, visit = np.nonzero(seen)
    late, size = visit >= 3, lid.size
    lean = np.where(advanced, 0.0, 0.25)[lid] + draw.normal(0, 0.5, cases.height)[lid]
    fellow = halves(draw.normal(5, 0.6, cases.height), 3, 8)[lid]
    margin = halves(fellow + 0.3 + lean + draw.normal(0, 0.4, size), 0, 14)
    masked = draw.random(size) < 0.15
    return pl.DataFrame(
        {
            "case_id": cases["case_id"].to_numpy()[lid],
            "reviewed_on": days(day[lid, visit]),
            "assessor": np.where(masked, "M01", draw.choice(SURGEONS, size)),
            "masked": np.where(masked, "yes", "no"),
            "mode": "clinic",
            "margin_position_mm": blanked(draw, margin, 0.05),
            "fellow_margin_position_mm": blanked(draw, fellow, 0.05),
            "scleral_show_mm": blanked(draw, halves(np.maximum(margin - fellow, 0), 0, 8), 0.1),
            "notch_mm": blanked(draw, halves(np.maximum(draw.normal(0, 0.6, size), 0), 0, 4), 0.1),
            "lash_loss_percent": blanked(draw, np.round(draw.beta(3, 3, size) * 20) * 5, 0.15),
            "oedema": blanked(draw, np.clip(np.rint(2.2 - 0.5 * visit + lean), 0, 3).astype(int), 0.08),
            "ectropion": blanked(draw, (draw.random(size) < 0.04).astype(int), 0.3),
            "margin_redness": blanked(draw, draw.choice(4, size, p=[0.6, 0.25, 0.1, 0.05]), 0.3),
            "watering": blanked(draw, draw.choice(4, size, p=[0.5, 0.25, 0.15, 0.1]), 0.4),
            "colour_mismatch": blanked(draw, np.clip(np.rint(0.8 + lean), 0, 3).astype(int), 0.2),
            "satisfaction": blanked(draw, draw.choice(11, size, p=np.arange(1, 12) / 66), np.where(late, 0.4, 1.0)),
        }
    )


def codes(letter: str, number: np.ndarray) -> np.ndarray:
    return np.char.add(letter, np.char.zfill(number.astype(str), 7))


def days(after: np.ndarray) -> np.ndarray:
    return np.datetime_as_string(np.datetime64(FIRST_OPERATION, "D") + after)


def halves(value: np.ndarray, low: float, high: float) -> np.ndarray:
    return np.asarray(np.clip(np.round(value * 2) / 2, low, high))


def word(draw: Draw, size: int, words: list[str], shares: list[float]) -> np.ndarray:
    return np.asarray(draw.choice(words, size, p=shares))


def yes(draw: Draw, size: int, share: float) -> np.ndarray:
    return np.where(draw.random(size) < share, "yes", "no")


def blanked(draw: Draw, value: np.ndarray, share: float | np.ndarray) -> pl.Series:
    """The values, that share of them not recorded."""
    return pl.Series(np.asarray(value)).set(pl.Series(draw.random(value.size) < share), None)


def write(folder: Path, lids: int, seed: int = 1) -> int:
    """The four tables are in the folder; the number of their rows."""
    folder.mkdir(parents=True, exist_ok=True)
    rows = 0
    for name in ("patients", "reconstructions", "reviews", "events"):
        (folder / f"{name}.csv").unlink(missing_ok=True)
    for place, tables in enumerate(blocks(lids, seed)):
        for name, table in tables.items():
            with (folder / f"{name}.csv").open("ab") as file:
                table.write_csv(file, include_header=place == 0)
            rows += table.height
    return rows


def main() -> None:
    """Write one register."""
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("folder", type=Path)
    given.add_argument("--lids", type=int, default=1_000)
    given.add_argument("--seed", type=int, default=1)
    options = given.parse_args()
    rows = write(options.folder, options.lids, options.seed)
    print(f"{options.lids:,} lids, {rows:,} rows in {options.folder}; all invented")


if __name__ == "__main__":
    main()
