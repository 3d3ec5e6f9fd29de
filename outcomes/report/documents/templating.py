"""The templates of all pages. Everything that enters a template is escaped; only our own charts are let through as they are."""

from __future__ import annotations

import base64
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from outcomes.report.formats import grouped
from outcomes.report.typst_render import FONTS

FACES = (("RegisterSans-Regular.otf", "normal", 400), ("RegisterSans-Bold.otf", "normal", 700))
REPORT = Path(__file__).parents[1]
FOLDERS = [REPORT / room / "templates" for room in ("documents", "pack", "counsel")]


@cache
def templates() -> Environment:
    """Every template of the report, escaping everything, and refusing names that were not given."""
    made = Environment(
        loader=FileSystemLoader(FOLDERS),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["grouped"] = grouped
    return made


@cache
def faces() -> tuple[tuple[int, str, str], ...]:
    """The shipped letters for a page: weight, style and the font as base64."""
    return tuple(
        (weight, style, base64.b64encode((FONTS / name).read_bytes()).decode()) for name, style, weight in FACES
    )
