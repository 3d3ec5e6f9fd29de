"""Damaged inputs in large numbers, looked through for an end that is neither rows nor a refusal.

Run: python tests/capture/fuzz.py [HOW MANY] [SEED]. Each turn damages a good workbook or folder of tables in one of
several ways and loads it. Anything but rows, or a refusal in sentences, is printed with the seed of its turn.
"""

from __future__ import annotations

import io
import random
import sys
import tempfile
import time
import traceback
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from outcomes.capture import CheckedRows, HeldRows, check_sheets, digest_of, read_sheets
from outcomes.errors import OutcomesError
from outcomes.protocol import default_protocol
from tests.capture.clinic import AS_OF, clinic, write_folder, write_workbook

Parts = dict[str, bytes]

# What tends to break a reader: signs of the formats themselves, extremes, and other scripts.
SCRAPS = (
    b"", b" ", b"\0", b"\n", b"\r", b'"', b'""', b",", b";", b"\t", b"=", b"=1+1", b"#N/A", b"-", b"nan", b"inf", b"1e999",
    b"-1", b"0", b"2147483648", b"9" * 400, b"x" * 40_000, b"2024-02-30", b"0000-00-00", b"9999-12-31", b"5.3.2024", b"6/0",
    b"0/6", b"</v>", b"<v>", b"<f></f>", b't="e"', b't="b"', b't="d"', b't="str"', b't="inlineStr"', b'r="XFD1048576"',
    b'r="A0"', b'r="ZZZZ9"', b's="999"', b"<!DOCTYPE a>", b"&a;", b"&#0;", b"\xff\xfe", b"\xef\xbb\xbf", b"\xc3\x28", b"\xf0\x9f\x91\x81",
    "\u0661\u0662".encode(), "\u202e".encode(), "\u200b".encode(), b"<mergeCell ref='A1:B2'/>", b"<row r='1048577'>", b"]]>",
)  # fmt: skip


def good() -> tuple[Parts, Parts]:
    """The parts of a good workbook, and the tables of a good folder."""
    with tempfile.TemporaryDirectory() as place:
        book = write_workbook(Path(place) / "clinic.xlsx", clinic())
        folder = write_folder(Path(place) / "tables", clinic(), separator=";")
        with zipfile.ZipFile(book) as package:
            parts = {name: package.read(name) for name in package.namelist()}
        return parts, {table.name: table.read_bytes() for table in sorted(folder.iterdir())}


def packed(parts: Parts) -> bytes:
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as package:
        for name, part in parts.items():
            package.writestr(name, part)
    return content.getvalue()


def damaged(content: bytes, chance: random.Random) -> bytes:
    """One to four damages: a byte changed, a scrap put in or over, a stretch taken out, doubled or cut off."""
    spoilt = bytearray(content)
    for _ in range(chance.randint(1, 4)):
        place = chance.randrange(len(spoilt) + 1)
        end = min(len(spoilt), place + chance.choice((1, 2, 5, 20, 200)))
        kind = chance.randrange(6)
        if kind == 0 and spoilt:
            spoilt[place % len(spoilt)] ^= 1 << chance.randrange(8)
        elif kind == 1:
            spoilt[place:place] = chance.choice(SCRAPS)
        elif kind == 2:
            spoilt[place:end] = chance.choice(SCRAPS)
        elif kind == 3:
            del spoilt[place:end]
        elif kind == 4:
            spoilt[place:place] = spoilt[place:end] * chance.choice((1, 2, 50))
        elif chance.random() < 0.2:
            del spoilt[place:]
    return bytes(spoilt)


def damaged_file(chance: random.Random, place: Path, parts: Parts, tables: Parts) -> Path:
    """Write one damaged input to `place`: the workbook's bytes, one of its parts, a table, or plain noise."""
    kind = chance.random()
    path = place / "clinic.xlsx"
    if kind < 0.25:
        path.write_bytes(damaged(packed(parts), chance))
    elif kind < 0.65:
        name = chance.choice([part for part in parts if "sheet" in part] * 3 + list(parts))
        path.write_bytes(packed({**parts, name: damaged(parts[name], chance)}))
    elif kind < 0.7:
        path.write_bytes(
            chance.choice((b"", b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"))
            + chance.randbytes(chance.randrange(3000))
        )
    else:
        name = chance.choice(list(tables))
        for table, content in tables.items():
            (place / table).write_bytes(damaged(content, chance) if table == name else content)
        return place
    return path


def outcome_of(path: Path) -> str:
    """Load a path and say how it ended; anything but rows, problems or a refusal is raised."""
    try:
        checked = check_sheets(read_sheets(path, default_protocol()), default_protocol(), as_of=AS_OF, held=HeldRows())
        assert len(digest_of(path)) == 64
    except OutcomesError as refusal:
        refused = refusal
    else:
        return judged(checked)
    assert str(refused)
    return "refused as a whole"


def judged(checked: CheckedRows) -> str:
    """Say how checking ended; a refusal has its words, and no rows beside it."""
    for problem in checked.problems:
        assert problem.what
        assert len(str(problem)) < 1000
    assert not (checked.problems and checked.rows)
    return "refused by row" if checked.problems else "taken"


def turn(seed: str, parts: Parts, tables: Parts, act: Callable[[Path], str] = outcome_of) -> str:
    with tempfile.TemporaryDirectory() as place:
        return act(damaged_file(random.Random(seed), Path(place), parts, tables))


def main(turns: int, seed: int) -> int:
    parts, tables = good()
    ends: Counter[str] = Counter()
    slowest, started = 0.0, time.monotonic()
    for number in range(turns):
        began = time.monotonic()
        try:
            ends[turn(f"{seed}:{number}", parts, tables)] += 1
        except BaseException as error:
            if isinstance(error, KeyboardInterrupt):
                raise
            ends["FAILED"] += 1
            print(f"turn {seed}:{number}: {''.join(traceback.format_exception(error)[-3:])}")
        slowest = max(slowest, time.monotonic() - began)
    print(f"{turns} turns in {time.monotonic() - started:.0f} s, slowest {slowest:.2f} s:", dict(ends))
    return 1 if ends["FAILED"] else 0


if __name__ == "__main__":
    given = [int(number) for number in sys.argv[1:]]
    sys.exit(main(*given, *(1000, 1)[len(given) :]))
