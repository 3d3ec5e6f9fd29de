"""Somebody who knows of twenty patients all that an outsider could, and holds the rows for other researchers, asks what became of them.

Known of each: year of birth, sex, side, year and cover of the operation, diagnosis, days shut, months followed, smoking,
radiotherapy, and whether she was reviewed at the primary review. One of the twenty may be the outsider herself, who knows her
own results too. A result is learnt where every row that can be hers says poor.
"""

import io
import random

import numpy as np
import polars as pl

from outcomes.cohort import SEEN, states
from outcomes.findings.disclosure.microdata import WITHHELD
from outcomes.findings.disclosure.quasi_identifiers import NAMES, quasi_identifiers
from outcomes.findings.outcomes import is_poor

KNOWN = 20


def results_of(series):
    """The true values of the main measures at the primary review, by lid and measure."""
    at_primary = states(series).filter(
        (pl.col("status") == SEEN) & (pl.col("window") == series.protocol.primary_window)
    )
    return {
        (lid, measure): value for lid, measure, value in at_primary.select("case_id", "measure", "value").iter_rows()
    }


def learnt(series, data, *, seed, knows_own=True):
    """Every (lid, measure) whose poor result one outsider with a random twenty learns, rightly or not, and whether it is so."""
    frame = pl.read_csv(io.BytesIO(data.tables[0].csv), infer_schema_length=None)
    shown = [name for name in NAMES if name in frame.columns]
    rows = frame.with_columns(pl.col(name).cast(pl.String) for name in shown).to_dicts()
    lids = series.cases.select("case_id", "cohort").to_dicts()
    levels = {each.column: each.level for each in data.coarsened}
    quasi = {each.name: each for each in quasi_identifiers(series, series.cases)}
    real = results_of(series)
    measures = [
        each for each in series.protocol.main_measures if each.poor and f"{each.id}_poor_six_months" in frame.columns
    ]
    whom = random.Random(seed).sample(range(len(lids)), min(KNOWN, len(lids)))
    found = []
    for place in whom:
        lid = lids[place]
        hers = {
            name: next(level for level in quasi[name].levels if level.id == levels[name]).values[place]
            for name in shown
        }
        reviewed = any((lid["case_id"], each.id) in real for each in series.protocol.main_measures)
        here = [row for row in rows if row["cohort"] == lid["cohort"] and _reviewed(row) == reviewed]
        exact = [row for row in here if all(row[name] == hers[name] for name in shown)]
        hidden = [row for row in here if shown and row[shown[0]] == WITHHELD]
        candidates = exact or hidden or here
        own = next((lids[other] for other in whom if other != place), None)
        for measure in measures:
            name, rule = f"{measure.id}_poor_six_months", measure.poor
            poor = [row[name] == "yes" for row in candidates if row[name] is not None]
            if knows_own and own and poor.count(False) == 1:
                mine = real.get((own["case_id"], measure.id))
                if mine is not None and not is_poor(np.array([mine]), rule)[0]:
                    poor.remove(False)
            truth = real.get((lid["case_id"], measure.id))
            if poor and all(poor) and truth is not None:
                found.append((lid["case_id"], measure.id, bool(is_poor(np.array([truth]), rule)[0])))
    return found


def _reviewed(row):
    return any(row[name] is not None for name in row if name.endswith("_six_months"))
