"""Values of the patient: typed, or those of a case of the register."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import polars as pl

from outcomes.cohort import Frames, column
from outcomes.cohort.characteristics import with_characteristics
from outcomes.cohort.extracts import TYPES
from outcomes.errors import DataRefused, Problem
from outcomes.protocol import Characteristic, Protocol, Value

SHEETS = ("patients", "reconstructions")


@dataclass(frozen=True)
class PatientValues:
    """The patient's values by field, and, when it is a case of the register, the patient whose lids are left out."""

    values: Mapping[str, Value]
    patient: str = ""


NOBODY = PatientValues({})


def fields_needed(protocol: Protocol) -> tuple[str, ...]:
    """The fields without which no lids like the patient's can be selected, in the order of the rules."""
    named = [name for rule in protocol.likeness for name in rule.same]
    for rule in protocol.likeness:
        for name, _ in rule.within:
            named += _sources(protocol.characteristic(name))
    return tuple(dict.fromkeys(named))


def _sources(characteristic: Characteristic) -> list[str]:
    return [name for name in (characteristic.field, *characteristic.ratio, characteristic.years_since) if name]


def read_patient(
    given: Mapping[str, str], age: str, *, protocol: Protocol, as_of: date, options: Mapping[str, str]
) -> PatientValues:
    """Check what was typed, by field; raises DataRefused that names every option at fault with its limits."""
    values: dict[str, Value] = {"operated_on": as_of}
    problems = []
    for name, raw in given.items():
        reading = protocol.field("reconstructions", name).read(raw, as_of=as_of)
        values[name] = reading.value
        if reading.problem:
            problems.append(Problem("counsel", 0, options[name], reading.problem))
    if age:
        years, problem = _age(age, protocol)
        values["birth_year"] = as_of.year - years
        problems += [Problem("counsel", 0, options["birth_year"], problem)] if problem else []
    if problems:
        raise DataRefused("these values cannot be a patient's; nothing was worked out", problems)
    return PatientValues(values)


def _age(text: str, protocol: Protocol) -> tuple[int, str]:
    youngest, oldest = protocol.counsel.ages
    if not text.strip().isdecimal() or not youngest <= int(text) <= oldest:
        return 0, f'"{text}": must be a whole number from {youngest} to {oldest} years'
    return int(text), ""


def patient_of_case(frames: Frames, case_id: str) -> PatientValues:
    """The values of a case of the register and its patient; raises DataRefused when there is no such case."""
    cases = frames.reconstructions.join(frames.patients, on="patient_id", how="left")
    row = next(cases.filter(pl.col("case_id") == case_id).iter_rows(named=True), None)
    if row is None:
        near = difflib.get_close_matches(case_id, cases.get_column("case_id").to_list(), n=1)
        hint = f'; did you mean "{near[0]}"?' if near else ""
        raise DataRefused(
            "there is no such case", [Problem("counsel", 0, "--case", f'"{case_id}": is not in the register{hint}')]
        )
    return PatientValues(
        {name: value for name, value in row.items() if value is not None}, patient=str(row["patient_id"])
    )


def overlaid(patient: PatientValues, typed: PatientValues) -> PatientValues:
    """The values of a case with those typed in their place."""
    typed_values = {name: value for name, value in typed.values.items() if value is not None}
    if "birth_year" not in typed_values:
        typed_values.pop("operated_on", None)
    return PatientValues({**patient.values, **typed_values}, patient.patient)


def features(patient: PatientValues, protocol: Protocol) -> dict[str, Value]:
    """The patient's value of every field and characteristic, None where it is not known."""
    kinds = {field.id: TYPES.get(field.kind, pl.String) for field in protocol.fields if field.sheet in SHEETS}
    plain = pl.DataFrame({name: pl.Series([patient.values.get(name)], dtype=kind) for name, kind in kinds.items()})
    row = with_characteristics(plain, protocol).row(0, named=True)
    return {**{name: row[name] for name in kinds}, **{each.id: row[column(each)] for each in protocol.characteristics}}
