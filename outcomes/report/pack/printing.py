"""How does a figure become files for print: SVG with its letters inside, PDF with embedded fonts, PNG at 600 dots an inch?

PDF and PNG come from one program and one font, so that they show the same; both are the same byte for byte for the same figure.
"""

from __future__ import annotations

import struct
import zlib
from pathlib import Path
from typing import Literal

import typst

from outcomes.report.charts.style import FONTS
from outcomes.report.figures import plain
from outcomes.report.pack.plate import FigureOfPack, standing_alone

PPI = 600
METRES_IN_INCH = 0.0254
SIGNATURE = b"\x89PNG\r\n\x1a\n"
TEMPLATE = Path(__file__).with_name("templates") / "figure.typ"


def write_figure(figure: FigureOfPack, folder: Path, *, stamp: str) -> tuple[Path, ...]:
    """Write the figure in every width and form, and give the files."""
    caption = " ".join(plain(each) for each in figure.caption)
    written = []
    for width, held in figure.plates.items():
        stem = folder / f"{figure.id}-{width}mm"
        drawn = standing_alone(held, figure.title, caption, stamp, font=False)
        compiler = typst.Compiler(
            TEMPLATE,
            font_paths=[FONTS],
            ignore_system_fonts=True,
            sys_inputs={
                "svg": drawn,
                "width": f"{held.width:.3f}",
                "height": f"{held.height:.3f}",
                "title": figure.title,
                "alt": caption,
                "stamp": stamp,
            },
        )
        files = {
            ".svg": standing_alone(held, figure.title, caption, stamp, font=True).encode(),
            ".pdf": compiled(compiler, "pdf"),
            ".png": stamped_png(compiled(compiler, "png"), stamp),
        }
        for ending, content in files.items():
            stem.with_name(stem.name + ending).write_bytes(content)
            written.append(stem.with_name(stem.name + ending))
    return tuple(written)


def compiled(compiler: typst.Compiler, form: Literal["pdf", "png"]) -> bytes:
    """The one page that the compiler makes."""
    made = compiler.compile(format=form, ppi=PPI if form == "png" else None)
    if not isinstance(made, bytes):
        raise TypeError("a figure and a poster are one page")
    return made


def stamped_png(picture: bytes, stamp: str) -> bytes:
    """The same picture with its stamp, and with the dots an inch at which it has its true size."""
    head_end = len(SIGNATURE) + 8 + 13 + 4
    dots = round(PPI / METRES_IN_INCH)
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
