"""Apply a mapping to foreign sheets: rows of patients, cases, reviews and events, each value with its source cells."""

from __future__ import annotations

from collections.abc import Mapping as MappingOf
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from outcomes.capture.foreign.account import (
    NO_CODE,
    NOT_RECORDED,
    UNMAPPED_CELL,
    SourceCell,
    account_for_the_rest,
)
from outcomes.capture.foreign.cell_values import CellReader, CellValue, shown
from outcomes.capture.foreign.codes import CodeFinder
from outcomes.capture.foreign.context import Assembly, Key, LoadContext
from outcomes.capture.foreign.mapping import (
    AGE,
    DAYS_AFTER,
    EVENT,
    LINK,
    SIZE,
    TWO_NUMBERS,
    UNMAPPED,
    ColumnRule,
    Mapping,
    TableRule,
)
from outcomes.capture.foreign.review_days import review_day
from outcomes.capture.foreign.sheet import ForeignSheet
from outcomes.capture.raw_sheets import Cell, is_blank
from outcomes.protocol import Field, Raw

FELLOW = "fellow_"
PRECISION, MONTH = "date_precision", "month"


@dataclass(frozen=True)
class _TableRow:
    """One row of a table: its number, and the codes of its patient and case where they are known."""

    table: TableRule
    number: int
    patient: str
    case: str
    cells: MappingOf[ColumnRule, Cell]


def assemble(sheets: Sequence[ForeignSheet], mapping: Mapping, context: LoadContext) -> Assembly:
    """Every row that the sheets hold by the mapping, not yet checked, and what became of each cell so far."""
    return _Assembler(sheets, mapping, context).assemble()


class _Assembler:
    def __init__(self, sheets: Sequence[ForeignSheet], mapping: Mapping, context: LoadContext) -> None:
        self.sheets = {sheet.name: sheet for sheet in sheets}
        self.mapping, self.codes = (
            mapping,
            CodeFinder(mapping, context.links, context.held.values.get("reconstructions", {})),
        )
        self.fields: dict[str, Field] = {each.id: each for each in context.protocol.fields}
        self.readers = {
            sheet.name: CellReader(mapping, context.as_of, decimal_comma=sheet.form.decimal_comma) for sheet in sheets
        }
        self.held = context.held.values.get("reconstructions", {})
        self.result = Assembly()
        self.result.account.filled = {
            SourceCell(sheet.name, row + 1, column + 1) for sheet in sheets for row, column in sheet.filled
        }

    def assemble(self) -> Assembly:
        rows = [row for table in self.mapping.tables for row in self._rows(table)]
        for row in rows:
            self._place_codes(row)
        for sheets in (("patients", "reconstructions"), ("reviews", "events")):
            later = [row for row in rows if not self._place_fields(row, sheets, again=sheets[0] == "patients")]
            for row in later:
                self._place_fields(row, sheets, again=False)
        account_for_the_rest(self.result.account, tuple(self.sheets.values()), self.mapping)
        self.result.numbers = self.codes.numbers
        return self.result

    # ------------------------------------------------------------------ rows and codes

    def _rows(self, table: TableRule) -> list[_TableRow]:
        sheet = self.sheets[table.sheet]
        rows = []
        before = ("", "")
        for number in range(table.rows[0], table.rows[1] + 1):
            if number in table.skip:
                continue
            cells = {rule: sheet.cell(number - 1, rule.column - 1) for rule in table.columns}
            if all(is_blank(cell) for cell in cells.values()):
                continue
            found = self.codes.find(
                {rule.to: shown(cell) for rule, cell in cells.items() if not is_blank(cell)}, self._side(table, cells)
            )
            before = found if any(found) or not table.codes_continue else before
            rows.append(
                _TableRow(table, number, *before, cells)
                if table.codes_continue
                else _TableRow(table, number, *found, cells)
            )
        return rows

    def _side(self, table: TableRule, cells: MappingOf[ColumnRule, Cell]) -> str:
        for rule, cell in cells.items():
            if rule.to == "side" and not is_blank(cell):
                value = self.readers[table.sheet].read(self.fields["side"], cell, rule)
                return str(value.value or "").casefold()
        return ""

    def _place_codes(self, row: _TableRow) -> None:
        case, patient = self.codes.settled(row.case, row.patient)
        if patient:
            self.result.rows["patients"].setdefault((patient,), {"patient_id": patient})
        if case:
            values = self.result.rows["reconstructions"].setdefault((case,), {"case_id": case})
            values.setdefault("patient_id", patient)
        for rule, cell in row.cells.items():
            source = SourceCell(row.table.sheet, row.number, rule.column)
            if is_blank(cell):
                continue
            if rule.to == LINK:
                self.result.account.pass_over(source, UNMAPPED_CELL)
            elif rule.to == "case_id" and case:
                self.result.account.store(source, ("reconstructions", (case,), "case_id"))
            elif rule.to == "patient_id" and patient:
                self.result.account.store(source, ("patients", (patient,), "patient_id"))

    # ------------------------------------------------------------------ values

    def _place_fields(self, row: _TableRow, sheets: tuple[str, str], *, again: bool) -> bool:
        """Place the row's cells that go to these sheets; False when some wait for the side or the day of operation."""
        done = True
        reviews: dict[str, list[tuple[ColumnRule, Cell]]] = {}
        for rule, cell in row.cells.items():
            source = SourceCell(row.table.sheet, row.number, rule.column)
            if is_blank(cell) or rule.to in {UNMAPPED, LINK, "case_id", "patient_id"}:
                continue
            sheet = "events" if rule.to.startswith(EVENT) else self.fields[rule.to.partition(SIZE)[0]].sheet
            if sheet not in sheets or source in self.result.account.outcomes:
                continue
            if sheet in {"reviews", "events"}:
                name = (
                    EVENT
                    if sheet == "events" and not rule.to.startswith(EVENT)
                    else rule.to
                    if sheet == "events"
                    else rule.visit
                )
                reviews.setdefault(f"{sheet} {name}", []).append((rule, cell))
            elif again and self._waits(row, rule):
                done = False
            else:
                self._place_baseline(row, rule, cell, sheet)
        for name, cells in reviews.items():
            sheet, _, visit = name.partition(" ")
            if sheet == "reviews":
                self._place_review(row, visit, cells)
            else:
                self._place_event(row, cells)
        return done

    def _waits(self, row: _TableRow, rule: ColumnRule) -> bool:
        found = self._case_of(row)
        case = found[1] if found else {}
        return (bool(rule.eye) and not case.get("side")) or (
            rule.read in {AGE, DAYS_AFTER} and not isinstance(case.get("operated_on"), date)
        )

    def _case_of(self, row: _TableRow) -> tuple[Key, dict[str, Raw]] | None:
        case = self.codes.settled(row.case, row.patient)[0]
        values = self.result.rows["reconstructions"].get((case,))
        return ((case,), {**self.held.get((case,), {}), **values}) if values is not None else None

    def _place_baseline(self, row: _TableRow, rule: ColumnRule, cell: Cell, sheet: str) -> None:
        source = SourceCell(row.table.sheet, row.number, rule.column)
        case = self._case_of(row)
        patient = self.codes.settled(row.case, row.patient)[1]
        key = (patient,) if sheet == "patients" else case[0] if case else ("",)
        if not key[0]:
            self.result.account.refuse(source, "", NO_CODE)
            return
        names = rule.to.split(SIZE)
        found = TWO_NUMBERS.fullmatch(shown(cell)) if len(names) > 1 else None
        parts: list[Cell] = list(found.groups()) if found else [cell]  # one number alone is the first of two fields
        operated = case[1].get("operated_on") if case else None
        for name, part in zip(names, parts, strict=False):
            chosen = self._chosen(name, rule.eye, case[1] if case else {})
            if not chosen:
                self._pass_other_eye(source, rule, case[1] if case else {})
                continue
            value = self.readers[source.sheet].read(
                self.fields[chosen], part, rule, operated if isinstance(operated, date) else None
            )
            self._put(source, rule, (sheet, key, chosen), value)

    def _chosen(self, name: str, eye: str, case: MappingOf[str, Raw]) -> str:
        """The field of the operated or of the fellow lid, by the side of the case; an empty text where there is none."""
        if not eye:
            return name
        side = str(case.get("side") or "").casefold()
        if side not in {"right", "left"}:
            return ""
        base = name.removeprefix(FELLOW)
        chosen = base if side == eye else FELLOW + base
        return chosen if chosen in self.fields else ""

    def _pass_other_eye(self, source: SourceCell, rule: ColumnRule, case: MappingOf[str, Raw]) -> None:
        """The eye of a case for which there is no field stays unmapped; without a side neither eye can be chosen."""
        if case.get("side"):
            self.result.account.pass_over(source, UNMAPPED_CELL)
        else:
            self._refuse(source, rule, "the side of the case is not known, so neither eye can be chosen")

    def _put(self, source: SourceCell, rule: ColumnRule, target: tuple[str, Key, str], value: CellValue) -> None:
        """Put one value into its row; the same value again is stored too, another one is refused."""
        sheet, key, name = target
        if value.problem or (value.month_only and name != "reviewed_on"):
            self._refuse(source, rule, value.problem or "is only a month; this date must be known by its day")
            self.result.account.note_refusal(target)
            return
        if value.value is None:
            self.result.account.pass_over(source, NOT_RECORDED)
            return
        values = self.result.rows[sheet].setdefault(key, {})
        held = values.setdefault(name, value.value)
        if str(held) != str(value.value):
            first = self.result.account.sources.get(target, [source])[0]
            self._refuse(
                source,
                rule,
                f'"{value.value}": row {first.row} says "{held}" of the same',
                f"differs from another row of the same {sheet[:-1]}",
            )
            self.result.account.note_refusal(target)
            return
        self.result.account.store(source, target)

    def _refuse(self, source: SourceCell, rule: ColumnRule, what: str, general: str = "") -> None:
        self.result.account.refuse(source, rule.heading, what, general)

    # ------------------------------------------------------------------ reviews and events

    def _place_review(self, row: _TableRow, visit: str, cells: list[tuple[ColumnRule, Cell]]) -> None:
        case = self._case_of(row)
        sources = [(SourceCell(row.table.sheet, row.number, rule.column), rule, cell) for rule, cell in cells]
        if case is None:
            for source, *_ in sources:
                self.result.account.refuse(source, "", NO_CODE)
            return
        read = []
        for source, rule, cell in sources:
            name = self._chosen(rule.to, rule.eye, case[1])
            if not name:
                self._pass_other_eye(source, rule, case[1])
                continue
            read.append((source, rule, name, self.readers[source.sheet].read(self.fields[name], cell, rule)))
        dates = [each for each in read if each[2] == "reviewed_on"]
        found = review_day(
            visit, self.mapping.visits.get(visit), case[1].get("divided_on"), dates[0][3] if dates else None
        )
        day = found.day
        measured = [each for each in read if each[3].value is not None and each[2] != "reviewed_on"]
        if day is None or not (measured or dates):
            for source, rule, _, value in read:
                if value.problem or value.value is not None:
                    self._refuse(source, rule, value.problem or found.problem)
                else:
                    self.result.account.pass_over(source, NOT_RECORDED)
            return
        texts = {name: "" if value.value is None else str(value.value) for _, _, name, value in read}
        key = (case[0][0], day.isoformat(), texts.get("assessor", ""), texts.get("mode", ""))
        values = self.result.rows["reviews"].setdefault(key, {"case_id": case[0][0], "reviewed_on": day})
        if found.nominal and PRECISION in self.fields:
            values[PRECISION] = MONTH
        for source, rule, name, value in read:
            kept = CellValue(day) if name == "reviewed_on" and value.value is not None else value
            self._put(source, rule, ("reviews", key, name), kept)

    def _place_event(self, row: _TableRow, cells: list[tuple[ColumnRule, Cell]]) -> None:
        case = self._case_of(row)
        sources = {rule: SourceCell(row.table.sheet, row.number, rule.column) for rule, _ in cells}
        reader = self.readers[row.table.sheet]
        read: dict[str, tuple[ColumnRule, CellValue]] = {}
        for rule, cell in cells:
            name = "happened_on" if rule.to.startswith(EVENT) else rule.to
            read[name] = rule, reader.read(self.fields[name], cell, rule)
        of_kind = next((rule.to.removeprefix(EVENT) for rule, _ in cells if rule.to.startswith(EVENT)), "")
        kind = of_kind or (read["kind"][1].value if "kind" in read else None)
        day = read["happened_on"][1].value if "happened_on" in read else None
        if case is None or not kind or not isinstance(day, date):
            why = NO_CODE if case is None else "an event needs its kind and its date"
            for rule, value in read.values():
                if value.value is None and not value.problem:
                    self.result.account.pass_over(sources[rule], NOT_RECORDED)
                else:
                    self._refuse(sources[rule], rule, value.problem or why)
            return
        key = (case[0][0], day.isoformat(), str(kind))
        self.result.rows["events"].setdefault(key, {"case_id": case[0][0], "kind": kind})
        for name, (rule, value) in read.items():
            self._put(sources[rule], rule, ("events", key, name), value)
