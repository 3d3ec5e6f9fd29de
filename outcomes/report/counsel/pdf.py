"""The patient's sheet as a tagged PDF with embedded fonts.

The words and pictures travel to Typst as data, so that nothing typed by anybody is read as its language. PDF/UA-1 is
asked for: Typst refuses to write it without tags, title, language and a text for every picture.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import typst

from outcomes.report.counsel.sheet import CoverCell, ResultPair, Section, Sheet
from outcomes.report.traced_text import Phrase, plain
from outcomes.report.typst_render import typesetter

TEMPLATE = Path(__file__).with_name("templates") / "sheet.typ"
PAPERS = {"a4": "a4", "letter": "us-letter"}
Paper = Literal["a4", "letter"]


@dataclass(frozen=True)
class Print:
    """Sizes in points, the width of a picture of 100 people in mm, and the pages that the sheet may fill.

    `room` is the least height of the space for notes, in letters.
    """

    size: float
    small: float
    foot: float
    picture: float
    pages: int
    room: float


NORMAL = Print(size=14, small=11, foot=7, picture=39, pages=2, room=2.5)
LARGE = Print(size=20, small=15, foot=9, picture=40, pages=4, room=3)
AIRS = (1.0, 0.6, 0.3, 0.0)


def write_pdf_sheet(sheet: Sheet, path: Path, *, paper: Paper = "a4", large_print: bool = False) -> Path:
    """Write the sheet on both sides of one paper, or of two in large print, with as much air as these pages have.

    A protocol that tells many more results, or a language with far longer words, may need a page more; letters are
    never made smaller.
    """
    path.write_bytes(_fitted(sheet, LARGE if large_print else NORMAL, PAPERS[paper]))
    return path


def _fitted(sheet: Sheet, print_: Print, paper: str) -> bytes:
    data = _data(sheet, print_, paper)
    for air in AIRS:
        compiler = _compiler({**data, "air": air, "spill": False})
        if _asked(compiler, "<pages>") <= print_.pages and _has_room(compiler, sheet, print_):
            break
    else:
        compiler = _compiler({**data, "air": AIRS[0], "spill": True})
    made = compiler.compile(format="pdf", pdf_standards=["ua-1"])
    assert isinstance(made, bytes)  # noqa: S101 - a PDF is one file
    return made


def _has_room(compiler: typst.Compiler, sheet: Sheet, print_: Print) -> bool:
    return not sheet.spaces or _asked(compiler, "<room>") >= print_.room * print_.size


def _compiler(data: dict[str, Any]) -> typst.Compiler:
    return typesetter(TEMPLATE, data=json.dumps(data, ensure_ascii=False))


def _asked(compiler: typst.Compiler, name: str) -> float:
    """A number that the template says of itself: its pages, or the height of the space for notes in points."""
    return float(json.loads(compiler.query(name, field="value", one=True)))


def _data(sheet: Sheet, print_: Print, paper: str) -> dict[str, Any]:
    lang, _, region = sheet.language.code.partition("-")
    return {
        **print_.__dict__,
        "paper": paper,
        "lang": lang,
        "region": region or None,
        "title": sheet.title,
        "name": sheet.name,
        "warning": _plain(sheet.warning),
        "opening": plain(sheet.opening),
        "legend": [[drawn, plain(words)] for drawn, words in sheet.legend],
        "sections": [
            {"heading": section.heading, "pairs": [_pair(pair) for pair in section.pairs]} for section in sheet.sections
        ],
        "lines": [_pair(pair) for pair in sheet.lines],
        "likeness": _plain(sheet.likeness),
        "unknown": _section(sheet.unknown),
        "spaces": [_section(each) for each in sheet.spaces],
        "basis": _section(sheet.basis),
        "caution": plain(sheet.caution),
        "stamp": sheet.stamp,
    }


def _pair(pair: ResultPair) -> dict[str, Any]:
    return {
        "label": plain(pair.label),
        "caption": plain(pair.caption),
        "cells": [_cell(cell) for cell in pair.cells],
        "nothing": _plain(pair.nothing),
        "verdict": plain(pair.verdict),
        "published": _plain(pair.published),
    }


def _cell(cell: CoverCell) -> dict[str, Any]:
    return {
        "cover": cell.cover,
        "seen": _plain(cell.seen),
        "picture": cell.picture,
        "alt": plain(cell.alt),
        "of": _plain(cell.sentences[:1]) if cell.picture else [],
        "sentences": _plain(cell.sentences[1:] if cell.picture else cell.sentences),
    }


def _section(section: Section) -> dict[str, Any]:
    return {"heading": section.heading, "paragraphs": _plain(section.paragraphs)}


def _plain(phrases: tuple[Phrase, ...]) -> list[str]:
    return [plain(each) for each in phrases]
