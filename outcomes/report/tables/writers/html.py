"""How does a table look on a page?

Headings have their scope and cells their headings' ids, so that a screen reader can say where a number stands; every
figure is in a span that carries its address.
"""

from __future__ import annotations

from pathlib import Path

from outcomes.report.documents.templating import templates
from outcomes.report.tables.model import Table


def write_html(table: Table, path: Path, *, stamp: str) -> Path:
    """Write the table as a page of its own, with its stamp beneath."""
    path.write_text(templates().get_template("table.html").render(table=table, stamp=stamp), encoding="utf-8")
    return path
