"""Read a pack back: tables of every form as rows of text, and the value at an address, in ways written apart from the program's."""

import csv
import html.parser
import io
import re

from docx import Document
from pptx import Presentation

MINUS = "\u2212"


def same(text):
    """A cell's text without what the forms write differently: the minus sign, spaces, padding."""
    return (
        re.sub(r"\s+", " ", text.replace(MINUS, "-").replace("\u00a0", " ").replace("\u2003", " "))
        .strip()
        .removeprefix("'")
    )


def csv_table(path):
    """The rows of a table's CSV file without its bands and its stamp, and its heading."""
    heading, *rows = csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig"), newline=""))
    first = 1 if heading[0] == "band" else 0
    assert heading[-1] == "stamp"
    return [[same(cell) for cell in row[first:-1]] for row in rows]


def bands_of(path):
    heading, *rows = csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig"), newline=""))
    return [same(row[0]) if heading[0] == "band" else "" for row in rows]


def word_table(path):
    """The body rows of a document's one table: heading rows and band rows left out, told by their merged cells and marks."""
    (grid,) = Document(str(path)).tables
    rows = []
    for row in grid.rows:
        marked = row._tr.trPr is not None and row._tr.trPr.xpath("./w:tblHeader")
        cells = row.cells
        if marked or (len(cells) > 1 and len({id(cell._tc) for cell in cells}) == 1):
            continue
        rows.append([same(cell.text) for cell in cells])
    return rows


def slide_tables(path):
    """Each table of the slides by its name: its rows, band rows left out."""
    found = {}
    for slide in Presentation(str(path)).slides:
        for shape in slide.shapes:
            if shape.has_table:
                found[shape.name.removeprefix("table ")] = [
                    [same(cell.text) for cell in row.cells] for row in shape.table.rows
                ]
    return found


class _Cells(html.parser.HTMLParser):
    def __init__(self):
        super().__init__()
        self.rows, self.cell, self.numbers, self.id = [], None, [], None

    def handle_starttag(self, tag, attrs):
        if tag == "tr":
            self.rows.append([])
        if tag in {"td", "th"}:
            self.cell = ""
        self.id = dict(attrs).get("data-id", self.id) if tag == "span" else None

    def handle_data(self, data):
        if self.cell is not None:
            self.cell += data
        if self.id:
            self.numbers.append((self.id, data))
            self.id = None

    def handle_endtag(self, tag):
        if tag in {"td", "th"}:
            self.rows[-1].append(self.cell)
            self.cell = None


def html_table(path, columns):
    """The body rows of a page's table, and every figure of the page with its address."""
    reader = _Cells()
    reader.feed(path.read_text(encoding="utf-8"))
    body = [[same(cell) for cell in row] for row in reader.rows if len(row) == columns]
    return body[1:], reader.numbers


def latex_cells(text):
    """The body rows of a fragment: split at unescaped ampersands and freed of what TeX needs."""
    body = text.split(r"\midrule", 1)[1]
    body = body.split(r"\endhead", 1)[-1].split(r"\bottomrule", 1)[0]
    rows = []
    for line in body.strip().splitlines():
        assert line.rstrip().endswith(r"\\"), line
        cells = re.split(r"(?<!\\)&", line.rstrip().removesuffix(r"\\"))
        if len(cells) > 1:
            rows.append([same(unescaped(cell)) for cell in cells])
    return rows


def unescaped(cell):
    cell = re.sub(r"\\phantom\{[^}]*\}", "", cell)
    for written, read in (
        (r"\ensuremath{-}", "-"),
        (r"\ensuremath{<}", "<"),
        (r"\ensuremath{>}", ">"),
        (r"\ensuremath{\pm}", "±"),
        (r"\ensuremath{\geq}", "≥"),
        (r"\%", "%"),
        (r"\&", "&"),
        (r"\_", "_"),
        (r"\#", "#"),
        (r"\$", "$"),
        ("--", "–"),
        ("~", " "),
        ("''", '"'),
        (r"\quad{}", " "),
    ):
        cell = cell.replace(written, read)
    assert "\\" not in cell, cell
    return cell


def value_at(tree, address):
    """The value of comparison.json at an address; KeyError when it names none."""
    first, *rest = address.split(".")
    if first.startswith("findings"):
        clock = "operation" if first.endswith("operation") else "division"
        (held,) = [
            f for f in tree["findings"] if [f["measure"], f["window"], f["outcome"], f["clock"]] == [*rest[:3], clock]
        ]
        rest = rest[3:]
    elif first == "timing":
        (held,) = [t for t in tree["timing"] if t["event"] == rest[0] and t["at_months"] == int(rest[1])]
        rest = rest[2:]
    elif first == "means":
        (held,) = [m for m in tree["means"] if m["event"] == rest[0]]
        rest = rest[1:]
    elif first in {"followed_by_window", "curves"}:
        key = "window" if first == "followed_by_window" else "event"
        (held,) = [f for f in tree[first] if [f[key], f["cohort"]] == rest[:2]]
        rest = rest[2:]
    elif first in {"grafted", "advanced"}:
        held = tree["cohorts"][first]
    else:
        held = tree[first]
    for name in rest:
        if held is None:
            return None
        if isinstance(held, list):
            named = {str(each[0]): each[1] for each in held if isinstance(each, list)}
            named |= {
                each["kind"].replace(" ", "_"): each for each in held if isinstance(each, dict) and "kind" in each
            }
            named |= {each["id"]: each for each in held if isinstance(each, dict) and "id" in each}
            held = named[name] if name in named else held[int(name)]
        else:
            held = held[name]
    return held


SHARES = {"proportion", "followup_completeness", "confidence_level", "power", "tipping_share", "seen_share"}
DIFFERENCES = {"estimate", "low", "high", "could_find", "important_difference", "margin_bias", "margin_shift"}


def in_print(tree, address):
    """The value at an address in the unit of print: shares out of 100."""
    value, parts = value_at(tree, address), address.split(".")
    of_shares = parts[-1] in DIFFERENCES and (parts[0] == "timing" or _is_share(tree, parts))
    return 100 * value if value is not None and (parts[-1] in SHARES or of_shares) else value


def _is_share(tree, parts):
    """Whether an address is that of a finding about shares, which have events."""
    if not parts[0].startswith("findings"):
        return False
    return any(
        [f["measure"], f["outcome"]] == [parts[1], parts[3]] and "events" in f["grafted"] for f in tree["findings"]
    )


NUMBER = re.compile(r"[<+\-]?\d+(?:\.\d+)?")


def agrees(printed, value):
    """Tell whether a printed number is the value, rounded as far as it is printed."""
    text = same(printed)
    if text == "less than 1":
        return value < 0.5
    if isinstance(value, str):
        return text == value
    found = NUMBER.search(text)
    if found is None:
        return value is None or value == 0
    if value is None:
        return False
    number = found[0].lstrip("<+")
    if found[0].startswith("<"):
        return value < float(number)
    decimals = len(number.partition(".")[2])
    size = abs(value) if any(word in text for word in ("fewer", "more", "less", "in 100")) else value
    return abs(float(number) - size) <= 0.5000001 * 10**-decimals
