"""How does a figure become files for print: SVG with its letters inside, PDF with embedded fonts, PNG at 600 dots an inch?"""

from __future__ import annotations

from pathlib import Path

from outcomes.report.pack.sizing import FigureOfPack, standing_alone
from outcomes.report.traced_text import plain
from outcomes.report.typst_render import drawing, page_as, png

PPI = 600


def write_figure(figure: FigureOfPack, folder: Path, *, stamp: str) -> tuple[Path, ...]:
    """Write the figure in every width and form, and give the files."""
    caption = " ".join(plain(each) for each in figure.caption)
    written = []
    for width, held in figure.plates.items():
        stem = folder / f"{figure.id}-{width}mm"
        drawn = standing_alone(held, figure.title, caption, stamp, font=False)
        compiler = drawing(drawn, (held.width, held.height), title=figure.title, alt=caption, stamp=stamp)
        files = {
            ".svg": standing_alone(held, figure.title, caption, stamp, font=True).encode(),
            ".pdf": page_as(compiler, "pdf"),
            ".png": png(compiler, ppi=PPI, stamp=stamp),
        }
        for ending, content in files.items():
            stem.with_name(stem.name + ending).write_bytes(content)
            written.append(stem.with_name(stem.name + ending))
    return tuple(written)
