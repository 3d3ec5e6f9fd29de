"""Every form of a table says the same, and no cell can give an order to what reads it."""

import csv
import io
from dataclasses import replace

import pytest
from rich.console import Console

from outcomes.findings.results import Unchecked
from outcomes.protocol import default_protocol
from outcomes.report import terminal_summary
from outcomes.report.documents.templating import templates
from outcomes.report.export import all_tables
from outcomes.report.tables.model import Column, Row, Table
from outcomes.report.tables.writers.csv import as_csv
from outcomes.report.tables.writers.text import as_text
from outcomes.report.traced_text import Figure, plain
from outcomes.report.warning_words import caution_words
from tests.report.invented import empty_comparison, invented_comparison, one_sided_comparison

PROTOCOL = default_protocol()
WHOLE = invented_comparison()


def table_of(*cells, band=""):
    columns = tuple(Column(f"c{number}", f"Column {number}") for number in range(len(cells)))
    return Table("small", "A small table", columns, (Row(tuple((cell,) for cell in cells), band),))


def on_terminal(shown, width=120):
    console = Console(file=io.StringIO(), width=width, color_system=None)
    console.print(shown)
    return console.file.getvalue()


def as_page(table):
    return templates().get_template("table.html").render(table=table, stamp="")


def test_square_brackets_are_printed_on_a_terminal_and_not_obeyed():
    assert "[bold]ward 3[/bold]" in on_terminal(as_text(table_of("x", "[bold]ward 3[/bold]")))


@pytest.mark.parametrize("cell", ["=1+1", "+44", "-5", "@sum", "\tx"])
def test_a_text_that_a_spreadsheet_would_obey_is_made_harmless(cell):
    (_, row) = csv.reader(io.StringIO(as_csv(table_of(cell, "x"), stamp="s")))
    assert row == [f"'{cell}", "x", "s"]


def test_our_own_numbers_stay_numbers_with_a_plain_minus():
    (_, row) = csv.reader(io.StringIO(as_csv(table_of(Figure("−12", "a"), Figure("+0.5", "b")), stamp="s")))
    assert [float(cell) for cell in row[:2]] == [-12, 0.5]


def test_a_cell_with_commas_quotes_and_lines_comes_back_as_it_was():
    awkward = 'a, "b"\nc'
    (_, row) = csv.reader(io.StringIO(as_csv(table_of(awkward, "x"), stamp="s"), newline=""))
    assert row[0] == awkward


def test_markup_in_a_cell_is_printed_on_a_page_and_not_obeyed():
    page = as_page(table_of("<script>x</script>", Figure('"><b>', '"><i>'), band="<u>"))
    assert "<script>" not in page
    assert "<b>" not in page
    assert "<i>" not in page
    assert "<u>" not in page


@pytest.mark.parametrize(
    "comparison", [WHOLE, one_sided_comparison(), empty_comparison()], ids=["whole", "one-sided", "empty"]
)
def test_every_cell_is_in_every_form(comparison):
    for table in all_tables(comparison, PROTOCOL):
        page, text = as_page(table), on_terminal(as_text(table), width=1000)
        (heading, *rows) = csv.reader(io.StringIO(as_csv(table, stamp="s"), newline=""))
        assert len(rows) == len(table.rows)
        assert all(len(row) == len(heading) for row in rows)
        for column in table.columns:
            assert column.id in heading
            assert f">{column.label}<" in page.replace("&amp;", "&").replace("&#39;", "'")
        for row in table.rows[:40]:
            for cell in row.cells:
                assert plain(cell).split("\n")[0] in text


def test_a_row_that_does_not_fill_its_columns_is_refused():
    with pytest.raises(ValueError, match="2 cells in a row of 1 columns"):
        Table("t", "t", (Column("a", "A"),), (Row((("x",), ("y",))),))


def test_p_never_stands_without_its_estimate():
    lost = {"estimate": None, "low": None, "high": None, "p": 0.02, "p_corrected": 0.03}
    comparison = replace(
        WHOLE,
        findings=tuple(
            replace(each, adjusted=None, contrast=replace(each.contrast, **lost)) for each in WHOLE.findings
        ),
        timing=tuple(replace(each, contrast=replace(each.contrast, **lost)) for each in WHOLE.timing),
        calendar=(),
    )
    seen = 0
    for table in all_tables(comparison, PROTOCOL):
        names = [column.id for column in table.columns]
        for row in table.rows:
            for name, cell in zip(names, row.cells, strict=True):
                seen += name in {"p", "p_error", "p_corrected"}
                assert not (name in {"p", "p_error", "p_corrected"} and plain(cell) != "–"), (table.id, plain(cell))
    assert seen > 100


def test_a_cohort_s_columns_hold_only_that_cohort_s_figures():
    checked = 0
    for table in all_tables(WHOLE, PROTOCOL):
        for column, cell in (pair for row in table.rows for pair in row.filled(table.columns)):
            cohort, other = ("grafted", "advanced") if column.id.startswith("grafted") else ("advanced", "grafted")
            if column.id.startswith(cohort):
                figures = [piece for piece in cell if isinstance(piece, Figure)]
                checked += len(figures)
                assert all(cohort in each.id and other not in each.id for each in figures), (
                    table.id,
                    column.id,
                    figures,
                )
    assert checked > 500


def test_every_missing_count_of_the_baseline_is_printed():
    table = next(each for each in all_tables(WHOLE, PROTOCOL) if each.id == "baseline")
    missing = [plain(row.cells[2]) for row in table.rows]
    assert missing == [str(line.grafted_missing) for line in WHOLE.balance]


def test_what_weighting_leaves_out_of_balance_is_named_below_the_baseline():
    apart = replace(WHOLE.balance[0], smd_adjusted=0.26), replace(WHOLE.balance[1], smd_adjusted=-0.25)
    for lines, named in ((apart, True), (WHOLE.balance, False)):
        table = next(t for t in all_tables(replace(WHOLE, balance=lines), PROTOCOL) if t.id == "baseline")
        notes = " ".join(plain(note) for note in table.notes)
        assert (f"out of balance after weighting: {apart[0].label} (+0.26)." in notes) is named


def test_a_check_that_was_not_made_says_why():
    planned = tuple(
        replace(each, unchecked=(Unchecked("masked_only", "few_masked"),)) if each.is_planned else each
        for each in WHOLE.findings
    )
    table = next(t for t in all_tables(replace(WHOLE, findings=planned), PROTOCOL) if t.id == "checks")
    row = next(row for row in table.rows if plain(row.cells[0]) == "Masked assessors only")
    assert {plain(cell) for cell in row.cells[1:]} == {"too few masked gradings"}


def test_lids_at_risk_stand_beside_each_moment_and_no_crude_test_of_a_whole_course():
    table = next(t for t in all_tables(WHOLE, PROTOCOL) if t.id == "timing")
    names = [column.id for column in table.columns]
    assert "p_curve" not in names
    places = [names.index(f"{cohort}_at_risk") for cohort in ("grafted", "advanced")]
    assert [[plain(row.cells[at]) for at in places] for row in table.rows] == [
        [str(each.grafted.at_risk), str(each.advanced.at_risk)] for each in WHOLE.timing
    ]


def test_the_terminal_says_whose_lids_the_warnings_and_the_reading():
    shown = " ".join(on_terminal(terminal_summary(WHOLE, PROTOCOL), width=140).split())
    assert (
        "18 lids of 18 patients covered with a skin graft and 22 lids of 21 patients covered with advanced skin"
        in shown
    )
    assert all(caution_words(each).split(".")[0] in shown for each in WHOLE.warnings)
    assert "better with advanced" in shown
    assert "not advice" in shown


def test_the_terminal_says_when_there_is_nothing_to_compare():
    assert "No main measure of the primary window was asked for and measured" in on_terminal(
        terminal_summary(empty_comparison(), PROTOCOL)
    )
