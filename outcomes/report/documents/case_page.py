"""One case on one page that opens anywhere, offline and without scripts."""

from __future__ import annotations

from pathlib import Path

from outcomes.findings.case_story import CaseStory
from outcomes.protocol import Protocol
from outcomes.report.case_tables import case_tables
from outcomes.report.charts.case_course import course_pictures
from outcomes.report.documents.templating import faces, templates


def write_case_page(story: CaseStory, protocol: Protocol, path: Path, *, software: str) -> None:
    """The page is written; after a failure the file may be incomplete, and nothing else has changed."""
    page = (
        templates()
        .get_template("case.html")
        .render(
            case=story.record.case_id,
            as_of=story.as_of.isoformat(),
            tables={table.id: table for table in case_tables(story, protocol)},
            pictures=course_pictures(story, protocol),
            faces=faces(),
            stamp=f"as of {story.as_of.isoformat()}; protocol {protocol.fingerprint}; {software}",
        )
    )
    path.write_text(page, encoding="utf-8")
