"""The catalogue of SQL questions that come with the program, and their settings.

A question is one file in `queries/questions`. Its first line is the question; then one line `Grain:`, lines
`Set: name (kind, default): what it is`, and `Gives:` with the columns and their units.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from datetime import date

from outcomes.errors import WrongUsage
from outcomes.store.sql import statement, statements_in

_SETTING = re.compile(r"(\w+) \((text|number|date), ?([^)]*)\): (.+)")
Given = str | float | date


@dataclass(frozen=True)
class Setting:
    """What can be set in a question. `default` is text as it would be typed; empty means that it must be given."""

    name: str
    kind: str
    default: str
    says: str

    def read(self, typed: str) -> Given:
        """The value as typed; raises WrongUsage when it is not of its kind."""
        try:
            if self.kind == "number":
                return float(typed)
            return date.fromisoformat(typed) if self.kind == "date" else typed
        except ValueError:
            remedy = "type it as 2024-03-05" if self.kind == "date" else "type a number such as 12 or 0.5"
            raise WrongUsage(f'{self.name} "{typed}" is no {self.kind}; {remedy}') from None


@dataclass(frozen=True)
class Question:
    """A question that comes with the program."""

    name: str
    asks: str
    grain: str
    gives: str
    settings: tuple[Setting, ...]
    sql: str

    def given(self, typed: dict[str, str], *, as_of: date) -> dict[str, Given]:
        """Every setting with its value: as typed, else its default; `today` is the as-of day. Raises WrongUsage."""
        known = [setting.name for setting in self.settings]
        for name in typed:
            if name not in known:
                raise WrongUsage(f'{self.name} has no setting "{name}"; it has: {", ".join(known) or "none"}')
        return {each.name: self._value(each, typed.get(each.name, each.default), as_of) for each in self.settings}

    def _value(self, setting: Setting, typed: str, as_of: date) -> Given:
        if not typed:
            raise WrongUsage(f"{self.name} needs --set {setting.name}=…: {setting.says}")
        return as_of if (setting.kind, typed) == ("date", "today") else setting.read(typed)


def questions() -> tuple[Question, ...]:
    """Every question that comes with the program, by name."""
    return tuple(_read(name.removeprefix("questions/")) for name in statements_in("questions"))


def question(name: str) -> Question:
    """The question of that name; raises WrongUsage when there is none."""
    known = [each.removeprefix("questions/") for each in statements_in("questions")]
    if name not in known:
        near = difflib.get_close_matches(name, known, n=1)
        hint = f'did you mean "{near[0]}"?' if near else "`outcomes ask --list` shows them"
        raise WrongUsage(f'there is no question "{name}"; {hint}')
    return _read(name)


def _read(name: str) -> Question:
    sql = statement(f"questions/{name}")
    asks, *lines = [line.removeprefix("-- ") for line in sql.splitlines() if line.startswith("-- ")]
    said = [tuple(line.split(": ", 1)) for line in lines]
    parts = {key: rest for key, rest in said if key != "Set"}
    settings = tuple(_setting(name, rest) for key, rest in said if key == "Set")
    return Question(name, asks, parts["Grain"], parts["Gives"], settings, sql)


def _setting(name: str, line: str) -> Setting:
    match = _SETTING.fullmatch(line)
    if match is None:
        raise ValueError(f"questions/{name}: {line}")
    return Setting(*match.groups())


def guessed(typed: str) -> Given:
    """What is typed for a setting of the user's own SQL: a number or a date where it reads as one, else text."""
    for read in (float, date.fromisoformat):
        try:
            return read(typed)
        except ValueError:
            continue
    return typed
