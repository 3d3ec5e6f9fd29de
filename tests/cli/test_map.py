"""An old sheet comes in by map and load, dry first, and hospital numbers go to the link file only."""

import json

import pytest

from outcomes.identity import read_links
from outcomes.store import reading
from tests.capture.foreign import sheets
from tests.cli.running import CLOSED_ON, done, files_in, refused

pytestmark = pytest.mark.slow
BY = ("--as-of", CLOSED_ON)
PASSPHRASE = "four invented words here"


@pytest.fixture
def register(tmp_path):
    path = tmp_path / "register" / "register.duckdb"
    path.parent.mkdir()
    done("new", "--register", path)
    return path


def count(register, sheet):
    with reading(register) as opened:
        return len(opened.held()[sheet])


def test_a_dry_run_says_everything_and_stores_nothing(tmp_path, register):
    sheet = sheets.german_workbook(tmp_path / "old.xlsx")
    out = done("map", sheet, "--register", register, *BY).out
    assert "Lider: rows 2 to 26, 13 of 13 columns mapped." in out
    before = files_in(register.parent)
    mapping = tmp_path / "old-map.toml"
    mapping.write_text(mapping.read_text(encoding="utf-8").replace('"neg." = "0"', '"neg." = "?"'), encoding="utf-8")
    out = done("load", sheet, "--map", mapping, "--register", register, *BY).out
    assert "rows to store: 23 patients, 25 reconstructions, 50 reviews, 4 events" in out
    assert 'Lagophthalmus "neg." has no meaning in the mapping (20 cells, first I2' in out
    assert "reconstruction K01: side left" in out
    assert out.count("reconstruction K") == 3
    assert "Dry run: nothing was stored." in out
    assert files_in(register.parent) == before
    assert (tmp_path / "old-refused.csv").read_text(encoding="utf-8-sig").count("has no meaning") == 20


def test_yes_stores_it_and_the_mapping_is_kept_with_the_load(tmp_path, register):
    sheet = sheets.german_workbook(tmp_path / "old.xlsx")
    done("map", sheet, "--register", register, *BY)
    mapping = tmp_path / "old-map.toml"
    out = done("load", sheet, "--map", mapping, "--register", register, *BY, "--yes").out
    assert "reconstructions      25 stored" in out
    assert (count(register, "reviews"), count(register, "events")) == (50, 4)
    with reading(register) as opened:
        reason = next(past.reason for past in opened.history("K01"))
    kept = json.loads(reason.partition("): ")[2])
    assert kept["words"]["side"]["li"] == "left"
    assert (
        "by the mapping old-map.toml"
        in done("history", "K01", "--field", "side", "--register", register, COLUMNS="250").out
    )
    again = done("load", sheet, "--map", mapping, "--register", register, *BY, "--yes").out
    assert "reviews               0 stored      0 amended     50 skipped" in again


def test_hospital_numbers_go_to_the_link_file_and_nowhere_else(tmp_path, register):
    sheet = sheets.hospital_export(tmp_path / "export.csv")
    done("map", sheet, "--register", register, *BY)
    request = ("load", sheet, "--map", tmp_path / "export-map.toml", "--register", register, *BY)
    assert "give --link-file" in refused(*request, "--yes", code=2)
    assert count(register, "patients") == 0
    links = tmp_path / "links.bin"
    done(*request, "--yes", "--link-file", links, OUTCOMES_LINK_PASSPHRASE=PASSPHRASE)
    pairs = read_links(links, PASSPHRASE).pairs
    numbers = {line.partition(";")[0] for line in sheet.read_text(encoding="latin-1").splitlines()[1:]}
    assert set(pairs.values()) == numbers
    with reading(register) as opened:
        held = opened.held()
    assert {key[0] for key in held["patients"]} == set(pairs)
    assert not any(number.encode() in content for content in files_in(register.parent).values() for number in numbers)
    first = sheet.read_text(encoding="latin-1").splitlines()
    sheet.write_text("\n".join([first[0], *reversed(first[1:])]) + "\n", encoding="latin-1")
    again = done(*request, "--yes", "--link-file", links, OUTCOMES_LINK_PASSPHRASE=PASSPHRASE).out
    assert "reviews               0 stored      0 amended     59 skipped" in again
    assert read_links(links, PASSPHRASE).pairs == pairs


def test_an_edited_mapping_is_completed_with_the_words_it_needs(tmp_path, register):
    sheet = sheets.wide_english(tmp_path / "wide.xlsx")
    done("map", sheet, "--register", register, *BY)
    first = tmp_path / "wide-map.toml"
    text = first.read_text(encoding="utf-8").replace(
        'heading = "Remarks", to = "unmapped"', 'heading = "Remarks", to = "recurrence"'
    )
    first.write_text(text.replace('"HM" = "?"', '"HM" = "2.3"'), encoding="utf-8")
    done("map", sheet, "--again", first, "--out", tmp_path / "second.toml", "--register", register, *BY)
    second = (tmp_path / "second.toml").read_text(encoding="utf-8")
    assert '"HM" = "2.3"' in second
    assert '"seen by GP" = "?"' in second
    assert "(+)" in second


@pytest.mark.parametrize(
    "before, after, words",
    [
        ('to = "side"', 'to = "sides"', 'to: "sides" is not a field; did you mean "side"?'),
        ("format = 1", "format = 2", "format: must be 1"),
        ('dates = ""', 'dates = "year first"', 'dates: must be one of "", "day first"'),
        ("[words.side]", "[words.seite]", "words.seite: is not a field"),
        ("rows = [2, 26]", "rows = [2]", "rows must be the first and the last row of data"),
        ('column = "A"', 'column = "1"', "must be the letters over the column"),
        ("format = 1", "format = 1\nformat = 1", "is not valid TOML"),
        ("format = 1", "format = 1\ncolour = 1", "colour: is not a key of a mapping"),
        ('read = "serial"', 'read = "cereal"', 'read must be one of "serial"'),
    ],
)
def test_a_slip_in_the_mapping_is_a_sentence(tmp_path, register, before, after, words):
    sheet = sheets.german_workbook(tmp_path / "old.xlsx")
    done("map", sheet, "--register", register, *BY)
    mapping = tmp_path / "old-map.toml"
    text = mapping.read_text(encoding="utf-8")
    assert before in text
    mapping.write_text(text.replace(before, after, 1), encoding="utf-8")
    assert words in refused("load", sheet, "--map", mapping, "--register", register, *BY)


def test_a_mapping_is_not_written_over(tmp_path, register):
    sheet = sheets.months_only(tmp_path / "months.csv")
    done("map", sheet, "--register", register, *BY)
    assert "is there already and may hold edits" in refused("map", sheet, "--register", register, *BY)
