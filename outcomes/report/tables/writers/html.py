"""A table as a page of its own.

Headings have their scope and cells their headings' ids, so that a screen reader can say where a number stands; every
figure is in a span that carries its address.
"""

from __future__ import annotations

from pathlib import Path

from outcomes.findings.results import Stamp
from outcomes.report.documents.templating import templates
from outcomes.report.stamp import stamp_line
from outcomes.report.tables.model import Table


def write_html(table: Table, path: Path, stamp: Stamp) -> Path:
    """Write the table as a page of its own, with its stamp beneath."""
    page = templates().get_template("table.html").render(table=table, stamp=stamp_line(stamp))
    path.write_text(page, encoding="utf-8")
    return path
