"""The poster: one A0 page in portrait."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from outcomes.findings.results import Comparison
from outcomes.findings.study_facts import Congress
from outcomes.protocol import Protocol
from outcomes.report.charts.drawing import picture, standing_alone
from outcomes.report.charts.flow import Flow, flow_figure
from outcomes.report.charts.theme import TWO_COLUMNS
from outcomes.report.headline import NOT_RANDOM, message, who_sentence
from outcomes.report.pack import talk_tables as made
from outcomes.report.pack.figures import FigureOfPack, caption_of, curve_names, in_print
from outcomes.report.pack.manuscript import Part, gap, verdicts
from outcomes.report.stamp import stamp_line
from outcomes.report.tables.model import Table
from outcomes.report.tables.print_layout import widths
from outcomes.report.traced_text import Phrase, plain
from outcomes.report.typst_render import page_as, typesetter
from outcomes.report.warning_words import caution_words

TEMPLATE = Path(__file__).with_name("templates") / "poster.typ"
NARROW, WIDE = 85, 175
RESULTS = ("overview", "grades-oedema", "main-poor-by-window", "timing")
OPENING_PARTS = 2
TOLD = ("fits", "pages")
SLOTS = ("photograph, with consent", "ethics and consent, or governance reference", "contact, and a link or code")
MOST_LIMITS = 4
SIZES = (36, 34, 32, 30, 29, 28, 27, 26, 25, 24, 23, 22, 21, 20, 19, 18)


def write_poster(path: Path, data: dict[str, Any]) -> Path:
    """Write the poster in the largest letters with which all of it stands on its page."""
    for size in SIZES:
        compiler = typesetter(TEMPLATE, data=json.dumps({**data, "size": size}, ensure_ascii=False))
        fits, pages = (float(json.loads(compiler.query(f"<{name}>", field="value", one=True))) for name in TOLD)
        if fits and pages <= 1:
            break
    path.write_bytes(page_as(compiler, "pdf"))
    return path


def poster_data(
    comparison: Comparison,
    facts: Congress,
    protocol: Protocol,
    figures: Sequence[FigureOfPack],
    *,
    drafted: Sequence[Part],
) -> dict[str, Any]:
    """What the poster shows, as plain text and drawings; nothing in it is read as a language."""
    drawn = {figure.id: figure for figure in figures}
    wide = [drawn[name] for name in RESULTS if name in drawn]
    in_time = [drawn[name] for name in curve_names(protocol) if name in drawn and name not in RESULTS][:1]
    stamp, as_of = stamp_line(comparison.stamp), comparison.stamp.as_of
    results, events = poster_tables(comparison, facts, protocol)
    parts = [part for part in drafted if not part.results]
    return {
        "title": "Skin graft or advanced skin over a tarsoconjunctival flap of the lower lid",
        "authors": plain(gap("names, places, interests declared")),
        "who": plain(who_sentence(comparison)),
        "opening": [_part(part) for part in parts[:OPENING_PARTS]],
        "closing": [_part(part) for part in parts[OPENING_PARTS:]],
        "results": _table(results),
        "events": _table(events),
        "readings": [plain(each) for each in verdicts(comparison, protocol)],
        "limits": [plain(each) for each in _limits(comparison)],
        "message": message(comparison, protocol),
        "slots": [plain(gap(each)) for each in SLOTS],
        "narrow": [_figure(each, NARROW, stamp) for each in (_short_flow(comparison, facts, protocol), *in_time)],
        "wide": [_figure(each, WIDE, stamp) for each in wide],
        "stamp": stamp,
        "date": [as_of.year, as_of.month, as_of.day],
    }


def _part(part: Part) -> dict[str, str]:
    return {"heading": part.heading, "text": " ".join(plain(each) for each in part.sentences)}


def poster_phrases(comparison: Comparison, protocol: Protocol) -> tuple[Phrase, ...]:
    """The sentences of the poster that stand nowhere else in the pack."""
    return (who_sentence(comparison), *verdicts(comparison, protocol), *_limits(comparison))


def _limits(comparison: Comparison) -> tuple[Phrase, ...]:
    """The warnings that weigh most, and that covers were not chosen by chance; all are in words/limitations."""
    return (*((caution_words(each),) for each in comparison.warnings[:MOST_LIMITS]), (NOT_RANDOM,))


def poster_tables(comparison: Comparison, facts: Congress, protocol: Protocol) -> tuple[Table, Table]:
    """The two tables of the poster: the main results, and the events."""
    return made.talk_main_table(comparison, protocol), made.talk_happened_table(comparison, facts, protocol)


def _short_flow(comparison: Comparison, facts: Congress, protocol: Protocol) -> FigureOfPack:
    """The flow with only the main review."""
    kept = tuple(each for each in facts.stages if each.window in {"", protocol.primary_window})
    return in_print(flow_figure(Flow(kept, facts.analysed, facts.operated, facts.other_covers), comparison))


def _figure(figure: FigureOfPack, width: int, stamp: str) -> dict[str, Any]:
    # of the first result the title is the message of the poster, and the numbers stand in the table above it
    first = figure.id == RESULTS[0]
    drawn = picture(figure.figure, replace(TWO_COLUMNS, terse=True)) if first else figure.pictures[width]
    return {
        "title": figure.title,
        "titled": not first,
        "caption": caption_of(figure),
        "alt": f"{figure.title}. {drawn.description}",
        "svg": standing_alone(drawn, stamp, font=False),
    }


def _table(table: Table) -> dict[str, Any]:
    across = zip(table.columns, widths(table), strict=True)
    return {
        "title": table.title,
        "spanners": [list(each) for each in table.spanners],
        "columns": [{"label": each.label, "right": each.align == "right", "share": share} for each, share in across],
        "rows": [[plain(cell) for cell in row.cells] for row in table.rows],
    }
