"""Registers in memory, and the patients who are asked about."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache

import polars as pl

import demo.generate
from outcomes.findings.assemble import stamp
from outcomes.findings.counsel.local_figures import local_figures, read_for_counsel
from outcomes.findings.counsel.patient import read_patient
from outcomes.protocol import default_protocol

PROTOCOL = default_protocol()
AS_OF = date(2026, 6, 30)
OPTIONS = {
    "birth_year": "--age",
    "defect_width_mm": "--defect-width",
    "lid_width_mm": "--lid-width",
    "defect_depth": "--depth",
    "distraction_mm": "--laxity",
    "fellow_logmar": "--fellow-vision",
}
SCHEMA = {"reviews": ["case_id", "reviewed_on", "assessor", "masked", "mode"]}


class InMemory:
    """Four sheets of rows that give extracts as a register does."""

    def __init__(self, sheets):
        self.sheets = sheets

    def review_spans(self):
        return [(0, len(self.sheets["reviews"]))]

    def extract(self, grain, _span=None):
        if grain == "reviews":
            keys = [field.id for field in PROTOCOL.sheet("reviews") if not field.observed]
            rows = [
                {"review_id": n, **{key: row.get(key) for key in keys}} for n, row in enumerate(self.sheets["reviews"])
            ]
            return frame(rows, ["review_id", *keys])
        if grain == "withdrawn":
            return frame([], ["cover", "lids"])
        if grain == "observations":
            return frame(list(self._observed()), ["review_id", "field", "value"])
        return frame(self.sheets[grain], [field.id for field in PROTOCOL.sheet(grain)])

    def _observed(self):
        for n, row in enumerate(self.sheets["reviews"]):
            for field in PROTOCOL.observed:
                raw = row.get(field.id)
                if raw not in {None, ""}:
                    value = field.number(field.read(raw, as_of=AS_OF).value)
                    yield {"review_id": n, "field": field.id, "value": value}


def frame(rows, columns):
    return (
        pl.DataFrame(rows, infer_schema_length=None) if rows else pl.DataFrame(schema=dict.fromkeys(columns, pl.String))
    )


@cache
def invented_clinic():
    return InMemory(demo.generate.clinic())


@cache
def series_of_the_clinic():
    return read_for_counsel(invented_clinic(), PROTOCOL, as_of=AS_OF)[0]


def patient(age="74", width="18", lid="30", depth="full thickness", laxity="7", vision=""):
    given = dict(zip(list(OPTIONS)[1:], (width, lid, depth, laxity, vision), strict=True))
    return read_patient(given, age, protocol=PROTOCOL, as_of=AS_OF, options=OPTIONS)


PATIENTS = {
    "typical": patient(laxity="8", vision="6/9"),
    "outside": patient(age="20", width="30"),
    "old": patient(age="91", width="25", laxity="9", vision="6/60"),
    "shallow": patient(age="60", width="12", lid="29", depth="skin and muscle", laxity="6"),
    "few": patient(age="80", width="24", laxity="4"),
}
SHOWN = tuple(name for name in PATIENTS if name != "outside")
VERDICTS = {
    "lid_lower": "no difference that matters",
    "notch": "cannot tell",
    "swollen": "better with advanced",
    "operated_again": "may be better with graft",
}


def counsel_for(register, asked, *, public=False, frozen="", protocol=PROTOCOL, verdicts=VERDICTS):
    series = read_for_counsel(register, protocol, as_of=AS_OF)[0]
    return local_figures(series, asked, made(series, frozen), public=public, verdicts=verdicts)


@cache
def counselled(name, *, public=False):
    """The figures of the invented clinic for one of the patients."""
    series = series_of_the_clinic()
    return local_figures(series, PATIENTS[name], made(series, "spring"), public=public, verdicts=VERDICTS)


def made(series, frozen=""):
    return stamp(series, digest="0123456789ab" * 6, frozen=frozen, software="outcomes test")


def lids(cohort, number, *, first=0, poor=0, **lid):
    """Sheets with so many alike lids of one cover, each of another patient; the first `poor` of them are poor in everything."""
    sheets = {"patients": [], "reconstructions": [], "reviews": [], "events": []}
    for place in range(first, first + number):
        add_lid(sheets, f"{cohort}{place:03}", cohort, poor=place - first < poor, **lid)
    return sheets


def add_lid(sheets, case, cohort, *, poor, age=74, width=18, laxity=7, depth="full thickness", measured=True):
    operated = date(2024, 3, 1)
    divided = operated + timedelta(days=20)
    sheets["patients"].append({"patient_id": f"P-{case}", "birth_year": operated.year - age})
    sheets["reconstructions"].append(
        {
            "case_id": case,
            "patient_id": f"P-{case}",
            "operated_on": operated,
            "divided_on": divided,
            "cover": "graft" if cohort == "grafted" else "advancement",
            "defect_width_mm": float(width),
            "lid_width_mm": 30.0,
            "defect_depth": depth,
            "distraction_mm": float(laxity),
            "diagnosis": "basal cell carcinoma",
            "side": "right",
        }
    )
    for days in (91, 183) if measured else ():
        sheets["reviews"].append(
            {
                "case_id": case,
                "reviewed_on": divided + timedelta(days=days),
                "assessor": "A",
                "masked": "no",
                "mode": "clinic",
                "retraction_mm": 1.5 if poor else 0.0,
                "notch_mm": 1.0 if poor else 0.0,
                "oedema": 2 if poor else 0,
            }
        )


def together(*parts):
    return InMemory({sheet: [row for part in parts for row in part[sheet]] for sheet in parts[0]})


def told(found, name):
    return next(answer for answer in found.outcomes if answer.id == name)
