"""Drawings and pages as PDF and PNG.

One typesetter and one font for all, so that every form shows the same, and is the same byte for byte for the same content.
What it is told travels as data: nothing typed by anybody is read as its language.
"""

from __future__ import annotations

import struct
import zlib
from pathlib import Path
from typing import Literal

import typst

FONTS = Path(__file__).with_name("fonts")
METRES_IN_INCH = 0.0254
SIGNATURE = b"\x89PNG\r\n\x1a\n"
ONE_DRAWING = Path(__file__).with_name("typst_render.typ")


def typesetter(template: Path, **told: str) -> typst.Compiler:
    """A typesetter for one template, which finds what it is told as its inputs; only the shipped font is used."""
    return typst.Compiler(template, font_paths=[FONTS], ignore_system_fonts=True, sys_inputs=told)


def drawing(drawn: str, size: tuple[float, float], *, title: str, alt: str, stamp: str) -> typst.Compiler:
    """A typesetter of one SVG drawing alone on a page of its own width and height, in points."""
    width, height = (f"{each:.3f}" for each in size)
    return typesetter(ONE_DRAWING, svg=drawn, width=width, height=height, title=title, alt=alt, stamp=stamp)


def page_as(compiler: typst.Compiler, form: Literal["pdf", "png"], *, ppi: float | None = None) -> bytes:
    """The one page that the typesetter makes; a PDF is one for readers who cannot see it, too (PDF/UA-1)."""
    made = compiler.compile(format=form, ppi=ppi, pdf_standards=["ua-1"] if form == "pdf" else [])
    if not isinstance(made, bytes):
        raise TypeError("a drawing and a poster are one page")
    return made


def png(compiler: typst.Compiler, *, ppi: float, stamp: str) -> bytes:
    """The one page as PNG with so many dots an inch, which it tells, with its stamp inside."""
    picture = page_as(compiler, "png", ppi=ppi)
    head_end = len(SIGNATURE) + 8 + 13 + 4
    dots = round(ppi / METRES_IN_INCH)
    words = b"Description\x00\x00\x00\x00\x00" + stamp.encode()
    rest = b"".join(_without(picture[head_end:], b"pHYs"))
    return picture[:head_end] + _chunk(b"pHYs", struct.pack(">IIB", dots, dots, 1)) + _chunk(b"iTXt", words) + rest


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def _without(chunks: bytes, unwanted: bytes) -> list[bytes]:
    held, at = [], 0
    while at < len(chunks):
        (length,) = struct.unpack(">I", chunks[at : at + 4])
        end = at + 12 + length
        if chunks[at + 4 : at + 8] != unwanted:
            held.append(chunks[at:end])
        at = end
    return held
