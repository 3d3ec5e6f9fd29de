"""Find the patients of whom any row may give a problem or a query, column by column; the rows of all others give none.

Nothing that is looked for here is said: the checks of single rows say it. A patient too many costs time, and one too few
would lose a message; a test checks sheets both ways.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import ceil

import polars as pl

from outcomes.capture.cell_columns import Codes, HeldValues, column_type
from outcomes.capture.chronology import DEATH, REMOTE_MODES, SEEN_BY_RULER
from outcomes.capture.data_queries import CLEAR, CLOSE, HISTOLOGY_DISTANCES, HISTOLOGY_MARGIN, NOMINAL, SAME_VISIT_DAYS
from outcomes.capture.entry import Entry
from outcomes.protocol import KEYS, SHEETS, Field, Protocol, Query, default_protocol

PATIENT, CASE = "patient_id", "case_id"
PART = 500_000
CODE_OF_ROW = {"patients": PATIENT, "reconstructions": CASE, "reviews": CASE, "events": CASE}


@dataclass(frozen=True)
class Suspects:
    """The codes of the patients whose rows are checked one by one, and of all their cases."""

    patients: frozenset[str]
    cases: frozenset[str]

    def own(self, sheet: str) -> pl.Expr:
        """Whether a row of the sheet is one of theirs."""
        codes = self.patients if sheet == "patients" else self.cases
        return pl.col(CODE_OF_ROW[sheet]).is_in(list(codes))


def find_suspects(  # noqa: PLR0913 - a test makes the parts small
    frames: Mapping[str, pl.DataFrame],
    alone: Iterable[Entry],
    held: HeldValues,
    codes: Codes,
    protocol: Protocol,
    *,
    part: int = PART,
) -> Suspects:
    """Find them among the rows of the frames; `alone` are the rows that are checked one by one anyway.

    Whatever the register holds already is suspect, as a row that is loaded again changes the row that is held. Reviews
    are gone through in parts of about that many rows, all of a case in the same part.
    """
    search = _Search(frames, codes, protocol, part)
    patients = set(search.codes("patients"))
    cases = {code for sheet in SHEETS[1:] for code in search.codes(sheet)}
    for values in (*(values for rows in held.values() for values in rows.values()), *(entry.values for entry in alone)):
        patients.add(str(values.get(PATIENT) or ""))
        cases.add(str(values.get(CASE) or ""))
    owners = frames["reconstructions"].select(CASE, PATIENT)
    patients.update(owners.filter(pl.col(CASE).is_in(list(cases))).get_column(PATIENT))
    cases.update(owners.filter(pl.col(PATIENT).is_in(list(patients))).get_column(CASE))
    return Suspects(frozenset(patients), frozenset(cases))


class _Search:
    """Goes through the frames, which have every field of their sheet; those that an older protocol lacks are empty."""

    def __init__(self, frames: Mapping[str, pl.DataFrame], codes: Codes, protocol: Protocol, part: int) -> None:
        frames = {sheet: with_every_field(frame, sheet, default_protocol()) for sheet, frame in frames.items()}
        self.odd_codes, self.protocol, self.part = codes, protocol, part
        events, cases = frames["events"], frames["reconstructions"]
        born = frames["patients"].select(PATIENT, "birth_year", patient_known=True).unique(PATIENT, keep="any")
        died = events.filter(pl.col("kind") == DEATH).join(cases.select(CASE, PATIENT), on=CASE)
        died = died.group_by(PATIENT).agg(pl.col("happened_on").min().alias("died_on"))
        ends = events.filter(pl.col("kind").is_in([*set(protocol.ends_follow_up) - {DEATH}]))
        ends = ends.group_by(CASE).agg(pl.col("happened_on").min().alias("ended_on"))
        dates = cases.select(CASE, PATIENT, "operated_on", "divided_on", case_known=True).unique(CASE, keep="any")
        dates = dates.join(died, on=PATIENT, how="left").join(ends, on=CASE, how="left").drop(PATIENT)
        self.frames, self.beside = frames, {"reconstructions": born, "reviews": dates, "events": dates}

    def codes(self, sheet: str) -> Iterator[str]:
        """The codes of the rows of one sheet that may give a problem or a query."""
        frame = self.frames[sheet]
        parts = ceil(frame.height / self.part) if sheet == "reviews" else min(frame.height, 1)
        for number in range(parts):
            part = frame.filter(pl.col(CASE).hash() % parts == number) if parts > 1 else frame
            yield from self._codes(sheet, part)
            if sheet == "reviews":
                yield from self._jumping(part)

    def _codes(self, sheet: str, part: pl.DataFrame) -> Iterator[str]:
        code, beside = CODE_OF_ROW[sheet], self.beside.get(sheet)
        odd = pl.any_horizontal(*self._odd(sheet))
        on = PATIENT if sheet == "reconstructions" else CASE
        joined = part if beside is None else part.join(beside, on=on, how="left")
        yield from joined.filter(odd).get_column(code).unique()
        yield from part.filter(part.select(*KEYS[sheet]).is_duplicated()).get_column(code).unique()

    def _odd(self, sheet: str) -> Iterator[pl.Expr]:
        fields = self.protocol.sheet(sheet)
        yield pl.lit(value=False)
        yield from (pl.col(name).is_in(list(odd)) for name, odd in self.odd_codes.odd.items() if _has(fields, name))
        yield from (pl.col(each.id).is_between(0, 1, closed="right") for each in fields if each.unit == "%")
        for each in fields:
            if each.only_with_field:
                met = pl.col(each.only_with_field).cast(pl.String).is_in(list(each.only_with_values))
                yield pl.col(each.id).is_not_null() & ~met.fill_null(value=False)
        for query in self.protocol.queries:
            if query.sheet == sheet:
                yield _matching(query, self.protocol.field(sheet, query.field))
        if sheet == "reconstructions":
            yield from self._odd_case()
        if sheet == "reviews":
            yield from self._odd_review()
        if sheet == "events":
            yield pl.col("case_known").is_null() | (pl.col("happened_on") < pl.col("operated_on"))

    def _odd_case(self) -> Iterator[pl.Expr]:
        operated, divided = pl.col("operated_on"), pl.col("divided_on")
        yield pl.col("patient_known").is_null() | (operated.dt.year() < pl.col("birth_year"))
        yield (divided <= operated) | (pl.col("division_planned_on") <= operated)
        yield pl.struct(PATIENT, "side", "operated_on").is_duplicated()
        for cover in self.protocol.covers:
            unusual = ~(divided - operated).dt.total_days().is_between(*cover.usual_division_days)
            yield (pl.col("cover").cast(pl.String) == cover.id) & unusual
        margin, least = pl.col(HISTOLOGY_MARGIN).cast(pl.String), pl.min_horizontal(HISTOLOGY_DISTANCES)
        bound = self.protocol.rules.close_margin_mm
        yield ((margin == CLOSE) & (least >= bound)) | ((margin == CLEAR) & (least < bound))

    def _odd_review(self) -> Iterator[pl.Expr]:
        day, observed = pl.col("reviewed_on"), self.protocol.observed
        before = pl.col("divided_on").is_null() | (day < pl.col("divided_on"))
        after_division = [pl.col(each.id).is_not_null() for each in observed if not each.before_division]
        measured = [pl.col(each.id).is_not_null() for each in observed if each.unit == SEEN_BY_RULER]
        yield pl.col("case_known").is_null() | (day < pl.col("operated_on"))
        yield before & pl.any_horizontal(pl.lit(value=False), *after_division)
        yield pl.col("mode").cast(pl.String).is_in(REMOTE_MODES) & pl.any_horizontal(pl.lit(value=False), *measured)
        yield (day > pl.col("died_on")) | (day > pl.col("ended_on"))
        yield pl.col("date_precision").cast(pl.String) == NOMINAL

    def _jumping(self, part: pl.DataFrame) -> Iterator[str]:
        """The cases of which a value leaps from one review to the next that has one, or two reviews may be one visit."""
        reviews = part.sort(CASE, "reviewed_on", maintain_order=True)
        same_case = pl.col(CASE) == pl.col(CASE).shift(1)
        days = (pl.col("reviewed_on") - pl.col("reviewed_on").shift(1)).dt.total_days()
        yield from reviews.filter(same_case & (days <= SAME_VISIT_DAYS)).get_column(CASE).unique()
        for field in self.protocol.observed:
            if field.jump is not None:
                seen = reviews.select(CASE, _as_number(field).alias("value")).drop_nulls()
                leap = (pl.col("value") - pl.col("value").shift(1)).abs() >= field.jump
                yield from seen.filter(leap & same_case).get_column(CASE).unique()


def _has(fields: tuple[Field, ...], name: str) -> bool:
    return any(field.id == name for field in fields)


def _as_number(field: Field) -> pl.Expr:
    value = pl.col(field.id)
    return (value.cast(pl.String) == "yes").cast(pl.Float64) if field.kind == "yes_no" else value.cast(pl.Float64)


def _matching(query: Query, field: Field) -> pl.Expr:
    """Whether the query asks about a row, whatever event may settle it."""
    if query.over_field:
        return pl.col(field.id) > pl.col(query.over_field)
    number = _as_number(field)
    return (number < query.under if query.under is not None else pl.lit(value=False)) | (
        number > query.over if query.over is not None else pl.lit(value=False)
    )


def with_every_field(frame: pl.DataFrame, sheet: str, protocol: Protocol) -> pl.DataFrame:
    """The frame with an empty column for each field that the sheet does not have."""
    absent = [field for field in protocol.sheet(sheet) if field.id not in frame.columns]
    return frame.with_columns(pl.lit(None, dtype=column_type(field)).alias(field.id) for field in absent)
