"""The smaller files of the font, with which the drawing engine measures, have the widths of the whole font."""

from __future__ import annotations

import re
import subprocess
import sys
import unicodedata

import pytest
from PIL import ImageFont

from outcomes.report.charts.drawing import QUICK_FONTS
from outcomes.report.typst_render import FONTS

HELD = [(0x20, 0x7E), (0xA0, 0x17F), (0x218, 0x21B), (0x386, 0x3CE), (0x400, 0x45F), (0x2010, 0x2026)]
FACES = ["RegisterSans-Regular.otf", "RegisterSans-Bold.otf"]
DRAW = """
import sys, vl_convert
vl_convert.register_font_directory(sys.argv[1])
for text, weight in [(text, weight) for text in sys.argv[2:] for weight in ("normal", "bold")]:
    title = {"text": text, "font": "Register Sans", "fontWeight": weight, "fontSize": 40}
    chart = {"data": {"values": [{"a": 1}]}, "mark": "point", "title": title, "width": 10}
    print(vl_convert.vegalite_to_svg(chart, vl_version="6.4").split('width="')[1].split('"')[0])
"""
KERNED = [
    "AVAVAVAVAVAVAVAVAV",
    "To Ty Te Yo LT P. To Ty Te Yo LT P.",
    "Ретракция века",
    "Größe čšž Œ “Tv” – −1.5 ≥ ≤",
]


@pytest.mark.parametrize("face", FACES)
def test_every_letter_is_as_wide(face):
    quick, whole = (ImageFont.truetype(str(folder / face), 1000) for folder in (QUICK_FONTS, FONTS))
    letters = [chr(code) for first, last in HELD for code in range(first, last + 1)]
    letters = [letter for letter in letters if unicodedata.category(letter) not in {"Cc", "Cf", "Cn"}]
    assert len(letters) > 400
    assert [letter for letter in letters if quick.getlength(letter) != whole.getlength(letter)] == []
    assert quick.getname() == whole.getname()


def test_the_engine_measures_texts_the_same():
    """Pairs of letters are moved together by the font; a letter that the files lack would be measured in another font."""
    quick, whole = (drawn_widths(folder) for folder in (QUICK_FONTS, FONTS))
    assert quick == whole
    assert all(re.fullmatch(r"\d+", width) for width in quick)
    assert len(set(quick)) == 2 * len(KERNED)


def drawn_widths(folder):
    ran = subprocess.run([sys.executable, "-c", DRAW, str(folder), *KERNED], capture_output=True, text=True, check=True)
    return ran.stdout.split()
