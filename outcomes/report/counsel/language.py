"""Languages of the sheet: words, plurals, dates and decimal marks, read from one file each.

A language is one file. A clinic's own file is checked against the English one: the same keys, the same gaps, and no
digit of its own in any sentence, since numbers come from the figures only.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from outcomes.errors import DataRefused, Problem, WrongUsage
from outcomes.report.traced_text import Figure, Phrase, Piece, say

LANGUAGES = Path(__file__).with_name("languages")
ENGLISH = "en"
OPEN_TABLES = ("outcomes", "sections", "windows", "names", "ranges", "likeness", "published")
FRACTIONS = (
    (0.0, "nothing"),
    (1 / 10, "tenth"),
    (1 / 5, "fifth"),
    (1 / 4, "quarter"),
    (1 / 3, "third"),
    (2 / 5, "two_fifths"),
    (1 / 2, "half"),
    (3 / 5, "three_fifths"),
    (2 / 3, "two_thirds"),
    (3 / 4, "three_quarters"),
    (4 / 5, "four_fifths"),
    (9 / 10, "nine_tenths"),
    (1.0, "whole"),
)
_GAP = re.compile(r"\{(\w+)\}")
Tree = dict[str, Any]


@dataclass(frozen=True)
class Language:
    """The words of one language. `code` is that of the page, such as `en-GB`."""

    code: str
    tree: Tree

    def say(self, key: str, **pieces: Piece | Phrase) -> Phrase:
        """Say the sentence of that key, `table.name`, with its gaps filled; a gap that is not filled is a KeyError."""
        table, name = key.split(".")
        return filled(self.tree[table][name], pieces)

    def named(self, table: str, name: str, other: str, **pieces: Piece | Phrase) -> Phrase:
        """Say what the protocol calls so in the words of the language, or else in `other` words."""
        return self.say(f"{table}.{name}", **pieces) if self.has(f"{table}.{name}") else (other,)

    def counted(self, noun: str, figure: Figure) -> Phrase:
        """Say a number of things in the form that the number takes."""
        forms = self.tree["plural"][noun]
        return filled(forms["one" if int(figure.text) in self.tree["singular"] else "other"], {"number": figure})

    def has(self, key: str) -> bool:
        """Tell whether the language has words of its own for this key."""
        table, name = key.split(".")
        return name in self.tree[table]

    def day(self, day: date) -> str:
        """Say a date with the month as a word."""
        month = self.tree["months"][day.month - 1]
        return str(self.tree["date"].format(day=day.day, month=month, year=day.year))

    def year(self, day: date) -> str:
        """Say only the year of a date."""
        return str(day.year)

    def fraction(self, share: float) -> str:
        """Say a share as the nearest fraction in words, such as a third."""
        return str(self.tree["fractions"][min(FRACTIONS, key=lambda each: abs(each[0] - share))[1]])

    def decimal(self, value: float) -> str:
        """Say a number with at most one decimal, and the decimal mark of the language."""
        text = f"{value:.1f}".removesuffix(".0").replace("-", "\u2212")
        return text.replace(".", self.tree["decimal_mark"])


def filled(words: str, pieces: dict[str, Any]) -> Phrase:
    """Put figures and phrases in the named gaps of a sentence."""
    return say(_GAP.sub("{}", words), *(pieces[name] for name in _GAP.findall(words)))


def shipped() -> tuple[str, ...]:
    """The languages that the program carries."""
    return tuple(sorted(path.stem for path in LANGUAGES.glob("*.toml")))


def read_language(name: str) -> Language:
    """Read a language that the program carries, or a file of one's own.

    Raises WrongUsage when there is none of that name, DataRefused with every fault of a file.
    """
    if name in shipped():
        return _language(LANGUAGES / f"{name}.toml")
    path = Path(name)
    if path.suffix != ".toml" or not path.is_file():
        known = ", ".join(shipped())
        raise WrongUsage(f'--language "{name}" is not known; known: {known}, or the path of a language file (.toml)')
    return _language(path)


def _language(path: Path) -> Language:
    tree, english = _tree(path), _tree(LANGUAGES / f"{ENGLISH}.toml")
    faults = [Problem(path.name, 0, key, what) for key, what in _faults(tree, english)]
    if faults:
        raise DataRefused(f"the language file {path.name} was refused", faults)
    return Language(str(tree["language"]), tree)


def _tree(path: Path) -> Tree:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise DataRefused(f"the language file {path.name} cannot be read: {error}", []) from error


def _faults(tree: Tree, english: Tree) -> Iterator[tuple[str, str]]:
    words, wanted = dict(_words(tree)), dict(_words(english))
    for key, sentence in wanted.items():
        if key not in words:
            if key.partition(".")[0] not in OPEN_TABLES:
                yield key, "is missing"
        elif set(_GAP.findall(words[key])) != set(_GAP.findall(sentence)):
            yield key, "must have the gaps " + (", ".join(sorted(set(_GAP.findall(sentence)))) or "of none")
    for key, sentence in words.items():
        if re.search(r"\d", sentence.replace("100", "")):
            yield key, "may hold no digits but 100; numbers come from the figures"
    if not isinstance(tree.get("months"), list) or len(tree["months"]) != len(english["months"]):
        yield "months", "must be the twelve names of the months"
    if not isinstance(tree.get("singular"), list):
        yield "singular", "must be a list of the numbers that take the form one"


def _words(tree: Tree, above: str = "") -> Iterator[tuple[str, str]]:
    """Every text of the file with its dotted key."""
    for name, part in tree.items():
        if isinstance(part, dict):
            yield from _words(part, f"{above}{name}.")
        elif isinstance(part, str):
            yield f"{above}{name}", part
