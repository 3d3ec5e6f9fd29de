"""De-identified rows for other researchers: one table of lids, one of counted values.

Dates, codes, surgeons and places are never in them, nor what was found at the operation: whoever knows the size of a defect would
find its row. What an outsider could know of a person is coarsened, and withheld where a row would still stand out, until each row
is one of k patients' and no class tells a poor result (k_anonymity.py). A result is given as poor or not, where the public report
gives the counts; a value is counted where every count of its measure at its window points at nobody. So the rows tell no sum that
the report withholds. They are sorted by what they show, so their order tells nothing.
"""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from outcomes.cohort import SEEN, CaseSeries, states
from outcomes.findings.disclosure.counts import safe, safe_events, safe_part
from outcomes.findings.disclosure.k_anonymity import (
    Recoding,
    Results,
    Table,
    recodings,
)
from outcomes.findings.disclosure.quasi_identifiers import LEFT_OUT, WITHHELD, quasi_identifiers
from outcomes.findings.outcomes import is_poor
from outcomes.findings.results import Stamp
from outcomes.protocol import COHORTS, Measure

Refusal = Literal["", "not_requested", "too_few_patients", "no_results", "few_not_reviewed", "no_recoding", "journal"]
YES_NO = ("no", "yes")
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

    `about` says which description it has; `window` is the review of a result.
    """

    name: str
    kind: Literal["string", "integer", "number"]
    about: str
    label: str = ""
    rule: str = ""
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
    """

    k_required: int
    refusal: Refusal = ""
    k: int = 0
    lids: int = 0
    withheld: int = 0
    loss: float = 0.0
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
    judged = _judged(series)
    if not judged:
        return SharedData(k, "no_results")
    table = _table(series, judged)
    if _few_not_reviewed(series, table):
        return SharedData(k, "few_not_reviewed")
    recoding = next(recodings(table, k), None)
    return SharedData(k, "no_recoding") if recoding is None else _shared(series, judged, (table, recoding), stamp)


def _judged(series: CaseSeries) -> tuple[Measure, ...]:
    """The main measures of which the public report gives the lids seen and those with a poor result, in both cohorts."""
    protocol = series.protocol
    if protocol.primary_window not in {each.id for each in series.windows}:
        return ()
    window = protocol.window(protocol.primary_window)
    judged = (each for each in protocol.main_measures if each in series.measures and protocol.judges(each, window))
    return tuple(each for each in judged if _counts_are_told(series, each))


def _counts_are_told(series: CaseSeries, measure: Measure) -> bool:
    threshold, poor = series.protocol.rules.public_threshold, _poor(series, measure)
    return not poor.is_empty() and all(
        safe_part(seen.len(), cases.height, threshold) and safe_events(int(seen.sum()), seen.len(), threshold)
        for cohort in COHORTS
        for cases in (series.cohort(cohort),)
        for seen in (poor.join(cases, on="case_id", how="semi").get_column("poor"),)
    )


def _poor(series: CaseSeries, measure: Measure) -> pl.DataFrame:
    """Whether the result of each lid was poor that was seen at the primary window."""
    at_primary = (pl.col("window") == series.protocol.primary_window) & (pl.col("measure") == measure.id)
    seen = _seen(series).filter(at_primary).select("case_id", "value")
    if measure.poor is None:
        raise ValueError(f"{measure.id} has no rule for a poor result")
    flags = is_poor(seen.get_column("value").cast(pl.Float64).to_numpy(), measure.poor)
    return seen.select("case_id", pl.Series("poor", flags, dtype=pl.Boolean))


def _seen(series: CaseSeries) -> pl.DataFrame:
    return states(series).filter(pl.col("status") == SEEN).select("case_id", "cohort", "window", "measure", "value")


def _table(series: CaseSeries, judged: tuple[Measure, ...]) -> Table:
    results = _results(series, judged).select(each.id for each in judged)
    seen = results.select(pl.all().is_not_null()).to_numpy()
    reviewed = [
        f"{cohort} {each}" for cohort, each in zip(series.cases["cohort"], np.atleast_1d(seen.any(axis=1)), strict=True)
    ]
    return Table(
        patients=series.cases.get_column("patient_id").to_list(),
        strata=reviewed,
        quasi=quasi_identifiers(series, series.cases),
        results=Results(seen, results.select(pl.all().fill_null(value=False)).to_numpy()),
    )


def _results(series: CaseSeries, judged: tuple[Measure, ...]) -> pl.DataFrame:
    """The cases in their order, with whether the result of each measure was poor; null where it was not seen."""
    frame = series.cases.select("case_id", "cohort")
    for each in judged:
        poor = _poor(series, each).rename({"poor": each.id})
        frame = frame.join(poor, on="case_id", how="left", maintain_order="left")
    return frame


def _few_not_reviewed(series: CaseSeries, table: Table) -> bool:
    """Whether those reviewed of a cohort, or those not, are so few that rows with or without results would tell their number."""
    rules = series.protocol.rules
    return not all(
        safe(lids, max(rules.k_anonymity, rules.public_threshold)) for lids in Counter(table.strata).values()
    )


def _shared(series: CaseSeries, judged: tuple[Measure, ...], found: tuple[Table, Recoding], stamp: Stamp) -> SharedData:
    table, recoding = found
    release = f"{stamp.digest[:12]} {stamp.frozen or 'no data lock'} as of {stamp.as_of.isoformat()}"
    coarsened = tuple(
        Coarsening(each.name, each.levels[level].id, loss)
        for each, level, loss in zip(table.quasi, recoding.levels, recoding.losses, strict=True)
    )
    return SharedData(
        series.protocol.rules.k_anonymity,
        k=recoding.k,
        lids=series.cases.height,
        withheld=int(recoding.withheld.sum()),
        loss=recoding.loss,
        coarsened=coarsened,
        tables=(_lids_table(series, judged, found, release), *_values_table(series, release)),
    )


def _lids_table(
    series: CaseSeries, judged: tuple[Measure, ...], found: tuple[Table, Recoding], release: str
) -> SharedTable:
    """The table of lids under a recoding, sorted by all that it shows."""
    table, recoding = found
    withheld = pl.Series(recoding.withheld)
    coarse = {
        each.name: pl.Series(each.name, each.levels[level].values, dtype=pl.String)
        for each, level in zip(table.quasi, recoding.levels, strict=True)
        if each.levels[level].id != LEFT_OUT
    }
    window = series.protocol.primary_window
    results = [
        SharedColumn(
            f"{each.id}_poor_{window}", "string", "poor", each.label, series.protocol.poor_words(each), YES_NO, window
        )
        for each in judged
    ]
    frame = _results(series, judged).select(
        "cohort",
        *(pl.when(withheld).then(pl.lit(WITHHELD)).otherwise(each).alias(name) for name, each in coarse.items()),
        *(
            pl.col(each.id).replace_strict({False: "no", True: "yes"}, return_dtype=pl.String).alias(column.name)
            for each, column in zip(judged, results, strict=True)
        ),
    )
    columns = (
        _cohort(),
        *(SharedColumn(name, "string", name) for name in coarse),
        *results,
        SharedColumn("release", "string", "release"),
    )
    ordered = frame.sort(*frame.columns, nulls_last=True).with_columns(pl.lit(release).alias("release"))
    return _written("lids", ordered, columns, ())


def _values_table(series: CaseSeries, release: str) -> Iterator[SharedTable]:
    """How many lids have each value, of every measure and window at which all of these counts point at nobody, if there is any."""
    safe_groups = [
        group.group_by(_COUNTED).len("lids")
        for _, group in _seen(series).group_by("window", "measure", maintain_order=True)
        if all(_counts_are_safe(series, group, cohort) for cohort in COHORTS)
    ]
    if not safe_groups:
        return
    counted = pl.concat(safe_groups)
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
    yield _written("values", frame, columns, _COUNTED)


def _counts_are_safe(series: CaseSeries, group: pl.DataFrame, cohort: str) -> bool:
    """Whether the lids seen, those not seen and those of each value point at nobody, and not all have the same one."""
    rules = series.protocol.rules
    lids = group.filter(pl.col("cohort") == cohort).group_by("value").len().get_column("len")
    enough = max(rules.k_anonymity, rules.public_threshold)
    return safe_part(int(lids.sum()), series.cohort(cohort).height, rules.public_threshold) and (
        not lids.len() or (lids.len() > 1 and min(lids) >= enough)
    )


def _cohort() -> SharedColumn:
    return SharedColumn("cohort", "string", "cohort", allowed=COHORTS)


def _written(name: str, frame: pl.DataFrame, columns: tuple[SharedColumn, ...], key: tuple[str, ...]) -> SharedTable:
    if frame.columns != [each.name for each in columns]:
        raise ValueError(f"{name}: the columns {frame.columns} are not those that are described")
    text, packed = io.BytesIO(), io.BytesIO()
    frame.write_csv(text)
    frame.write_parquet(packed, compression="zstd", statistics=True)
    return SharedTable(name, columns, key, text.getvalue(), packed.getvalue(), frame.height)
