"""Values of the patient: typed, or those of a case of the register."""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import polars as pl

from outcomes.cohort import Frames, column
from outcomes.cohort.characteristics import with_characteristics
from outcomes.cohort.extracts import TYPES
from outcomes.errors import DataRefused, Problem
from outcomes.findings.counsel.results import Cohort
from outcomes.protocol import Characteristic, Likeness, Protocol, Value, folded_code

SHEETS = ("patients", "reconstructions")


@dataclass(frozen=True)
class PatientValues:
    """The patient's values by field, and, when it is a case of the register, its code and the patient whose lids are left out."""

    values: Mapping[str, Value]
    patient: str = ""
    case: str = ""


NOBODY = PatientValues({})


def fields_needed(protocol: Protocol) -> tuple[str, ...]:
    """The fields that every rule of likeness uses, in the order of the rules: without them no lids can be selected."""
    by_rule = [_fields_of(rule, protocol) for rule in protocol.likeness]
    return tuple(name for name in by_rule[0] if all(name in fields for fields in by_rule)) if by_rule else ()


def _fields_of(rule: Likeness, protocol: Protocol) -> list[str]:
    named = list(rule.same)
    for name, _ in rule.within:
        named += _sources(protocol.characteristic(name))
    return named


def cover_order(patient: PatientValues, digest: str) -> tuple[Cohort, Cohort]:
    """The order in which the covers are shown, drawn by the case code; by the values typed, or the register, without one."""
    drawn_by = patient.case or repr(sorted((name, str(value)) for name, value in patient.values.items())) + digest
    first = hashlib.sha256(drawn_by.encode()).digest()[0] % 2
    return ("advanced", "grafted") if first else ("grafted", "advanced")


def _sources(characteristic: Characteristic) -> list[str]:
    return [name for name in (characteristic.field, *characteristic.ratio, characteristic.years_since) if name]


def read_patient(
    given: Mapping[str, str], age: str, *, protocol: Protocol, as_of: date, options: Mapping[str, str]
) -> PatientValues:
    """Check what was typed, by field; raises DataRefused that names every option at fault with its limits."""
    values: dict[str, Value] = {"operated_on": as_of}
    problems = []
    for name, raw in given.items():
        field = protocol.field("reconstructions", name)
        reading = field.read(_whole_word(raw, field.allowed), as_of=as_of)
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


def _whole_word(typed: str, allowed: tuple[str, ...]) -> str:
    """The word of a closed list that alone begins so, or has a word in it that begins so; else what was typed.

    >>> _whole_word("full", ("skin", "skin and muscle", "full thickness")), _whole_word("skin", ("skin", "skin and muscle"))
    ('full thickness', 'skin')
    """
    short = " ".join(typed.split()).casefold()
    if not short or short in allowed:
        return typed
    starts = [each for each in allowed if each.casefold().startswith(short)]
    inside = [each for each in allowed if any(word.startswith(short) for word in each.casefold().split())]
    matches = starts if len(starts) == 1 else inside
    return matches[0] if len(matches) == 1 else typed


def _age(text: str, protocol: Protocol) -> tuple[int, str]:
    youngest, oldest = protocol.counsel.ages
    if not text.strip().isdecimal() or not youngest <= int(text) <= oldest:
        return 0, f'"{text}": must be a whole number from {youngest} to {oldest} years'
    return int(text), ""


def patient_of_case(frames: Frames, case_id: str) -> PatientValues:
    """The values of a case of the register and its patient; raises DataRefused when there is no such case."""
    cases = frames.reconstructions.join(frames.patients, on="patient_id", how="left")
    codes = cases.get_column("case_id").to_list()
    meant = [code for code in codes if folded_code(code) == folded_code(case_id)]
    row = next(cases.filter(pl.col("case_id").is_in(meant)).iter_rows(named=True), None)
    if row is None:
        near = difflib.get_close_matches(case_id, codes, n=1)
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
    return PatientValues({**patient.values, **typed_values}, patient.patient, patient.case)


def features(patient: PatientValues, protocol: Protocol) -> dict[str, Value]:
    """The patient's value of every field and characteristic, None where it is not known."""
    kinds = {field.id: TYPES.get(field.kind, pl.String) for field in protocol.fields if field.sheet in SHEETS}
    plain = pl.DataFrame({name: pl.Series([patient.values.get(name)], dtype=kind) for name, kind in kinds.items()})
    row = with_characteristics(plain, protocol).row(0, named=True)
    return {**{name: row[name] for name in kinds}, **{each.id: row[column(each)] for each in protocol.characteristics}}
