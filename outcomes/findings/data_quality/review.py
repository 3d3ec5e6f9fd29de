"""All queries about the recorded data, without those that were accepted."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from outcomes.cohort import CaseSeries
from outcomes.findings.case_records import HeldRows, case_records
from outcomes.findings.data_quality.completeness import Completeness, completeness, gap_queries
from outcomes.findings.data_quality.contradictions import contradictions
from outcomes.findings.data_quality.graders import grader_queries
from outcomes.findings.data_quality.queries import DataQuery, stored_queries

StoredRow = tuple[str, str, str, str]


@dataclass(frozen=True)
class DataReview:
    """What is doubted and what is missing in a register on one day; `accepted` queries stay quiet."""

    cases: int
    queries: tuple[DataQuery, ...]
    accepted: tuple[DataQuery, ...]
    completeness: tuple[Completeness, ...]


def review_data(series: CaseSeries, held: HeldRows, stored: list[StoredRow], accepted: Collection[str]) -> DataReview:
    """Every query of the register: contradictions first, then what was kept at loading, habits of assessors and gaps."""
    records = case_records(held, series.protocol, series.as_of)
    found = [query for record in records for query in contradictions(record, series.protocol)]
    found += [*stored_queries(stored), *grader_queries(records, series.protocol), *gap_queries(series)]
    return DataReview(
        len(records),
        tuple(query for query in found if query.id not in accepted),
        tuple(query for query in found if query.id in accepted),
        completeness(series),
    )
