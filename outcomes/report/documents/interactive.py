"""The charts of a comparison on one page to explore in a browser, which opens offline."""

from __future__ import annotations

import json
from collections.abc import Sequence

from outcomes.findings.results import Comparison
from outcomes.report.charts.drawing import Picture
from outcomes.report.charts.interactive import explorable
from outcomes.report.documents.templating import faces, templates
from outcomes.report.stamp import level_words, stamp_line

# A script ends at the first "</script>", whatever is around it: no letter of data may begin one.
_HARMLESS = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"})


def interactive_page(comparison: Comparison, pictures: Sequence[Picture], program: str) -> str:
    """Give the page as HTML, with the program that draws the charts inside it."""
    specs = {each.id: _data(each) for each in pictures if each.spec is not None}
    return (
        templates()
        .get_template("interactive.html")
        .render(
            pictures=pictures,
            specs=specs,
            bundle=program,
            faces=faces(),
            level=level_words(comparison.level),
            stamp=stamp_line(comparison.stamp),
        )
    )


def _data(picture: Picture) -> str:
    spec = explorable(picture.spec or {})
    spec.pop("$schema", None)
    return json.dumps({**spec, "description": picture.description}, ensure_ascii=False).translate(_HARMLESS)
