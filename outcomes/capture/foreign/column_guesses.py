"""Guess the target of each column of a table by its heading and its cells."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from outcomes.capture.date_text import ORDERS, read_date_text
from outcomes.capture.foreign.cell_values import shown
from outcomes.capture.foreign.headings import PERSON_NAME, RUNNING_NUMBER, HeadingReader, HeadingTarget
from outcomes.capture.foreign.layout import SheetLayout
from outcomes.capture.foreign.mapping import (
    AGE,
    BIRTH_DATE,
    DAYS_AFTER,
    DECIMAL_ACUITY,
    EVENT,
    LINK,
    PLAIN,
    SERIAL,
    SIZE,
    TWO_NUMBERS,
    UNMAPPED,
    ColumnRule,
    TableRule,
)
from outcomes.capture.foreign.sheet import ForeignSheet
from outcomes.capture.foreign.visit_labels import BEFORE_OPERATION
from outcomes.capture.identifiers import refused_shape
from outcomes.capture.raw_sheets import Cell, is_blank
from outcomes.errors import column_letters
from outcomes.protocol import Field, Protocol

_CODES = {"case_id", "patient_id"}
_CODE = re.compile(r"[A-Za-z]{0,6}[-_ /]?\d{1,5}[A-Za-z]?")
_WORDS_SHOWN = 4


@dataclass(frozen=True)
class ColumnGuess:
    """The rule that was guessed for a column, what its cells hold, and why it should be checked."""

    rule: ColumnRule
    evidence: str
    doubt: str = ""


class ColumnGuesser:
    """Guesses the columns of one table."""

    def __init__(
        self, sheet: ForeignSheet, layout: SheetLayout, reader: HeadingReader, protocol: Protocol, as_of: date
    ) -> None:
        """Keep the table and what its headings are read by."""
        self.sheet, self.layout, self.reader, self.protocol, self.as_of = sheet, layout, reader, protocol, as_of
        self.fields: dict[str, Field] = {each.id: each for each in protocol.fields}

    def guess(self) -> list[ColumnGuess]:
        """Every column that has a heading or a cell, each with its target or unmapped."""
        found = []
        for column, heading in enumerate(self.layout.headings):
            cells = self._cells(column)
            if cells or heading:
                target = self._by_cells(self.reader.read(heading), heading, cells)
                found.append((column + 1, heading, target, cells))
        targets = _with_visits_carried([target for _, _, target, _ in found], self.fields)
        targets = self._with_running_number(targets, [cells for *_, cells in found])
        targets = _with_codes(targets, [cells for *_, cells in found])
        targets = _with_event_dates(targets, self.fields)
        targets = _without_dateless(targets, self.fields)
        guesses = []
        taken: dict[tuple[str, str, str], int] = {}
        for (column, heading, _, cells), target in zip(found, targets, strict=True):
            guesses.append(self._guess(column, heading, target, cells, taken))
        return guesses

    def _cells(self, column: int) -> list[Cell]:
        first, last = self.layout.rows
        return [
            cell
            for row in range(first, last + 1)
            if row not in self.layout.skip and not is_blank(cell := self.sheet.cell(row - 1, column))
        ]

    def _guess(
        self,
        column: int,
        heading: str,
        target: HeadingTarget,
        cells: list[Cell],
        taken: dict[tuple[str, str, str], int],
    ) -> ColumnGuess:
        place = target.to, target.visit, target.eye
        if not target.to:
            why = "its heading names no field" if heading else "it has no heading"
            target = HeadingTarget(UNMAPPED, doubt=why if cells else "")
        elif target.to not in {UNMAPPED, LINK} and place in taken:
            other = column_letters(taken[place])
            target = HeadingTarget(UNMAPPED, doubt=f"column {other} is {target.to} already")
        else:
            taken.setdefault(place, column)
        rule = ColumnRule(column, heading, target.to, target.visit, target.eye, target.read)
        return ColumnGuess(rule, _evidence(cells, private=_is_private(rule, cells) or target.kind != ""), target.doubt)

    def _by_cells(self, target: HeadingTarget, heading: str, cells: list[Cell]) -> HeadingTarget:
        """The target corrected by what the cells hold."""
        if not cells:
            return target
        field = self.fields.get(target.to)
        dates = sum(self._is_date(cell) for cell in cells) * 2 > len(cells)
        changed = self._by_dates(target, field, cells, dates=dates)
        if changed is not target:
            return changed
        if SIZE in target.to and not any(TWO_NUMBERS.fullmatch(shown(cell)) for cell in cells):
            return replace(target, to=target.to.partition(SIZE)[0], doubt="one number, taken as the width")
        if field is not None and field.kind == "acuity":
            return _acuity_target(target, heading, cells)
        return _code_target(target, cells) if target.to in _CODES else self._before_operation(target, field)

    def _by_dates(self, target: HeadingTarget, field: Field | None, cells: list[Cell], *, dates: bool) -> HeadingTarget:
        """The target corrected by whether most cells are dates."""
        if target.to == "birth_year":
            return replace(target, read=_birth_read(target, cells, dates=dates))
        if target.to.startswith(EVENT) and not dates:
            return HeadingTarget(UNMAPPED, doubt="an event needs its date, and these are none")
        if not target.to and target.visit and dates:
            return replace(target, to="reviewed_on")
        if dates and field is not None and field.kind in {"grade", "choice", "code"} and target.to not in _CODES:
            return self._event_of(target)
        if field is not None and field.kind == "date" and target.read != DAYS_AFTER and not dates:
            serials = all(isinstance(cell, int | float) or shown(cell).isdigit() for cell in cells)
            return replace(target, read=SERIAL, doubt="spreadsheet serial numbers" if serials else target.doubt)
        return target

    def _is_date(self, cell: Cell) -> bool:
        if isinstance(cell, date):
            return True
        if not isinstance(cell, str):
            return False
        return any(read_date_text(cell, order, latest=self.as_of).day for order in ("", *ORDERS))

    def _event_of(self, target: HeadingTarget) -> HeadingTarget:
        """A column of dates under the name of a field that holds none: the dates of that kind of event, if there is one."""
        kind = self.protocol.field("events", "kind")
        name = target.to.removesuffix("_kind")
        if name in kind.allowed:
            return HeadingTarget(EVENT + name, doubt="dates, so taken as the dates of that event")
        return HeadingTarget(UNMAPPED, doubt=f"dates, which {target.to} does not hold")

    def _before_operation(self, target: HeadingTarget, field: Field | None) -> HeadingTarget:
        if target.visit == BEFORE_OPERATION and field is not None:
            if field.sheet == "reviews":
                return HeadingTarget(UNMAPPED, doubt="measured before the operation; only reviews after it are kept")
            return replace(target, visit="")
        return target

    def _with_running_number(
        self, targets: list[HeadingTarget], cells: Sequence[Sequence[Cell]]
    ) -> list[HeadingTarget]:
        """A running number is the code of the case where no other column is; else it is left out."""
        has_case = any(target.to == "case_id" for target in targets)
        result = []
        for target, column in zip(targets, cells, strict=True):
            if target.kind != RUNNING_NUMBER or target.to:
                result.append(target)
            elif has_case or not column:
                result.append(HeadingTarget(UNMAPPED, doubt="a running number; the cases have a code"))
            else:
                has_case = True
                result.append(HeadingTarget("case_id", doubt="a running number, taken as the code of the case"))
        return result


def _with_visits_carried(targets: list[HeadingTarget], fields: dict[str, Field]) -> list[HeadingTarget]:
    """Give a review's column without a visit the visit of the columns before it, where the same target comes again."""
    counts = Counter(
        target.to
        for target in targets
        if target.to in fields and fields[target.to].sheet == "reviews" and target.to not in _CODES
    )
    visits = {target.visit for target in targets if target.visit}
    result = []
    current = ""
    for target in targets:
        current = target.visit or current
        again = counts[target.to] > 1 and bool(visits)
        if again and not target.visit and current and current != BEFORE_OPERATION:
            result.append(replace(target, visit=current, doubt=f"taken to be of {current}, as the columns before it"))
        else:
            result.append(target)
    return result


def _with_event_dates(targets: list[HeadingTarget], fields: dict[str, Field]) -> list[HeadingTarget]:
    """In a table of events the date is the event's."""
    names = {target.to for target in targets}
    observed = any(name in fields and fields[name].observed for name in names)
    if "kind" not in names or "happened_on" in names or observed:
        return targets
    return [replace(target, to="happened_on") if target.to == "reviewed_on" else target for target in targets]


def _with_codes(targets: list[HeadingTarget], cells: Sequence[Sequence[Cell]]) -> list[HeadingTarget]:
    """Where no column holds codes, the first unknown one whose cells are all different and look like codes does."""
    if any(target.to in _CODES for target in targets):
        return targets
    for place, (target, column) in enumerate(zip(targets, cells, strict=True)):
        codes = {shown(cell) for cell in column}
        if not target.to and len(codes) == len(column) > 1 and all(_CODE.fullmatch(code) for code in codes):
            doubt = "all different, so taken as the code of the case"
            return [*targets[:place], HeadingTarget("case_id", doubt=doubt), *targets[place + 1 :]]
    return targets


def _without_dateless(targets: list[HeadingTarget], fields: dict[str, Field]) -> list[HeadingTarget]:
    """What belongs to a review or an event of which nothing says when it was is unmapped."""
    names = {(target.to, target.visit) for target in targets}
    result = []
    for target in targets:
        sheet = fields[target.to].sheet if target.to in fields and target.to not in _CODES else ""
        if sheet == "reviews" and not target.visit and ("reviewed_on", "") not in names:
            target = HeadingTarget(UNMAPPED, doubt="no date of a review goes with it, nor a visit")  # noqa: PLW2901
        elif sheet == "events" and ("happened_on", target.visit) not in names:
            target = HeadingTarget(UNMAPPED, doubt="no date of the event goes with it")  # noqa: PLW2901
        result.append(target)
    return result


def _birth_read(target: HeadingTarget, cells: Sequence[Cell], *, dates: bool) -> str:
    if dates:
        return BIRTH_DATE
    numbers = [float(shown(cell)) for cell in cells if re.fullmatch(r"\d+", shown(cell))]
    if numbers and all(number < 130 for number in numbers):
        return AGE
    return BIRTH_DATE if numbers and all(number > 2200 for number in numbers) else PLAIN if numbers else target.read


def _acuity_target(target: HeadingTarget, heading: str, cells: Sequence[Cell]) -> HeadingTarget:
    """A number may be logMAR or decimal acuity, which run opposite ways: only the heading can tell."""
    numbers = sum(bool(re.fullmatch(r"-?\d*[.,]?\d+", shown(cell))) for cell in cells)
    if not numbers or "logmar" in heading.casefold():
        return replace(target, read=PLAIN, doubt="")
    decimal = any(word in heading.casefold() for word in ("visus", "decimal", "dezimal", "sehschärfe"))
    said = "decimal acuity (1.0 is full)" if decimal else "logMAR (0.0 is full)"
    return replace(target, read=DECIMAL_ACUITY if decimal else PLAIN, doubt=f"{numbers} numbers are taken as {said}")


def _code_target(target: HeadingTarget, cells: Sequence[Cell]) -> HeadingTarget:
    """Names and hospital numbers are no codes: the numbers go to the link file, the names nowhere."""
    codes = [shown(cell) for cell in cells]
    numbers = sum(len(code) >= 6 and code.isdigit() for code in codes)
    shapes = Counter(shape for code in codes if (shape := refused_shape("patient_id", code)))
    if numbers * 2 > len(codes) or shapes["a hospital or telephone number"] * 2 > len(codes):
        return HeadingTarget(LINK, doubt="looks like hospital numbers, which are no study codes")
    if sum(shapes.values()) * 2 > len(codes):
        return HeadingTarget(UNMAPPED, doubt=f"looks like {shapes.most_common(1)[0][0]}; never kept", kind=PERSON_NAME)
    return target


def evidence_of(sheet: ForeignSheet, table: TableRule, rule: ColumnRule) -> str:
    """What the cells of a column hold, without a word of those that may say who somebody is."""
    rows = (row for row in range(table.rows[0], table.rows[1] + 1) if row not in table.skip)
    cells = [cell for row in rows if not is_blank(cell := sheet.cell(row - 1, rule.column - 1))]
    return _evidence(cells, private=_is_private(rule, cells))


def _is_private(rule: ColumnRule, cells: Sequence[Cell]) -> bool:
    return rule.to in {LINK, *_CODES} or (rule.to == UNMAPPED and not _is_category(cells))


def _is_category(cells: Sequence[Cell]) -> bool:
    """Tell whether few words are used many times, as no names or remarks are."""
    return len({shown(cell) for cell in cells}) * 3 <= len(cells)


def _evidence(cells: Sequence[Cell], *, private: bool) -> str:
    """What the cells hold, without a word of those that may say who somebody is."""
    if not cells:
        return "empty"
    count = f"{len(cells)} cells"
    if private:
        return count
    numbers = [float(cell) for cell in cells if isinstance(cell, int | float) and not isinstance(cell, bool)]
    days = [cell for cell in cells if isinstance(cell, date)]
    if len(numbers) == len(cells):
        return f"{count}: numbers {min(numbers):g} to {max(numbers):g}"
    if len(days) == len(cells):
        return f"{count}: dates {min(map(str, days))[:10]} to {max(map(str, days))[:10]}"
    words = Counter(shown(cell)[:20] for cell in cells).most_common()
    listed = ", ".join(word for word, _ in words[:_WORDS_SHOWN])
    return f"{count}: {listed}" + (f" and {len(words) - _WORDS_SHOWN} more" if len(words) > _WORDS_SHOWN else "")
