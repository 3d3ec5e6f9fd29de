"""Which rows can be given to other researchers, so that nobody in them stands out?

Dates are left out or become whole months, codes are replaced, surgeons and places are left out. What an outsider could know
of a person (age, sex, side, year of operation) is made coarser step by step, and withheld for the few lids that would still
stand out, until every combination is shared by at least k patients (k-anonymity, Samarati & Sweeney 1998). A value or a level
that fewer than k lids of a cohort have is put together with its neighbours and told as the middle of them, so that no count of
fewer than k lids can be made from one column.
"""

from __future__ import annotations

import hashlib
import io
from collections import Counter
from dataclasses import dataclass

import polars as pl

from outcomes.cohort import DAYS_IN_MONTH, SEEN, CaseSeries, column, followed, states
from outcomes.findings.disclosure.k_anonymity import KEY, WITHHELD, coarse_enough, smallest_class
from outcomes.findings.results import Stamp
from outcomes.protocol import COHORTS, Characteristic

OTHER = "other"
NOT_GIVEN = ("surgeon", "site", "sex")
PUT_TOGETHER = "Values that too few lids of a cohort have are told as the middle of their neighbours'."


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
    found = coarse_enough(series, asked)
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
    tables = (_wide(series, key, asked, release), _tall(series, key, asked, release))
    withheld = key.filter(pl.col("sex") == WITHHELD).height
    return Shared(k, asked, key.height, withheld, recoding.says(), tables)


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
    own = series.cases.select("case_id", *(pl.col(column(each)).alias(each.id) for each in given))
    observed = followed(series).select(
        "case_id", (pl.col("observed") / DAYS_IN_MONTH).floor().cast(pl.Float64).alias("months_followed")
    )
    frame = _coded(series, key).join(own, on="case_id").join(observed, on="case_id", how="left")
    frame = frame.with_columns(_told(frame, name, asked) for name in (*own.columns[1:], "months_followed"))
    measured = _at_primary(series, asked)
    if measured.width > 1:
        frame = frame.join(measured, on="case_id", how="left")
    chosen = frame.sort("lid").select(
        "lid",
        "cohort",
        *KEY,
        *own.columns[1:],
        pl.col("months_followed").cast(pl.Int64),
        *measured.columns[1:],
        pl.lit(release).alias("release"),
    )
    columns = (*_key_columns(), *(_characteristic(series, each) for each in given), *_last_columns(series, chosen))
    return _table("wide", chosen, columns)


def _is_given(each: Characteristic) -> bool:
    return each.levels_of not in NOT_GIVEN and not each.years_since and not each.year_of


def _told(frame: pl.DataFrame, name: str, asked: int) -> pl.Series:
    """A column as it is given away: in each cohort no value that fewer lids have than asked."""
    told: list[object] = [None] * frame.height
    for cohort in COHORTS:
        at = [number for number, each in enumerate(frame.get_column("cohort")) if each == cohort]
        values = frame.get_column(name).gather(at).to_list()
        replaced = levels_together(values, asked) if frame.schema[name] == pl.String else together(values, asked)
        for number, value in zip(at, values, strict=True):
            told[number] = replaced.get(value)
    return pl.Series(name, told, dtype=frame.schema[name])


def together(values: list[float | None], asked: int) -> dict[float | None, float]:
    """What each value is told as: neighbours are put together until so many lids have them; nothing where there are fewer in all.

    >>> together([0, 0, 0, 1, 2, 2, None], asked=3)
    {0: 0, 1: 2, 2: 2}
    """
    counts = Counter(value for value in values if value is not None)
    groups: list[list[float]] = [[]]
    for value in sorted(counts):
        if sum(counts[each] for each in groups[-1]) >= asked:
            groups.append([])
        groups[-1].append(value)
    if len(groups) > 1 and sum(counts[each] for each in groups[-1]) < asked:
        last = groups.pop()
        groups[-1].extend(last)
    if sum(counts.values()) < asked:
        return {}
    return {value: _middle(group, counts) for group in groups for value in group}


def _middle(group: list[float], counts: Counter[float]) -> float:
    """The lower middle one of the lids of a group: always a value that was measured."""
    lids = sorted(value for value in group for _ in range(counts[value]))
    return lids[(len(lids) - 1) // 2]


def levels_together(values: list[str | None], asked: int) -> dict[str | None, str | None]:
    """What each level is told as: those that fewer lids have than asked are told as other, or not at all if these are too few."""
    counts = Counter(value for value in values if value is not None)
    rare = [level for level, number in counts.items() if number < asked]
    other = OTHER if sum(counts[level] for level in rare) >= asked else None
    return {level: other if level in rare else level for level in counts}


def _at_primary(series: CaseSeries, asked: int) -> pl.DataFrame:
    window = series.protocol.primary_window
    names = [measure.id for measure in series.protocol.main_measures if measure in series.measures]
    seen = _seen(series, asked).filter(pl.col("window") == window)
    columns = [
        pl.col("value").filter(pl.col("measure") == name).first().alias(f"{name}_{window}")
        for name in names
        if window in [each.id for each in series.windows]
    ]
    return seen.group_by("case_id").agg(columns)


def _seen(series: CaseSeries, asked: int) -> pl.DataFrame:
    """Every value that stands for a window, put together with its neighbours in its cohort where too few lids have it."""
    seen = states(series).filter(pl.col("status") == SEEN).select("case_id", "cohort", "window", "measure", "value")
    told = [
        group.with_columns(_told(group, "value", asked))
        for _, group in seen.group_by("window", "measure", maintain_order=True)
    ]
    return pl.concat(told).drop_nulls("value") if told else seen


def _tall(series: CaseSeries, key: pl.DataFrame, asked: int, release: str) -> SharedTable:
    order = pl.Enum([each.id for each in series.protocol.windows])
    frame = (
        _coded(series, key)
        .select("case_id", "lid", "cohort")
        .join(_seen(series, asked).drop("cohort"), on="case_id")
        .with_columns(pl.col("window").cast(order).alias("at"))
        .sort("lid", "measure", "at")
        .select("lid", "cohort", "measure", "window", "value", pl.lit(release).alias("release"))
    )
    measures = tuple(measure.id for measure in series.protocol.measures)
    windows = tuple(window.id for window in series.protocol.windows)
    columns = (
        *_key_columns()[:2],
        SharedColumn(
            "measure",
            "string",
            "Measure",
            "What was measured: see the definitions of the pack.",
            allowed=measures,
        ),
        SharedColumn("window", "string", "Review", "The review window after division of the pedicle.", allowed=windows),
        SharedColumn(
            "value",
            "number",
            "Value",
            f"In the unit of the measure; a yes is 1, a no 0, a grade its number. {PUT_TOGETHER}",
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
    few = "Levels of too few lids are told as 'other'." if each.levels_of else f"A yes is 1, a no 0. {PUT_TOGETHER}"
    kind = "string" if each.levels_of else "number"
    return SharedColumn(each.id, kind, each.label, f"{few} Blank: not recorded, or not told.", unit)


def _last_columns(series: CaseSeries, chosen: pl.DataFrame) -> tuple[SharedColumn, ...]:
    window = series.protocol.window(series.protocol.primary_window)
    measured = []
    for measure in series.protocol.main_measures:
        name = f"{measure.id}_{window.id}"
        if name in chosen.columns:
            field = series.protocol.value_field(measure)
            said = f"{measure.label}, {window.label} after division. {field.says()}. {PUT_TOGETHER} Blank: not seen, or not told."
            measured.append(SharedColumn(name, "number", measure.label, said, field.unit))
    months = SharedColumn(
        "months_followed",
        "integer",
        "Months followed",
        f"Whole months from division to the last day known. {PUT_TOGETHER} Blank: not divided.",
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
