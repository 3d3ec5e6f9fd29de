"""Office files that are the same byte for byte on every day."""

from __future__ import annotations

import zipfile
from datetime import date, datetime
from pathlib import Path

EARLIEST = (1980, 1, 1, 0, 0, 0)
MOST_LETTERS = 255  # what one property of an office file may hold


def as_property(text: str) -> str:
    """The text as a property of an office file, cut where it is too long; the whole of it stands on the pages."""
    return text if len(text) <= MOST_LETTERS else f"{text[: MOST_LETTERS - 1]}…"


def noon(day: date) -> datetime:
    """The middle of the day, as which an office file is dated: the libraries take no zone."""
    return datetime(day.year, day.month, day.day, 12)  # noqa: DTZ001 - the libraries take no zone


def written_again(path: Path) -> Path:
    """The archive holds the same parts in the same order, without the time at which it was made."""
    with zipfile.ZipFile(path) as held:
        parts = [(info.filename, held.read(info)) for info in held.infolist()]
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as again:
        for name, content in parts:
            info = zipfile.ZipInfo(name, EARLIEST)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o600 << 16
            again.writestr(info, content)
    return path
