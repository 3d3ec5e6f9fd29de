"""The register's extracts as typed frames; a column that a register does not have is null."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any
from typing import Protocol as Shape

import polars as pl

from outcomes.protocol import Field, Protocol

TYPES = {"date": pl.Date, "number": pl.Float64, "acuity": pl.Float64, "grade": pl.Float64, "year": pl.Int64}


class Register(Shape):
    """Anything that gives an extract by its grain: a register, or a freeze of one."""

    def extract(self, grain: str) -> Any:  # noqa: ANN401 - any object that speaks the Arrow stream
        """One grain of the register as a stream of columns."""


@dataclass(frozen=True)
class Frames:
    """The register at one grain a frame; columns are the protocol's fields, absent values null.

    `withdrawn` only counts: one row a cover, with the lids of patients who have withdrawn.
    """

    patients: pl.DataFrame
    reconstructions: pl.DataFrame
    reviews: pl.DataFrame
    observations: pl.DataFrame
    events: pl.DataFrame
    withdrawn: pl.DataFrame


def read_frames(register: Register, protocol: Protocol) -> Frames:
    """Read every extract and give each column the type that its field has."""
    return Frames(
        patients=_typed(register, "patients", protocol.sheet("patients")),
        reconstructions=_typed(register, "reconstructions", protocol.sheet("reconstructions")),
        reviews=_typed(register, "reviews", tuple(field for field in protocol.sheet("reviews") if not field.observed)),
        observations=pl.DataFrame(register.extract("observations")).select(
            pl.col("review_id").cast(pl.Int64), pl.col("field").cast(pl.String), pl.col("value").cast(pl.Float64)
        ),
        events=_typed(register, "events", protocol.sheet("events")),
        withdrawn=pl.DataFrame(register.extract("withdrawn")).select(
            pl.col("cover").cast(pl.String), pl.col("lids").cast(pl.Int64)
        ),
    )


def _typed(register: Register, grain: str, fields: tuple[Field, ...]) -> pl.DataFrame:
    frame = pl.DataFrame(register.extract(grain))
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
