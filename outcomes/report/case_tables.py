"""One case as tables: what was recorded, each measure over time, what happened, and what is open."""

from __future__ import annotations

from datetime import date
from itertools import groupby

from outcomes.findings.case_records import Values
from outcomes.findings.case_story import CaseStory, Course, Happening, Point, planned_reviews
from outcomes.protocol import Field, Protocol, Value, with_unit
from outcomes.report.formats import measured, short_time
from outcomes.report.schedule_tables import schedule_tables
from outcomes.report.tables.model import Column, Row, Table

# The fields of a reconstruction by what they are about; any other recorded field stands under Further.
PARTS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Case", ("case_id", "patient_id", "side", "surgeon", "site", "operated_on")),
    ("Lesion", ("diagnosis", "bcc_subtype", "recurrent_tumour")),
    (
        "Defect",
        (
            "defect_width_mm",
            "lid_width_mm",
            "defect_height_mm",
            "defect_depth",
            "canthus_involved",
            "distraction_mm",
            "snap_back",
        ),
    ),
    ("Fellow eye", ("fellow_logmar",)),
    ("Excision", ("excision_method", "clinical_margin_mm", "margin_control")),
    (
        "Histology",
        (
            "histology_margin",
            "histology_lateral_mm",
            "histology_deep_mm",
            "histology_reason",
            "re_excised",
            "residual_tumour",
        ),
    ),
    (
        "Flap and cover",
        ("flap_width_mm", "tarsus_left_mm", "cover_planned", "cover", "graft_donor", "margin_shortfall_mm"),
    ),
    ("Division", ("division_planned_on", "divided_on", "division_early_reason")),
)
BARS = "▁▂▃▄▅▆▇█"
_KINDS = {"operation": "Operation", "division": "Division of the pedicle"}


def case_tables(story: CaseStory, protocol: Protocol) -> tuple[Table, ...]:
    """Every table of the case, in reading order; empty ones are left out."""
    tables = (_facts(story, protocol), _courses(story, protocol), _timeline(story, protocol))
    return tuple(table for table in (*tables, *open_tables(story, protocol)) if table.rows)


def value_words(field: Field, value: Value) -> str:
    """Say a recorded value: a grade with its name, a number with its unit, a date as year-month-day."""
    if isinstance(value, date):
        return value.isoformat()
    if field.levels and isinstance(value, int):
        name = field.levels[value]
        return name if name == str(value) else f"{value} {name}"
    return with_unit(f"{value:g}", field.unit) if isinstance(value, float) else str(value)


def _facts(story: CaseStory, protocol: Protocol) -> Table:
    placed = {name for _, names in PARTS for name in names}
    further = tuple(field.id for field in protocol.sheet("reconstructions") if field.id not in placed)
    rows = [_part(part, names, story.record.case, protocol) for part, names in (*PARTS, ("Further", further))]
    rows.insert(1, _person(story, protocol))
    rows.append(("Days shut", "" if story.days_shut is None else f"{story.days_shut} from operation to division"))
    columns = (Column("part", "Part"), Column("recorded", "Recorded"))
    return Table("facts", f"Case {story.record.case_id}", columns, tuple(Row(((a,), (b,))) for a, b in rows if b))


def _person(story: CaseStory, protocol: Protocol) -> tuple[str, str]:
    names = tuple(field.id for field in protocol.sheet("patients") if field.id != "patient_id")
    return _part("Patient", names, story.record.patient, protocol, "patients")


def _part(
    part: str, names: tuple[str, ...], values: Values, protocol: Protocol, sheet: str = "reconstructions"
) -> tuple[str, str]:
    fields = [field for field in protocol.sheet(sheet) if field.id in names and values.get(field.id) is not None]
    return part, "; ".join(f"{field.label} {value_words(field, values[field.id])}" for field in fields)


def _courses(story: CaseStory, protocol: Protocol) -> Table:
    columns = (Column("measure", "Measure"), Column("trend", "Trend"), Column("course", "Values"))
    rows = tuple(
        Row(((protocol.measure(each.measure).label,), (_bars(each, protocol),), (course_words(each, protocol),)))
        for each in story.courses
    )
    notes = (("! a poor result by the protocol's rule. In brackets: the fellow lid.",),)
    return Table("courses", "Values by time since division", columns, rows, notes)


def course_words(course: Course, protocol: Protocol) -> str:
    """Say every value of a measure with its time, the fellow lid's value, and a mark where it is poor; equal ones in a row once."""
    field = protocol.value_field(protocol.measure(course.measure))
    runs = [
        (value, list(points)) for value, points in groupby(course.points, key=lambda point: _point_words(point, field))
    ]
    words = " · ".join(f"{_run_time(points)} {value}" for value, points in runs)
    return f"{words} ({field.unit})" if field.unit else words


def _run_time(points: list[Point]) -> str:
    first, last = short_time(points[0].days), short_time(points[-1].days)
    return first if first == last else f"{first}–{last}"


def _point_words(point: Point, field: Field) -> str:
    shown = measured(field) if field.kind == "number" else field.word
    fellow = f" [{shown(point.fellow)}]" if point.fellow is not None else ""
    return f"{shown(point.value)}{fellow}{'!' if point.poor else ''}"


def _bars(course: Course, protocol: Protocol) -> str:
    """The values as bars of a height between the least and the greatest that the measure can have or had."""
    values = [point.value for point in course.points]
    if len(values) < 2:
        return ""
    field = protocol.value_field(protocol.measure(course.measure))
    low, high = field.limits if field.kind != "number" else (min(0.0, *values), max(1.0, *values))
    return "".join(BARS[round((value - low) / (high - low) * (len(BARS) - 1))] for value in values)


def _timeline(story: CaseStory, protocol: Protocol) -> Table:
    columns = (
        Column("on", "Date"),
        Column("days", "Day", "right"),
        Column("what", "What"),
        Column("details", "Details"),
    )
    rows = tuple(
        Row(
            (
                (each.on.isoformat(),),
                ("" if each.days is None else str(each.days).replace("-", "−"),),
                (_what(each, protocol),),
                (_details(each, protocol),),
            )
        )
        for each in story.happenings
    )
    notes = (("Day: counted from division.",),) if story.days_shut is not None else ()
    return Table("timeline", "What happened", columns, rows, notes)


def _what(happening: Happening, protocol: Protocol) -> str:
    if happening.kind == "event":
        kind = str(happening.values.get("kind", ""))
        return kind[:1].upper() + kind[1:] + (" (ends follow-up)" if kind in protocol.ends_follow_up else "")
    return _KINDS.get(happening.kind, "Review")


def _details(happening: Happening, protocol: Protocol) -> str:
    if happening.kind == "event":
        fields = [field for field in protocol.sheet("events") if field.id not in {"case_id", "happened_on", "kind"}]
    elif happening.kind == "review":
        measured_fields = {field.id for field in protocol.observed}
        named = {name for each in protocol.measures for name in (each.field, each.operated, each.fellow)}
        fields = [
            field
            for field in protocol.sheet("reviews")
            if field.id not in {"case_id", "reviewed_on"} and (field.id not in measured_fields or field.id not in named)
        ]
        number = sum(name in happening.values for name in measured_fields & named)
        seen = _listed(happening.values, fields)
        return "; ".join(part for part in (seen, f"{number} value{'' if number == 1 else 's'} measured") if part)
    else:
        return ""
    return _listed(happening.values, fields)


def _listed(values: Values, fields: list[Field]) -> str:
    return "; ".join(
        f"{field.label} {value_words(field, values[field.id])}" for field in fields if values.get(field.id) is not None
    )


def open_tables(story: CaseStory, protocol: Protocol) -> tuple[Table, ...]:
    """What is due, overdue, missed or outstanding for this case, and the reviews to come."""
    missed = [
        Row(((protocol.window(each.window).label,), (f"missed; its window closed on {each.last_on.isoformat()}",)))
        for each in story.open.with_status("missed")
    ]
    ahead = [
        Row(((protocol.window(name).label,), (f"planned for {on.isoformat()}",)))
        for name, on in planned_reviews(story, protocol)
    ]
    columns = (Column("review", "Review"), Column("state", "State"))
    return (
        *(table for table in schedule_tables(story.open, protocol) if table.rows),
        Table("reviews-of-case", "Reviews missed and to come", columns, (*missed, *ahead)),
    )
