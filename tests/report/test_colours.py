"""The colours of the charts can be told apart with every kind of colour vision, and in grey print."""

import itertools

import numpy as np
import pytest

from outcomes.report.charts import follow_up, theme
from outcomes.report.charts.grades import MOST_SHADES
from outcomes.report.charts.theme import shades

# What reaches an eye without one kind of cone, in linear light: Machado, Oliveira & Fernandes, A physiologically-based model for
# simulation of color vision deficiency, IEEE Trans Vis Comput Graph 2009;15:1291-8, table of matrices at severity 1.0, as colorspacious
# 1.1.2 holds them too.
SEEN_BY = {
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.3039]],
    "every cone": np.eye(3),
    "grey print": [[0.2126, 0.7152, 0.0722]] * 3,
}
# IEC 61966-2-1 (sRGB): linear light to the tristimulus values of its white, D65.
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
KINDS = {
    "cohorts": theme.COLOURS,
    "lines and what is drawn upon them": [*theme.COLOURS, theme.INK],
    "states of a review": follow_up.SHADES,
    **{f"{number} grades": shades(number) for number in range(2, MOST_SHADES + 1)},
}
# A difference of 2.3 is just noticeable (Mahy, Van Eycken & Oosterlinck, Color Res Appl 1994, from memory); ours is four times that.
APART = 10


def linear(colour):
    """The linear light of a colour of the screen (IEC 61966-2-1)."""
    parts = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def lightness_and_hue(light):
    """CIE 1976 L*a*b* of linear light (ISO/CIE 11664-4)."""
    ratio = TO_XYZ @ light / TO_XYZ.sum(axis=1)
    root = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * root[1] - 16, 500 * (root[0] - root[1]), 200 * (root[1] - root[2])])


def seen(colour, eye):
    """A colour as this eye, or this print, has it."""
    return lightness_and_hue(np.clip(np.array(SEEN_BY[eye]) @ linear(colour), 0, 1))


def difference(one, other, eye):
    return float(np.linalg.norm(seen(one, eye) - seen(other, eye)))


def test_the_differences_are_those_of_the_standard():
    # White, black and middle grey have lightness 100, 0 and 53.585 (CIE 1976, #808080); red, from memory of the usual tables.
    assert seen("#ffffff", "every cone") == pytest.approx([100, 0, 0], abs=0.02)
    assert seen("#808080", "every cone")[0] == pytest.approx(53.585, abs=0.01)
    assert seen("#ff0000", "every cone") == pytest.approx([53.24, 80.09, 67.20], abs=0.1)


@pytest.mark.parametrize("eye", SEEN_BY)
@pytest.mark.parametrize("kind", KINDS)
def test_colours_of_one_chart_are_told_apart(kind, eye):
    least = min(difference(one, other, eye) for one, other in itertools.combinations(KINDS[kind], 2))
    assert least >= APART


def test_red_and_green_would_be_refused():
    assert difference("#b04a4a", "#6b6b2a", "deuteranopia") < APART


def luminance(colour):
    """Relative luminance of an sRGB colour (Web Content Accessibility Guidelines 2.2, definition of relative luminance)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_cohorts_differ_in_grey_and_both_stand_out_from_the_page():
    # 3 to 1 for graphical objects: Web Content Accessibility Guidelines 2.2, success criterion 1.4.11.
    grafted, advanced = theme.COLOURS
    assert contrast(grafted, "#ffffff") >= 3
    assert contrast(advanced, "#ffffff") >= 3
    assert contrast(grafted, advanced) >= 3
    assert len(set(theme.SHAPES)) == len({tuple(dash) for dash in theme.DASHES}) == len(set(theme.FILLS)) == 2
