"""De-identified rows for other researchers: one table of lids, one of counted values.

Dates, codes, surgeons and places are never in them. What an outsider could know of a person is coarsened, and withheld where a
row would still stand out, until each row is one of k patients' and no class tells a poor result (k_anonymity.py). Whether a lid was
reviewed at the primary window is visible, and part of its class. A value that fewer than k lids of a cohort have is merged with
its neighbours. The rows are sorted by what they show, so their order tells nothing. Values of other windows are counted and not
linked to lids, because the windows at which a lid was seen would tell how long it was followed.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from outcomes.cohort import SEEN, CaseSeries, column, states
from outcomes.findings.disclosure.k_anonymity import (
    Recoding,
    Results,
    Table,
    recodings,
)
from outcomes.findings.disclosure.merging import merged_column
from outcomes.findings.disclosure.quasi_identifiers import FIELDS, LEFT_OUT, NAMES, WITHHELD, quasi_identifiers
from outcomes.findings.outcomes import is_poor
from outcomes.findings.results import Stamp
from outcomes.protocol import COHORTS, Characteristic

Refusal = Literal["", "not_requested", "too_few_patients", "no_recoding", "journal"]
CANDIDATES = 200
_NOT_SHARED = ("surgeon", "site", "recurrent_tumour")
_COUNTED = ("cohort", "measure", "window", "value")


@dataclass(frozen=True)
class SharedTable:
    """One table: its columns, those that identify a row, and its bytes in each form."""

    name: str
    columns: tuple[SharedColumn, ...]
    key: tuple[str, ...]
    csv: bytes
    parquet: bytes
    rows: int


@dataclass(frozen=True)
class SharedColumn:
    """One column: its type in Table Schema, its label, unit, and the words that it may hold.

    `about` says which description it has; `window` is the review of a measured value.
    """

    name: str
    kind: Literal["string", "integer", "number"]
    about: str
    label: str = ""
    unit: str = ""
    allowed: tuple[str, ...] = ()
    window: str = ""


@dataclass(frozen=True)
class Coarsening:
    """To which level a column that an outsider could know was coarsened, and the share of its information lost."""

    column: str
    level: str
    loss: float


@dataclass(frozen=True)
class SharedData:
    """What may be given to other researchers; without tables `refusal` says why.

    `k` is the smallest number of patients in a class, `k_required` the protocol's. `withheld` rows have no coarsened column.
    Of the cohorts in `without_unreviewed` the lids that were not reviewed are left out: they are fewer than k patients'.
    """

    k_required: int
    refusal: Refusal = ""
    k: int = 0
    lids: int = 0
    withheld: int = 0
    loss: float = 0.0
    without_unreviewed: tuple[str, ...] = ()
    coarsened: tuple[Coarsening, ...] = ()
    tables: tuple[SharedTable, ...] = ()


def not_requested(series: CaseSeries) -> SharedData:
    """No rows, because nobody requested them."""
    return SharedData(series.protocol.rules.k_anonymity, "not_requested")


def shared_data(series: CaseSeries, stamp: Stamp) -> SharedData:
    """The tables with the least loss of information in which nobody stands out, or the reason why there are none."""
    k = series.protocol.rules.k_anonymity
    if series.cases.get_column("patient_id").n_unique() < k:
        return SharedData(k, "too_few_patients")
    cases, without = _cases(series)
    table = _table(series, cases)
    for _, recoding in zip(range(CANDIDATES), recodings(table, k), strict=False):
        lids = _lids(series, cases, table, recoding)
        if not _shown_tells(series, lids):
            return _shared(series, table, recoding, lids, (stamp, without))
    return SharedData(k, "no_recoding")


def _cases(series: CaseSeries) -> tuple[pl.DataFrame, tuple[str, ...]]:
    """The cases with their stratum, but for lids that were not reviewed where they are fewer than k patients'; and of which cohorts."""
    at_primary = pl.col("window") == series.protocol.primary_window
    seen = _seen(series).filter(at_primary & pl.col("measure").is_in(_main(series))).get_column("case_id").unique()
    reviewed = pl.col("case_id").is_in(seen.to_list())
    cases = series.cases.with_columns(reviewed.alias("reviewed"))
    patients = pl.col("patient_id").n_unique().over("cohort", "reviewed")
    few = cases.filter(~pl.col("reviewed") & (patients < series.protocol.rules.k_anonymity))
    kept = cases.join(few.select("case_id"), on="case_id", how="anti", maintain_order="left")
    return kept, tuple(each for each in COHORTS if each in few.get_column("cohort"))


def _table(series: CaseSeries, cases: pl.DataFrame) -> Table:
    held = {(lid, measure, window): value for lid, _, window, measure, value in _seen(series).iter_rows()}
    return Table(
        patients=cases.get_column("patient_id").to_list(),
        strata=[f"{cohort} {reviewed}" for cohort, reviewed in cases.select("cohort", "reviewed").iter_rows()],
        quasi=quasi_identifiers(series, cases),
        results=_results(series, cases, held),
    )


def _main(series: CaseSeries) -> list[str]:
    """The measures whose values at the primary window stand in the table of lids."""
    if series.protocol.primary_window not in {each.id for each in series.windows}:
        return []
    return [each.id for each in series.protocol.main_measures if each in series.measures]


def _seen(series: CaseSeries) -> pl.DataFrame:
    return states(series).filter(pl.col("status") == SEEN).select("case_id", "cohort", "window", "measure", "value")


def _results(series: CaseSeries, cases: pl.DataFrame, held: dict[tuple[str, str, str], float]) -> Results:
    """Which results of the table were seen and which were poor: a row a lid, a column a main measure that is judged."""
    protocol, lids = series.protocol, cases.get_column("case_id")
    window = protocol.window(protocol.primary_window)
    judged = [each for each in map(protocol.measure, _main(series)) if protocol.judges(each, window)]
    values = np.array(
        [[held.get((lid, each.id, window.id), np.nan) for each in judged] for lid in lids], dtype=np.float64
    ).reshape(lids.len(), len(judged))
    poor = np.zeros(values.shape, dtype=np.bool_)
    for number, each in enumerate(judged):
        if each.poor is not None:
            poor[:, number] = is_poor(values[:, number], each.poor)
    return Results(~np.isnan(values), poor)


def _lids(series: CaseSeries, cases: pl.DataFrame, table: Table, recoding: Recoding) -> pl.DataFrame:
    """The table of lids under a recoding, sorted by all that it shows."""
    given = [each for each in series.protocol.characteristics if _is_given(each)]
    withheld = pl.Series(recoding.withheld)
    columns = {
        each.name: pl.Series(each.name, each.levels[level].values, dtype=pl.String)
        for each, level in zip(table.quasi, recoding.levels, strict=True)
        if each.levels[level].id != LEFT_OUT
    }
    frame = cases.select("case_id", "cohort", *(pl.col(column(each)).alias(each.id) for each in given))
    measured = _at_primary(series)
    frame = frame.with_columns(
        pl.when(withheld).then(pl.lit(WITHHELD)).otherwise(values).alias(name) for name, values in columns.items()
    ).join(measured, on="case_id", how="left", maintain_order="left")
    merged = [each.id for each in given] + measured.columns[1:]
    k = series.protocol.rules.k_anonymity
    frame = frame.with_columns(merged_column(frame, name, k) for name in merged)
    return frame.select("cohort", *columns, *merged).sort("cohort", *columns, *merged, nulls_last=True)


def _is_given(each: Characteristic) -> bool:
    known = {each.field, each.levels_of, each.years_since, each.year_of, *each.days_between}
    return not known & {*FIELDS, *_NOT_SHARED}


def _at_primary(series: CaseSeries) -> pl.DataFrame:
    window = series.protocol.primary_window
    columns = [
        pl.col("value").filter(pl.col("measure") == name).first().alias(f"{name}_{window}") for name in _main(series)
    ]
    return _seen(series).filter(pl.col("window") == window).group_by("case_id").agg(columns)


def _shown_tells(series: CaseSeries, lids: pl.DataFrame) -> bool:
    """Tell whether the merged values, as a reader sees them, tell a result of any class."""
    window = series.protocol.window(series.protocol.primary_window)
    coarsened = [each for each in NAMES if each in lids.columns]
    for measure in map(series.protocol.measure, _main(series)):
        if measure.poor is None or not series.protocol.judges(measure, window):
            continue
        shown = lids.drop_nulls(f"{measure.id}_{window.id}")
        poor = is_poor(shown.get_column(f"{measure.id}_{window.id}").cast(pl.Float64).to_numpy(), measure.poor)
        classes = shown.select(pl.struct("cohort", *coarsened).rank("dense").alias("class")).to_series().to_numpy()
        seen = np.ones((shown.height, 1), dtype=np.bool_)
        if Results(seen, poor.reshape(-1, 1)).tells(classes.astype(np.int64)).any():
            return True
    return False


def _shared(
    series: CaseSeries, table: Table, recoding: Recoding, lids: pl.DataFrame, made: tuple[Stamp, tuple[str, ...]]
) -> SharedData:
    stamp, without_unreviewed = made
    release = f"{stamp.digest[:12]} {stamp.frozen or 'no data lock'} as of {stamp.as_of.isoformat()}"
    coarsened = tuple(
        Coarsening(each.name, each.levels[level].id, loss)
        for each, level, loss in zip(table.quasi, recoding.levels, recoding.losses, strict=True)
    )
    return SharedData(
        series.protocol.rules.k_anonymity,
        k=recoding.k,
        lids=lids.height,
        withheld=int(recoding.withheld.sum()),
        loss=recoding.loss,
        without_unreviewed=without_unreviewed,
        coarsened=coarsened,
        tables=(_lids_table(series, lids, coarsened, release), _values_table(series, release)),
    )


def _lids_table(series: CaseSeries, lids: pl.DataFrame, coarsened: tuple[Coarsening, ...], release: str) -> SharedTable:
    quasi = [SharedColumn(each.column, "string", each.column) for each in coarsened if each.column in lids.columns]
    given = [_characteristic(series, each) for each in series.protocol.characteristics if _is_given(each)]
    window = series.protocol.primary_window
    measured = [_measured(series, name, window) for name in _main(series)]
    columns = (_cohort(), *quasi, *given, *measured, SharedColumn("release", "string", "release"))
    frame = lids.with_columns(pl.lit(release).alias("release"))
    return _written("lids", frame, columns, ())


def _characteristic(series: CaseSeries, each: Characteristic) -> SharedColumn:
    unit = each.unit or next((one.unit for one in series.protocol.fields if each.field and one.id == each.field), "")
    if each.levels_of:
        return SharedColumn(each.id, "string", "level", each.label, unit)
    return SharedColumn(each.id, "number", "yes_no" if each.values else "number", each.label, unit)


def _measured(series: CaseSeries, name: str, window: str) -> SharedColumn:
    measure = series.protocol.measure(name)
    unit = series.protocol.value_field(measure).unit
    return SharedColumn(f"{name}_{window}", "number", "measured", measure.label, unit, window=window)


def _values_table(series: CaseSeries, release: str) -> SharedTable:
    """How many lids have each value of every measure at every window, merged so that no count is under k."""
    k = series.protocol.rules.k_anonymity
    seen = _seen(series)
    merged = [
        group.with_columns(merged_column(group, "value", k))
        for _, group in seen.group_by("window", "measure", maintain_order=True)
    ]
    counted = (pl.concat(merged) if merged else seen).drop_nulls("value").group_by(_COUNTED).len("lids")
    measures, windows = series.protocol.measures, series.protocol.windows
    frame = (
        counted.sort("cohort", "measure", pl.col("window").cast(pl.Enum([each.id for each in windows])), "value")
        .select(*_COUNTED, pl.col("lids").cast(pl.Int64))
        .with_columns(pl.lit(release).alias("release"))
    )
    columns = (
        _cohort(),
        SharedColumn("measure", "string", "measure", allowed=tuple(each.id for each in measures)),
        SharedColumn("window", "string", "window", allowed=tuple(each.id for each in windows)),
        SharedColumn("value", "number", "value"),
        SharedColumn("lids", "integer", "lids"),
        SharedColumn("release", "string", "release"),
    )
    return _written("values", frame, columns, _COUNTED)


def _cohort() -> SharedColumn:
    return SharedColumn("cohort", "string", "cohort", allowed=COHORTS)


def _written(name: str, frame: pl.DataFrame, columns: tuple[SharedColumn, ...], key: tuple[str, ...]) -> SharedTable:
    if frame.columns != [each.name for each in columns]:
        raise ValueError(f"{name}: the columns {frame.columns} are not those that are described")
    text, packed = io.BytesIO(), io.BytesIO()
    frame.write_csv(text)
    frame.write_parquet(packed, compression="zstd", statistics=True)
    return SharedTable(name, columns, key, text.getvalue(), packed.getvalue(), frame.height)
