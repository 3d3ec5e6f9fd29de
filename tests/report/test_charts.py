"""Each picture says in words what it shows, stays itself in a page of many, and shows the numbers that it was given."""

import json
import re
import struct
from dataclasses import replace

import altair as alt
import pytest
from lxml import etree

from outcomes.protocol import default_protocol
from outcomes.report.charts import theme
from outcomes.report.charts.balance import balance_figures
from outcomes.report.charts.catalogue import all_figures
from outcomes.report.charts.differences import differences_figures
from outcomes.report.charts.drawing import Canvas, Figure, Forms, picture, specified, write_picture
from outcomes.report.charts.follow_up import followed_figures, seen_figures
from outcomes.report.charts.individual_values import lids_figures
from outcomes.report.charts.theme import ONE_COLUMN, SCREEN, TWO_COLUMNS
from outcomes.report.finding_index import main_findings, main_outcomes
from outcomes.report.typst_render import FONTS
from tests.report.invented import empty_comparison, invented_comparison, one_sided_comparison

pytestmark = pytest.mark.slow

PROTOCOL = default_protocol()
WHOLE = invented_comparison()
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def pictures(files):
    """The charts of a whole comparison as they were written, by their names."""
    return {file.stem: etree.fromstring(file.read_bytes()) for file in files["whole"] if file.suffix == ".svg"}


def texts(root):
    return [element.text or "" for element in root.iter(f"{SVG}text")]


def marks(root):
    return [each.get("aria-roledescription") for each in root.iter() if each.get("aria-roledescription")]


def drawn(figures):
    (figure,) = figures
    return picture(figure, SCREEN)


def root_of(drawn_):
    return etree.fromstring(drawn_.inline.encode())


def test_each_picture_is_an_image_with_a_title_and_a_description(pictures):
    assert len(pictures) > 15
    for root in pictures.values():
        title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert root.get("role") == "img"
        assert root.get("aria-labelledby").split() == [title.get("id"), description.get("id")]
        assert len(title.text) > 10
        assert len(description.text) > 20


def test_the_clips_of_a_picture_carry_its_name():
    def clipped(canvas, _):
        return canvas.chart([{"x": 1}, {"x": 2}]).mark_line(clip=True).encode(x="x:Q", y="x:Q").properties(width=101)

    figure = Figure("first", "A line", (), "Two points.", clipped)
    picture(figure, SCREEN)
    inline = picture(figure, SCREEN).inline
    assert re.findall(r'<clipPath id="([^"]+)"', inline) == ["first-clip1"]
    assert set(re.findall(r"url\(#([^)]+)\)", inline)) == {"first-clip1"}


def test_each_picture_names_both_cohorts_and_carries_numbers_of_lids(pictures):
    for name, root in pictures.items():
        words = " ".join((*texts(root), root.find(f"{SVG}desc").text)).lower()
        assert "grafted" in words, name
        assert "advanced" in words, name
        assert re.search(r"\b\d+\b", words), name


def test_numbers_at_risk_stand_under_their_months(pictures):
    for curve in (each for each in WHOLE.curves if each.cohort == "grafted"):
        drawn = texts(pictures[f"curve-{curve.event.replace('_', '-')}"])
        assert {str(lids) for _, lids in curve.at_risk} <= set(drawn)
        assert {str(month) for month, _ in curve.at_risk} <= set(drawn)


def test_every_lid_is_a_point(pictures):
    shown = [each for each in main_findings(WHOLE, PROTOCOL) if not each.is_share]
    assert marks(pictures["every-lid"]).count("point") == sum(each.grafted.n + each.advanced.n for each in shown)


def test_every_difference_has_a_point_and_a_line_with_two_ends(pictures):
    found = marks(pictures["differences"])
    held = [each for each in main_outcomes(WHOLE, PROTOCOL) if each.contrast.estimate is not None]
    ways = len(held) + sum(each.adjusted is not None for each in held)
    assert found.count("point") == ways
    assert found.count("tick") == 2 * ways


def test_nothing_is_drawn_for_nobody():
    assert all_figures(empty_comparison(), PROTOCOL) == ()


def test_no_difference_is_drawn_where_there_is_none():
    assert differences_figures(one_sided_comparison(), PROTOCOL) == ()
    assert balance_figures(one_sided_comparison(), PROTOCOL) == ()


def test_a_cohort_of_nobody_has_no_points():
    lids = drawn(lids_figures(one_sided_comparison(), PROTOCOL))
    assert "grafted (n 0)" in texts(root_of(lids))
    assert "; Retraction: advanced median" in lids.description


def test_a_window_nobody_was_seen_in_has_no_bar():
    words = texts(
        root_of(drawn(seen_figures(replace(WHOLE, followed_by_window=WHOLE.followed_by_window[:2]), PROTOCOL)))
    )
    assert "first week, g" in words
    assert "five years, g" not in words


def test_one_row_a_case_with_its_code_when_there_is_room():
    assert {each.case for each in WHOLE.followed} <= set(texts(root_of(drawn(followed_figures(WHOLE, PROTOCOL)))))


def test_markup_in_a_label_is_drawn_and_not_obeyed():
    line = replace(WHOLE.balance[0], label="<b>width & height</b>")
    assert "<b>width & height</b>" in texts(root_of(drawn(balance_figures(replace(WHOLE, balance=(line,)), PROTOCOL))))


def test_the_same_comparison_gives_the_same_picture():
    assert drawn(differences_figures(WHOLE, PROTOCOL)) == drawn(differences_figures(WHOLE, PROTOCOL))


def test_files_are_for_print_and_carry_the_stamp(tmp_path):
    seen = drawn(seen_figures(WHOLE, PROTOCOL))
    stamp = "register 3f9ac2 <as of> 2026-06-30"
    svg, png, spec = write_picture(seen, tmp_path / "seen", stamp=stamp, forms=Forms(ppi=300, spec=True))
    root = etree.fromstring(svg.read_bytes())
    assert root.find(f"{SVG}metadata").text == stamp
    data = png.read_bytes()
    width, _ = struct.unpack(">II", data[16:24])
    assert abs(width - float(root.get("width").removesuffix("mm")) / 25.4 * 300) <= 1
    dots_a_metre = struct.unpack(">I", data[data.index(b"pHYs") + 4 :][:4])[0]
    assert abs(dots_a_metre * 0.0254 - 300) < 1
    assert json.loads(spec.read_text(encoding="utf-8"))["usermeta"]["stamp"] == stamp


@pytest.mark.parametrize("size", [SCREEN, ONE_COLUMN, TWO_COLUMNS], ids=lambda size: size.name)
def test_every_chart_is_described_in_valid_vega_lite_and_drawn_as_wide_as_asked(size):
    for figure in all_figures(WHOLE, PROTOCOL):
        if figure.chart is not None:
            alt.Chart.from_dict(specified(figure, size), validate=True)
            figure.chart(Canvas(), size).to_dict(validate=True)
        if not figure.further:
            assert picture(figure, size).plate.width == pytest.approx(size.width, abs=max(2, size.near)), figure.id


def test_the_font_that_is_shipped_has_its_licence_and_the_list_ends_with_one_that_is_always_there():
    assert theme.FONT.endswith("sans-serif")
    assert "OPEN FONT LICENSE" in (FONTS / "LICENSE.txt").read_text(encoding="utf-8")
    assert len(list(FONTS.glob("*.otf"))) >= 2
