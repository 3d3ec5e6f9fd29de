"""Which figures does the pack hold, in which widths, and what does each caption say?"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from outcomes.findings.results import Comparison
from outcomes.findings.study_facts import Congress
from outcomes.protocol import Protocol, Timed
from outcomes.report import formats
from outcomes.report.finding_index import Shown, bounded, rule_place
from outcomes.report.pack import charts, timed_charts
from outcomes.report.pack.flow import flow_plate
from outcomes.report.pack.sizing import WIDTHS_MM, Draw, FigureOfPack, Plate, plate, sketch
from outcomes.report.traced_text import Phrase, Place, say

COLUMNS = {85: 1, 175: 3}
WIDE = 175
BY_TIME: tuple[tuple[Shown, str, str], ...] = (
    (
        "poor",
        "Poor results on the main measures, by time since division",
        "share of lids with a poor result, with its interval",
    ),
    ("value", "Values of the main measures, by time since division", "mean, with the quartiles"),
)
BY_TIME_WORDS = (
    "Filled circle: grafted; open diamond: advanced. Each point is the {}. Beneath: lids seen, grafted (g) above advanced (a). "
    "w weeks, m months, y years."
)
TIMING_WORDS = (
    "Share of lids that had it by each moment, with its interval. Filled circle: grafted; open diamond: advanced. The clock is named "
    "under each panel; the numbers are in tables/timing."
)
Tell = Callable[[str], None]


def pack_figures(comparison: Comparison, facts: Congress, protocol: Protocol, tell: Tell) -> tuple[FigureOfPack, ...]:
    """Draw every figure that has something to show, in one column and in two."""
    made = []
    for name, title, caption, draw in _all(comparison, facts, protocol):
        tell(f"drawing {title[0].lower()}{title[1:]}")
        made.append(FigureOfPack(name, title, caption, {width: draw(width) for width in WIDTHS_MM}))
    return tuple(made)


Planned = tuple[str, str, tuple[Phrase, ...], Callable[[int], Plate]]


def _all(comparison: Comparison, facts: Congress, protocol: Protocol) -> Iterator[Planned]:
    who = _who(comparison)
    yield (
        "flow",
        "The flow of cases",
        (("From every lid in the register to the lids analysed, with what was lost at each step.",), who),
        partial(flow_plate, facts),
    )
    if charts.has_balance(comparison):
        yield _sketch(
            "balance",
            "How alike the cohorts were, before and after weighting",
            (
                say(
                    "Standardised differences, advanced minus grafted; between the dotted lines (±{}) the cohorts count as alike.",
                    _bound(protocol),
                ),
                who,
            ),
            partial(charts.balance_chart, comparison, protocol),
        )
    if charts.primary_findings(comparison):
        window = protocol.window(protocol.primary_window).label
        yield (
            "differences",
            f"Advanced minus grafted on the main measures, {window} after division",
            (_differences_words(comparison, protocol), who),
            partial(_differences, comparison, protocol),
        )
    for outcome, title, point in BY_TIME:
        if charts.windows_measures(comparison, protocol, outcome):
            caption: tuple[Phrase, ...] = ((BY_TIME_WORDS.format(point),), who)
            yield f"{outcome}-by-time", title, caption, _windows(comparison, protocol, outcome)
    for timed in protocol.timed:
        if timed_charts.curves_of(comparison, timed):
            yield _curve(comparison, timed, who)
    if timed_charts.timing_events(comparison, protocol):
        yield "timing", "When things happened", ((TIMING_WORDS,), who), _timing(comparison, protocol)
    if comparison.followed_by_window:
        yield _sketch(
            "seen",
            "How many lids were seen at each review",
            (
                (
                    "Lids of each cohort (g grafted, a advanced) seen, due and not seen, not yet due, and not applicable.",
                ),
                who,
            ),
            partial(charts.seen_chart, comparison, protocol),
        )


def _differences_words(comparison: Comparison, protocol: Protocol) -> Phrase:
    pale = (
        "Pale bar: what the difference could be, whatever the lids due and not seen were. "
        if bounded(comparison)
        else ""
    )
    return say(
        "Square and solid line: as seen, with {} intervals. Triangle and dashed line: weighted for how the covers were chosen. "
        "{}Left of nought means less with advanced skin.",
        rule_place(protocol).figure("confidence_level", formats.percent),
        pale,
    )


def _bound(protocol: Protocol) -> Phrase:
    return (rule_place(protocol).figure("imbalance_smd", lambda bound: f"{bound:g}"),)


def _sketch(name: str, title: str, caption: tuple[Phrase, ...], draw: Draw) -> Planned:
    return name, title, caption, partial(plate, sketch(name, draw))


def _differences(comparison: Comparison, protocol: Protocol, width: int) -> Plate:
    draw = partial(charts.differences_chart, comparison, protocol, wide=width == WIDE)
    return plate(sketch("differences", draw), width)


def _windows(comparison: Comparison, protocol: Protocol, outcome: Shown) -> Callable[[int], Plate]:
    held = sketch(f"{outcome}-by-time", partial(charts.windows_chart, comparison, protocol, outcome))
    panels = len(charts.windows_measures(comparison, protocol, outcome))
    return lambda width: plate(held, width, columns=min(COLUMNS[width], panels))


def _timing(comparison: Comparison, protocol: Protocol) -> Callable[[int], Plate]:
    held = sketch("timing", partial(timed_charts.timing_chart, comparison, protocol))
    panels = len(timed_charts.timing_events(comparison, protocol))
    return lambda width: plate(held, width, columns=min(COLUMNS[width], panels))


def _curve(comparison: Comparison, timed: Timed, who: Phrase) -> Planned:
    curves = timed_charts.curves_of(comparison, timed)
    since = "operation" if timed.clock == "operation" else "division"
    edged = any(curve.upper for curve in curves)
    band = (
        "Seen only at reviews: each curve lies between the two edges of its band."
        if edged
        else "Bands: intervals at each time."
    )
    caption: tuple[Phrase, ...] = (
        (
            f"Share of lids by time since {since}. Solid: grafted; dashed: advanced. {band} Curves stop where too few lids are at risk.",
        ),
        who,
    )
    return _sketch(
        f"curve-{timed.id.replace('_', '-')}", timed.label, caption, partial(timed_charts.curve_chart, curves, timed)
    )


def _who(comparison: Comparison) -> Phrase:
    counts = [
        Place(cohort, getattr(comparison, cohort)).figure("cases", formats.count) for cohort in ("grafted", "advanced")
    ]
    return say("{} grafted and {} advanced lids, as of {}.", *counts, comparison.stamp.as_of.isoformat())


def curve_names(protocol: Protocol) -> list[str]:
    """The figures of events in time, the one first that is shown where there is room for one: states seen at reviews come first."""
    seen_at_reviews = [timed for timed in protocol.timed if timed.origin == "reviews"]
    return [*(f"curve-{timed.id.replace('_', '-')}" for timed in (*seen_at_reviews, *protocol.timed)), "timing"]
