"""The contents page of the pack, with every file, its size and its digest."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from outcomes.findings import Choice
from outcomes.findings.disclosure.microdata import SharedData
from outcomes.findings.results import Level, Stamp
from outcomes.protocol import Protocol
from outcomes.report.documents.templating import templates
from outcomes.report.pack.data_package import coarsening_lines, refusal_words
from outcomes.report.pack.figures import FigureOfPack
from outcomes.report.pack.manuscript import Part
from outcomes.report.stamp import level_words, stamp_facts
from outcomes.report.tables.model import Table
from outcomes.report.tables.writers.registry import FORMATS

KIB = 1024
CHECKLISTS = ("strobe", "target", "case-series")


@dataclass(frozen=True)
class FileOfPack:
    """One file: its place in the folder, its size in bytes and its SHA-256 digest."""

    name: str
    size: int
    digest: str

    def size_words(self) -> str:
        """Say the size as a person reads it."""
        if self.size < KIB:
            return f"{self.size} B"
        return f"{self.size / KIB:.0f} KiB" if self.size < KIB * KIB else f"{self.size / KIB / KIB:.1f} MiB"


@dataclass(frozen=True)
class LockSelections:
    """What was asked of the data lock, this time and before: each a tuple of filters, empty for everything."""

    now: tuple[Choice, ...]
    before: tuple[tuple[Choice, ...], ...] = ()

    def sentences(self, frozen: str) -> tuple[str, ...]:
        """Say what was looked at, so that a reader knows which questions were asked once the answers could be known."""
        if not self.now and not self.before:
            return (f"Nothing was filtered: the pack is of every case of the data lock named “{frozen}”.",)
        said = []
        if self.now:
            said.append(
                f"Asked after the data lock named “{frozen}” was made: {_said(self.now)}. A part that is chosen once the "
                "results can be known may be chosen because of them; say so where these results are shown."
            )
        if self.before:
            listed = " | ".join(_said(each) or "every case" for each in self.before)
            said.append(f"Packs made before into this folder, of the same data lock, asked: {listed}.")
        return tuple(said)


def _said(choices: tuple[Choice, ...]) -> str:
    return "; ".join(each.says() for each in choices)


def listed(folder: Path) -> tuple[FileOfPack, ...]:
    """Every file in the folder, by name."""
    return tuple(
        FileOfPack(
            each.relative_to(folder).as_posix(), each.stat().st_size, hashlib.sha256(each.read_bytes()).hexdigest()
        )
        for each in sorted(folder.rglob("*"))
        if each.is_file()
    )


@dataclass(frozen=True)
class PackParts:
    """What the contents page leads to, at which level and allowed by what; an address as an example."""

    tables: Sequence[Table]
    figures: Sequence[FigureOfPack]
    shared: SharedData
    level: Level
    approved: str
    protocol: Protocol
    example: str


def contents_page(stamp: Stamp, selections: LockSelections, shown: PackParts, files: Sequence[FileOfPack]) -> str:
    """Give the contents page as HTML; it asks for nothing from outside the folder."""
    return (
        templates()
        .get_template("contents.html")
        .render(
            stamp=stamp_facts(stamp),
            formats=FORMATS,
            level=level_words(shown.level),
            looked=selections.sentences(stamp.frozen),
            tables=[table for table in shown.tables if table.id not in CHECKLISTS],
            checklists=[table for table in shown.tables if table.id in CHECKLISTS],
            shown=shown,
            figures=shown.figures,
            shared=shown.shared,
            coarsening=coarsening_lines(shown.shared),
            refusal="" if shown.shared.tables else refusal_words(shown.shared),
            files=files,
            names=[file.name for file in files],
        )
    )


def words_page(title: str, parts: Sequence[Part], stamp: str) -> str:
    """Give some parts in words as a page whose figures carry their addresses."""
    return templates().get_template("words.html").render(title=title, parts=parts, stamp=stamp)
