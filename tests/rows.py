"""Make a register of a few rows: as rows, or as a real file through the program's own door."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import polars as pl

from outcomes.cohort import CaseSeries, Selection, assemble, read_frames
from outcomes.protocol import SHEETS, Protocol, SheetRow, default_protocol

Sheets = Mapping[str, Iterable[Mapping[str, Any]]]
AS_OF = date(2026, 6, 30)
OPERATED = date(2024, 1, 1)
DIVIDED = date(2024, 2, 1)


def after(days: int) -> date:
    """So many days after division."""
    return DIVIDED + timedelta(days=days)


def case(case_id: str, cover: str = "graft", **fields: Any) -> dict[str, Any]:
    """One reconstruction with what must be recorded; its patient has the same code unless told otherwise."""
    return {
        "case_id": case_id,
        "patient_id": case_id,
        "side": "right",
        "operated_on": OPERATED,
        "divided_on": DIVIDED,
        "diagnosis": "basal cell carcinoma",
        "cover": cover,
        **fields,
    }


def review(case_id: str, days: int, **fields: Any) -> dict[str, Any]:
    """One review so many days after division, in clinic, by one assessor."""
    return {
        "case_id": case_id,
        "reviewed_on": after(days),
        "assessor": "KM",
        "masked": "no",
        "mode": "clinic",
        **fields,
    }


def sheets(
    cases: list[dict[str, Any]], reviews: Sequence[dict[str, Any]] = (), events: Sequence[dict[str, Any]] = ()
) -> dict[str, list[dict[str, Any]]]:
    """The four sheets, with a patient for every case."""
    patients = {each["patient_id"]: {"patient_id": each["patient_id"], "birth_year": 1950} for each in cases}
    return {
        "patients": list(patients.values()),
        "reconstructions": cases,
        "reviews": list(reviews),
        "events": list(events),
    }


@dataclass(frozen=True)
class RowRegister:
    """Rows as a register gives them, for tests that ask only what follows from the rows."""

    rows: Sheets
    protocol: Protocol
    size: int = 1_000

    def review_spans(self) -> list[tuple[int, int]]:
        """The numbers of the reviews in spans of so many."""
        starts = range(0, len(list(self.rows["reviews"])), self.size)
        return [(first, first + self.size - 1) for first in starts]

    def extract(self, grain: str, span: tuple[int, int] | None = None) -> pl.DataFrame:
        """One grain as a frame, which speaks the Arrow stream as the store's extracts do."""
        rows = self._rows(grain)
        return rows.filter(pl.col("review_id").is_between(*span)) if span else rows

    def _rows(self, grain: str) -> pl.DataFrame:
        if grain == "observations":
            return self._observations()
        if grain == "withdrawn":
            return pl.DataFrame(schema={"cover": pl.String, "lids": pl.Int64})
        rows = [dict(row) for row in self.rows["reviews" if grain == "reviews" else grain]]
        fields = [field.id for field in self.protocol.sheet(grain) if not field.observed]
        frame = pl.DataFrame(
            [{name: row.get(name) for name in fields} for row in rows], schema=fields, infer_schema_length=None
        )
        return frame.with_row_index("review_id") if grain == "reviews" else frame

    def _observations(self) -> pl.DataFrame:
        found = [
            {
                "review_id": number,
                "field": field.id,
                "value": field.number(field.read(row[field.id], as_of=AS_OF).value),
            }
            for number, row in enumerate(self.rows["reviews"])
            for field in self.protocol.observed
            if row.get(field.id) not in {None, ""}
        ]
        return pl.DataFrame(found, schema={"review_id": pl.Int64, "field": pl.String, "value": pl.Float64})


def series_of(rows: Sheets, *, protocol: Protocol | None = None, **selection: Any) -> CaseSeries:
    """The case series of a few rows."""
    rules = protocol or default_protocol()
    chosen = Selection(**{"as_of": AS_OF, **selection})
    return assemble(read_frames(RowRegister(rows, rules), rules), rules, chosen)


def register_at(path: Path, rows: Sheets, *, protocol: Protocol | None = None, as_of: date = AS_OF) -> Path:
    """A real register at a path, holding the rows after the program's own checks; fails the test when any is refused."""
    from outcomes.store import Source, create_register, record_rows

    rules = protocol or default_protocol()
    create_register(path, rules)
    record_rows(
        path,
        checked_rows(rows, rules, as_of),
        queries=(),
        source=Source("rows", "0" * 64, "test", ""),
        at=datetime(2026, 6, 30, tzinfo=UTC),
    )
    return path


def checked_rows(rows: Sheets, rules: Protocol, as_of: date = AS_OF) -> tuple[SheetRow, ...]:
    """The rows, each value read by its field; a value that its field refuses fails the test."""
    return tuple(
        SheetRow(sheet, number, _values(sheet, row, rules, as_of))
        for sheet in SHEETS
        for number, row in enumerate(rows[sheet], start=2)
    )


def held_rows(rows: Sheets, *, protocol: Protocol | None = None, as_of: date = AS_OF) -> dict[str, Any]:
    """The rows as an open register hands them over, by sheet and by key."""
    held: dict[str, Any] = {sheet: {} for sheet in SHEETS}
    for row in checked_rows(rows, protocol or default_protocol(), as_of):
        held[row.sheet][row.key] = row.values
    return held


def _values(sheet: str, row: Mapping[str, Any], rules: Protocol, as_of: date) -> dict[str, Any]:
    values = {}
    for name, raw in row.items():
        read = rules.field(sheet, name).read(raw, as_of=as_of)
        assert not read.problem, f"{sheet} {name}: {read.problem}"
        if read.value is not None:
            values[name] = read.value
    return values
