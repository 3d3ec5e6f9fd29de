"""The patient's sheet as one page for a web browser, which opens without a network."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from outcomes.report.counsel.sheet import Sheet

TEMPLATES = Path(__file__).with_name("templates")
POINTS, LARGE_POINTS = 14, 20


def write_html_sheet(sheet: Sheet, path: Path, *, large_print: bool = False) -> Path:
    """Write the sheet as one page that holds everything it needs."""
    page = _templates().get_template("sheet.html").render(sheet=sheet, size=LARGE_POINTS if large_print else POINTS)
    path.write_text(page, encoding="utf-8")
    return path


@cache
def _templates() -> Environment:
    """The templates of this folder, escaping everything, and refusing names that were not given."""
    return Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
