"""How coarse must what an outsider could know of a person be told, so that nobody stands out?

Age, sex, side and year of operation are made coarser step by step, and withheld for the few lids that would still stand out,
until every combination is shared by at least k patients (k-anonymity, Samarati & Sweeney 1998).
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from outcomes.cohort import CaseSeries

KEY = ("age_band", "sex", "side", "operated")
WITHHELD = "withheld"
MOST_WITHHELD = 0.1


@dataclass(frozen=True)
class Recoding:
    """How coarse the key is: years of an age band and of a period of operation, 0 for left out; whether side and sex are told."""

    age_years: int
    period_years: int
    side: bool = True
    sex: bool = True

    def says(self) -> str:
        """Say the recoding in words."""
        age = f"age in bands of {self.age_years} years" if self.age_years else "no age"
        period = f"operation in periods of {self.period_years} years" if self.period_years else "no year of operation"
        return f"{age}; {period}; {'sex' if self.sex else 'no sex'}; {'side' if self.side else 'no side'}"


LADDER = (
    Recoding(10, 1),
    Recoding(10, 3),
    Recoding(20, 3),
    Recoding(20, 5),
    Recoding(20, 0),
    Recoding(20, 0, side=False),
    Recoding(0, 0, side=False),
    Recoding(0, 0, side=False, sex=False),
)


def smallest_class(key: pl.DataFrame) -> int:
    """The smallest number of patients that share one combination of the key."""
    counted = key.group_by(KEY).agg(pl.col("patient_id").n_unique().alias("patients"))
    least = counted.get_column("patients").min()
    return int(least) if isinstance(least, int) else 0


def coarse_enough(series: CaseSeries, asked: int) -> tuple[Recoding, pl.DataFrame] | None:
    """The finest recoding under which every combination is shared by `asked` patients, with the key of each lid; None if none is."""
    for recoding in LADDER:
        key = _withholding(_keyed(series, recoding), asked)
        few = key.filter(pl.col("sex") == WITHHELD).height <= MOST_WITHHELD * key.height
        if key.height and smallest_class(key) >= asked and (few or recoding == LADDER[-1]):
            return recoding, key
    return None


def _keyed(series: CaseSeries, recoding: Recoding) -> pl.DataFrame:
    year, cases = pl.col("operated_on").dt.year(), series.cases
    return cases.select(
        "case_id",
        "patient_id",
        "cohort",
        _band(year - pl.col("birth_year"), recoding.age_years).alias("age_band"),
        (pl.col("sex").fill_null("unknown") if recoding.sex else pl.lit("")).alias("sex"),
        (pl.col("side") if recoding.side else pl.lit("")).alias("side"),
        _band(year, recoding.period_years).alias("operated"),
    ).sort("case_id")


def _band(number: pl.Expr, width: int) -> pl.Expr:
    if not width:
        return pl.lit("")
    first = (number // width) * width
    last = first + width - 1
    words = (
        first.cast(pl.String) if width == 1 else pl.concat_str(first.cast(pl.String), pl.lit("-"), last.cast(pl.String))
    )
    return words.fill_null("unknown")


def _withholding(key: pl.DataFrame, asked: int) -> pl.DataFrame:
    """Withhold the key of lids that stand out; of so few that these would stand out themselves, the next smallest class too."""
    sizes = key.group_by(KEY).agg(pl.col("patient_id").n_unique().alias("patients"), pl.col("patient_id").alias("who"))
    gone: set[tuple[str, ...]] = set()
    patients: set[str] = set()
    for row in sizes.sort("patients", *KEY).iter_rows(named=True):
        if row["patients"] >= asked and not 0 < len(patients) < asked:
            break
        gone.add(tuple(row[name] for name in KEY))
        patients |= set(row["who"])
    out = pl.Series([tuple(row) in gone for row in key.select(KEY).iter_rows()], dtype=pl.Boolean)
    return key.with_columns(pl.when(out).then(pl.lit(WITHHELD)).otherwise(pl.col(name)).alias(name) for name in KEY)
