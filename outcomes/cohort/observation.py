"""The day on which each lid's observation for a dated event ends, whether or not the event was heard of.

How a kind of event is captured decides. "all": whatever happens is heard of, so observation ends on the as-of day. "contact":
the clinic hears of it while the patient is in its care, which lasts to the end of the window after the one that holds the last
review; beyond the last window further ones of its length follow, and a lid that was never reviewed is in care to the end of the
first window. Windows are counted from division, of a lid never divided from the operation. "reviews": it is found only by
looking, so observation ends at the last review that could have found it. Reviews near an event of the lid do not count, as the
event caused them. Withdrawal ends every observation on its day, and moving away all but the first kind.
"""

from __future__ import annotations

import polars as pl

from outcomes.cohort.series import CaseSeries
from outcomes.protocol import Window

NEAR_AN_EVENT_DAYS = 30
WITHOUT_LOOKING = ("telephone", "letter")
WITHDRAWN, DEATH = "withdrawn", "death"


def observation_ends(series: CaseSeries, kinds: tuple[str, ...]) -> pl.DataFrame:
    """Give, for each lid, the last day on which every one of these kinds of event would have been heard of: case_id, watched_until."""
    ways = {series.protocol.captured_by(kind) for kind in kinds}
    reviews = _reviews_apart_from_events(series)
    cases = series.cases.with_row_index("lid").join(last_reviews(reviews, "last_review"), on="lid", how="left")
    looked = reviews.filter(~pl.col("mode").is_in(list(WITHOUT_LOOKING)).fill_null(value=False))
    cases = cases.join(last_reviews(looked, "last_look"), on="lid", how="left")
    left = cases.join(_first_of(series, _leaving(series, ways)), on="case_id", how="left")
    ends = [_END[way](series) for way in sorted(ways)]
    return left.select(
        "case_id",
        pl.min_horizontal(*ends, pl.col("left_on"), pl.lit(series.as_of)).alias("watched_until"),
    )


def _leaving(series: CaseSeries, ways: set[str]) -> list[str]:
    """The kinds of event that end observation: with every capture complete, only withdrawal."""
    ends = [kind for kind in series.protocol.ends_follow_up if kind != DEATH]
    return [WITHDRAWN] if ways == {"all"} else ends


def _first_of(series: CaseSeries, kinds: list[str]) -> pl.DataFrame:
    found = series.events.filter(pl.col("kind").is_in(kinds))
    return found.group_by("case_id").agg(pl.col("happened_on").min().alias("left_on"))


def last_reviews(reviews: pl.DataFrame, name: str) -> pl.DataFrame:
    """The day of the last review of each lid: lid and that name; reviews are in order of lid and day."""
    is_last = (pl.col("lid") != pl.col("lid").shift(-1)).fill_null(value=True)
    return (
        reviews.select("lid", pl.col("reviewed_on").alias(name), is_last.alias("is_last"))
        .filter("is_last")
        .drop("is_last")
    )


def _reviews_apart_from_events(series: CaseSeries) -> pl.DataFrame:
    """The reviews that no event of the lid can have caused."""
    events = series.events.filter(~pl.col("kind").is_in(list(series.protocol.ends_follow_up)))
    reviews = series.reviews.with_row_index("review")
    pairs = reviews.join(events.select("lid", "happened_on"), on="lid")
    near = pairs.filter((pl.col("reviewed_on") - pl.col("happened_on")).dt.total_days().abs() <= NEAR_AN_EVENT_DAYS)
    return reviews.join(near.select("review"), on="review", how="anti")


def _in_contact(series: CaseSeries) -> pl.Expr:
    origin = pl.coalesce("divided_on", "operated_on")
    day = (pl.col("last_review") - origin).dt.total_days().fill_null(0)
    return origin + pl.duration(days=_end_of_care(day, series.protocol.windows))


def _end_of_care(day: pl.Expr, windows: tuple[Window, ...]) -> pl.Expr:
    """The last day of the window after the one that holds a day; before the first window, the last day of the first."""
    ends = [window.days[1] for window in windows]
    length = windows[-1].days[1] - windows[-1].days[0] + 1
    beyond = ends[-1] + length * (1 + ((day - ends[-1] - 1) // length + 1))
    steps = [(windows[0].days[0] - 1, ends[0]), *zip(ends, [*ends[1:], ends[-1] + length], strict=True)]
    return pl.coalesce(*(pl.when(day <= last).then(pl.lit(end)) for last, end in steps), beyond)


def _at_reviews(_: CaseSeries) -> pl.Expr:
    return pl.coalesce("last_look", "operated_on")


_END = {"all": lambda series: pl.lit(series.as_of), "contact": _in_contact, "reviews": _at_reviews}
