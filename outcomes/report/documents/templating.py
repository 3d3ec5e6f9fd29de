"""The templates of all pages. Everything that enters a template is escaped; only our own charts are let through as they are."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

REPORT = Path(__file__).parents[1]
FOLDERS = [REPORT / room / "templates" for room in ("documents", "pack", "counsel")]


@cache
def templates() -> Environment:
    """Every template of the report, escaping everything, and refusing names that were not given."""
    return Environment(
        loader=FileSystemLoader(FOLDERS),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
