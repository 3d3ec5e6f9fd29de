"""Which rows can be given to other researchers, so that nobody in them stands out?

Dates are left out or become whole months, codes are replaced, surgeons and places are left out. What an outsider could know
of a person (age, sex, side, year of operation) is made coarser step by step, and withheld for the few lids that would still
stand out, until every combination is shared by at least k patients (k-anonymity, Samarati & Sweeney 1998). Levels that fewer
than k lids have are put together. What is known only from the examination, such as the width of a defect, stays as measured.
"""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass

import polars as pl

from outcomes.cohort import DAYS_IN_MONTH, SEEN, CaseSeries, column, followed, states
from outcomes.findings.results import Stamp
from outcomes.protocol import Characteristic

KEY = ("age_band", "sex", "side", "operated")
WITHHELD, OTHER = "withheld", "other"
MOST_WITHHELD = 0.1
NOT_GIVEN = ("surgeon", "site", "sex")


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


@dataclass(frozen=True)
class SharedTable:
    """One table to be given away: its name, its columns with their words, and its bytes in each form."""

    name: str
    columns: tuple[SharedColumn, ...]
    csv: bytes
    parquet: bytes
    rows: int


@dataclass(frozen=True)
class SharedColumn:
    """One column: its kind (string, integer or number), what it means, its unit, and the words that it may hold."""

    name: str
    kind: str
    title: str
    description: str
    unit: str = ""
    allowed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Shared:
    """What may be given away. `k` is the smallest number of patients with one key; without tables nothing may, and `note` says why."""

    k: int
    asked: int
    lids: int
    withheld: int
    recoding: str
    tables: tuple[SharedTable, ...] = ()
    note: str = ""


def shared(series: CaseSeries, stamp: Stamp) -> Shared:
    """The tall and the wide table, or the reason why there is none."""
    asked = series.protocol.rules.k_anonymity
    found = _coarse_enough(series, asked)
    if found is None:
        return Shared(
            0,
            asked,
            series.cases.height,
            0,
            "",
            note=f"fewer than {asked} patients: rows of so few would point at persons",
        )
    recoding, key = found
    k = smallest_class(key)
    release = f"{stamp.digest[:12]} {stamp.frozen or 'no data lock'} as of {stamp.as_of.isoformat()}"
    tables = (_wide(series, key, asked, release), _tall(series, key, release))
    withheld = key.filter(pl.col("sex") == WITHHELD).height
    return Shared(k, asked, key.height, withheld, recoding.says(), tables)


def smallest_class(key: pl.DataFrame) -> int:
    """The smallest number of patients that share one combination of the key."""
    counted = key.group_by(KEY).agg(pl.col("patient_id").n_unique().alias("patients"))
    least = counted.get_column("patients").min()
    return int(least) if isinstance(least, int) else 0


def _coarse_enough(series: CaseSeries, asked: int) -> tuple[Recoding, pl.DataFrame] | None:
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


def _coded(series: CaseSeries, key: pl.DataFrame) -> pl.DataFrame:
    """Give each lid a code that says nothing: its order is drawn from what is not given away."""
    secret = [
        hashlib.sha256("|".join(str(each) for each in row).encode()).hexdigest()
        for row in series.cases.sort("case_id").select("case_id", "operated_on", "birth_year", "divided_on").iter_rows()
    ]
    ranked = key.with_columns(pl.Series("secret", secret, dtype=pl.String)).sort("secret")
    codes = [f"L{number:04d}" for number in range(1, ranked.height + 1)]
    return ranked.with_columns(pl.Series("lid", codes, dtype=pl.String)).drop("secret")


def _wide(series: CaseSeries, key: pl.DataFrame, asked: int, release: str) -> SharedTable:
    given = [each for each in series.protocol.characteristics if _is_given(each)]
    frame = _coded(series, key).join(series.cases, on="case_id", suffix="_own")
    frame = frame.join(followed(series).select("case_id", "observed"), on="case_id", how="left")
    measured = _at_primary(series)
    if measured.width > 1:
        frame = frame.join(measured, on="case_id", how="left")
    chosen = frame.sort("lid").select(
        "lid",
        "cohort",
        *(pl.col(name) for name in KEY),
        *(_shown(series, each, asked).alias(each.id) for each in given),
        (pl.col("observed") / DAYS_IN_MONTH).floor().cast(pl.Int64).alias("months_followed"),
        *(pl.col(name) for name in measured.columns if name != "case_id"),
        pl.lit(release).alias("release"),
    )
    columns = (*_key_columns(), *(_characteristic(series, each) for each in given), *_last_columns(series, chosen))
    return _table("wide", chosen, columns)


def _is_given(each: Characteristic) -> bool:
    return each.levels_of not in NOT_GIVEN and not each.years_since and not each.year_of


def _shown(series: CaseSeries, each: Characteristic, asked: int) -> pl.Expr:
    """A characteristic as it is given away: a level or a yes that fewer lids have than asked is not told."""
    held, known = pl.col(column(each)), series.cases.get_column(column(each)).drop_nulls()
    if each.levels_of:
        rare = [level for level, number in known.value_counts().iter_rows() if number < asked]
        return pl.when(held.is_in(rare)).then(pl.lit(OTHER)).otherwise(held)
    if set(known.unique().to_list()) <= {0.0, 1.0}:
        return (
            held if min(int((known == 1).sum()), int((known == 0).sum())) >= asked else pl.lit(None, dtype=pl.Float64)
        )
    return held


def _at_primary(series: CaseSeries) -> pl.DataFrame:
    window = series.protocol.primary_window
    names = [measure.id for measure in series.protocol.main_measures if measure in series.measures]
    seen = states(series).filter((pl.col("window") == window) & (pl.col("status") == SEEN))
    columns = [
        pl.col("value").filter(pl.col("measure") == name).first().alias(f"{name}_{window}")
        for name in names
        if window in [each.id for each in series.windows]
    ]
    return seen.group_by("case_id").agg(columns)


def _tall(series: CaseSeries, key: pl.DataFrame, release: str) -> SharedTable:
    seen = states(series).filter(pl.col("status") == SEEN).select("case_id", "window", "measure", "value")
    order = pl.Enum([each.id for each in series.protocol.windows])
    frame = (
        _coded(series, key)
        .select("case_id", "lid", "cohort")
        .join(seen, on="case_id")
        .with_columns(pl.col("window").cast(order).alias("at"))
        .sort("lid", "measure", "at")
        .select("lid", "cohort", "measure", "window", "value", pl.lit(release).alias("release"))
    )
    measures = tuple(measure.id for measure in series.protocol.measures)
    windows = tuple(window.id for window in series.protocol.windows)
    columns = (
        *_key_columns()[:2],
        SharedColumn(
            "measure", "string", "Measure", "What was measured: see the definitions of the pack.", allowed=measures
        ),
        SharedColumn("window", "string", "Review", "The review window after division of the pedicle.", allowed=windows),
        SharedColumn(
            "value",
            "number",
            "Value",
            "The value in the unit of the measure; a yes is 1, a no is 0, a grade its number from 0.",
        ),
        _release(),
    )
    return _table("tall", frame, columns)


def _key_columns() -> tuple[SharedColumn, ...]:
    coarse = f"Made coarser; '{WITHHELD}' where the lid would have stood out; blank where it is not told of any lid."
    return (
        SharedColumn("lid", "string", "Lid", "A code made for this release; it links the two tables and nothing else."),
        SharedColumn("cohort", "string", "Cohort", "How the flap was covered.", allowed=("grafted", "advanced")),
        SharedColumn("age_band", "string", "Age at operation", f"In years, by year of birth. {coarse}"),
        SharedColumn("sex", "string", "Sex", coarse),
        SharedColumn("side", "string", "Side", coarse),
        SharedColumn("operated", "string", "Years of operation", coarse),
    )


def _characteristic(series: CaseSeries, each: Characteristic) -> SharedColumn:
    unit = each.unit or next(
        (field.unit for field in series.protocol.fields if each.field and field.id == each.field), ""
    )
    rare = "Levels of too few lids are put together as 'other'. " if each.levels_of else ""
    few = "1 yes, 0 no where it is a yes or no; not told where too few lids have it. " if not each.levels_of else ""
    return SharedColumn(
        each.id,
        "string" if each.levels_of else "number",
        each.label,
        f"{rare}{few}Blank: not recorded or not told.",
        unit,
    )


def _last_columns(series: CaseSeries, chosen: pl.DataFrame) -> tuple[SharedColumn, ...]:
    window = series.protocol.window(series.protocol.primary_window)
    measured = []
    for measure in series.protocol.main_measures:
        name = f"{measure.id}_{window.id}"
        if name in chosen.columns:
            field = series.protocol.value_field(measure)
            said = f"{measure.label}, {window.label} after division. {field.says()}. Blank: not seen."
            measured.append(SharedColumn(name, "number", measure.label, said, field.unit))
    months = SharedColumn(
        "months_followed",
        "integer",
        "Months followed",
        "Whole months from division to the last day known. Blank: not divided.",
        "months",
    )
    return (months, *measured, _release())


def _release() -> SharedColumn:
    return SharedColumn(
        "release", "string", "Release", "The register's digest, the data lock and the day for which the rows speak."
    )


def _table(name: str, frame: pl.DataFrame, columns: tuple[SharedColumn, ...]) -> SharedTable:
    if frame.columns != [each.name for each in columns]:
        raise ValueError(f"{name}: the columns {frame.columns} are not those that are told")
    text, packed = io.BytesIO(), io.BytesIO()
    blank = frame.with_columns(pl.col(pl.String).replace("", None))
    blank.write_csv(text)
    blank.write_parquet(packed, compression="zstd", statistics=True)
    return SharedTable(name, columns, text.getvalue(), packed.getvalue(), frame.height)
