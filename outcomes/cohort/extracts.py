"""The register's extracts as typed frames; a column that a register does not have is null."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any
from typing import Protocol as Shape

import polars as pl

from outcomes.cohort.measurements import in_order, reviews_of_span
from outcomes.protocol import Field, Protocol

TYPES = {"date": pl.Date, "number": pl.Float64, "acuity": pl.Float64, "grade": pl.Float64, "year": pl.Int64}


class Register(Shape):
    """Anything that gives an extract by its grain: a register, or a freeze of one."""

    def extract(self, grain: str, span: tuple[int, int] | None = None) -> Any:  # noqa: ANN401 - any object that speaks the Arrow stream
        """One grain of the register as a stream of columns; of reviews and their values, those of a span of reviews."""

    def review_spans(self) -> Iterable[tuple[int, int]]:
        """The first and the last number of each span of reviews that is read at once."""


@dataclass(frozen=True)
class Frames:
    """The register at one grain a frame; columns are the protocol's fields, absent values null.

    Reconstructions are in order of case_id. `reviews`: one row each, in order of case, day, masking, assessor and mode, with
    the place of its case among the reconstructions (`case`) and a column a measure (`value_column`). `withdrawn` only counts:
    one row a cover, with the lids of patients who have withdrawn.
    """

    patients: pl.DataFrame
    reconstructions: pl.DataFrame
    reviews: pl.DataFrame
    events: pl.DataFrame
    withdrawn: pl.DataFrame


def read_frames(register: Register, protocol: Protocol) -> Frames:
    """Read every extract and give each column the type that its field has."""
    reconstructions = _typed(register.extract("reconstructions"), protocol.sheet("reconstructions")).sort("case_id")
    return Frames(
        patients=_typed(register.extract("patients"), protocol.sheet("patients")),
        reconstructions=reconstructions,
        reviews=_reviews(register, reconstructions, protocol),
        events=_typed(register.extract("events"), protocol.sheet("events")),
        withdrawn=pl.DataFrame(register.extract("withdrawn")).select(
            pl.col("cover").cast(pl.String), pl.col("lids").cast(pl.Int64)
        ),
    )


_OBSERVED = pl.Schema({"review_id": pl.Int64, "field": pl.String, "value": pl.Float64})


def _reviews(register: Register, reconstructions: pl.DataFrame, protocol: Protocol) -> pl.DataFrame:
    """Every review with its measures, read span by span, as the values of all reviews are many."""
    cases = reconstructions.select("case_id").with_row_index("case")
    fields = tuple(field for field in protocol.sheet("reviews") if not field.observed)
    spans = [
        reviews_of_span(
            _typed(register.extract("reviews", span), fields),
            pl.DataFrame(register.extract("observations", span)).cast(_OBSERVED),
            cases,
            protocol,
        )
        for span in register.review_spans()
    ]
    return in_order(spans, protocol)


def _typed(extract: Any, fields: tuple[Field, ...]) -> pl.DataFrame:  # noqa: ANN401 - any object that speaks the Arrow stream
    frame = pl.DataFrame(extract)
    columns = [
        (pl.col(field.id) if field.id in frame.columns else pl.lit(None).alias(field.id)).cast(
            TYPES.get(field.kind, pl.String)
        )
        for field in fields
    ]
    extra = [pl.col("review_id").cast(pl.Int64)] if "review_id" in frame.columns else []
    return frame.select(*columns, *extra)


def known_by(frame: pl.DataFrame, column: str, as_of: date) -> pl.DataFrame:
    """Only the rows that had happened on the as-of day."""
    return frame.filter(pl.col(column) <= as_of)
