"""The patient's sheet as one page for a web browser, which opens without a network."""

from __future__ import annotations

from pathlib import Path

from outcomes.report.counsel.sheet import Sheet
from outcomes.report.documents.templating import templates

POINTS, LARGE_POINTS = 14, 20


def write_html_sheet(sheet: Sheet, path: Path, *, large_print: bool = False) -> Path:
    """Write the sheet as one page that holds everything it needs."""
    page = templates().get_template("sheet.html").render(sheet=sheet, size=LARGE_POINTS if large_print else POINTS)
    path.write_text(page, encoding="utf-8")
    return path
