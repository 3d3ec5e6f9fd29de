"""The checked protocol of a register, with its look-ups, its text and its fingerprint."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from outcomes.protocol.counsel import CounselItem, Likeness, Published
from outcomes.protocol.entries import Characteristic, CounselRules, Cover, Measure, Query, Rules, Timed, Window
from outcomes.protocol.field import SHEETS, Field
from outcomes.protocol.synonyms import Synonyms

KEYS = {
    "patients": ("patient_id",),
    "reconstructions": ("case_id",),
    "reviews": ("case_id", "reviewed_on", "assessor", "mode"),
    "events": ("case_id", "happened_on", "kind"),
}


@dataclass(frozen=True)
class Protocol:
    """Everything that the protocol file says, checked. `document` is the plain tree from which it can be made again."""

    name: str
    rules: Rules
    primary_window: str
    fields: tuple[Field, ...]
    covers: tuple[Cover, ...]
    windows: tuple[Window, ...]
    measures: tuple[Measure, ...]
    timed: tuple[Timed, ...]
    characteristics: tuple[Characteristic, ...]
    queries: tuple[Query, ...]
    ends_follow_up: tuple[str, ...]
    captured: tuple[tuple[str, str], ...]
    synonyms: Synonyms
    counsel: CounselRules
    told: tuple[CounselItem, ...]
    likeness: tuple[Likeness, ...]
    published: tuple[Published, ...]
    document: dict[str, Any]

    @cached_property
    def fingerprint(self) -> str:
        """Twelve hexadecimal digits that change with any word or number of the protocol but its synonyms.

        Synonyms only say how sheets are read, so two protocols that differ in nothing else agree.
        """
        judging = {name: part for name, part in self.document.items() if name != "synonyms"}
        return hashlib.sha256(_one_line(judging).encode()).hexdigest()[:12]

    @cached_property
    def text(self) -> str:
        """The whole protocol as one line of JSON with sorted keys: what a register keeps."""
        return _one_line(self.document)

    def sheet(self, name: str) -> tuple[Field, ...]:
        """The fields of one sheet, in the order of the protocol file."""
        return self._fields_by_sheet[name]

    def field(self, sheet: str, name: str) -> Field:
        """One field; KeyError when the sheet has no such field."""
        return self._field_by_place[sheet, name]

    @cached_property
    def _fields_by_sheet(self) -> dict[str, tuple[Field, ...]]:
        return {sheet: tuple(field for field in self.fields if field.sheet == sheet) for sheet in SHEETS}

    @cached_property
    def _field_by_place(self) -> dict[tuple[str, str], Field]:
        return {(field.sheet, field.id): field for field in self.fields}

    @cached_property
    def observed(self) -> tuple[Field, ...]:
        """The review fields that are kept as tall observations."""
        return tuple(field for field in self.fields if field.observed)

    def measure(self, name: str) -> Measure:
        """One measure; KeyError when there is none of that name."""
        return {measure.id: measure for measure in self.measures}[name]

    @cached_property
    def main_measures(self) -> tuple[Measure, ...]:
        """The measures that every comparison shows first."""
        return tuple(measure for measure in self.measures if measure.main)

    def value_field(self, measure: Measure) -> Field:
        """The review field whose unit, limits and level names are those of the measure."""
        return self.field("reviews", measure.field or measure.operated)

    def limits(self, measure: Measure) -> tuple[float, float]:
        """The least and the greatest value that a measure can have; of a difference, what its two fields allow."""
        if measure.field:
            return self.field("reviews", measure.field).limits
        operated, fellow = self.field("reviews", measure.operated).limits, self.field("reviews", measure.fellow).limits
        return operated[0] - fellow[1], operated[1] - fellow[0]

    def window(self, name: str) -> Window:
        """One window; KeyError when there is none of that name."""
        return {window.id: window for window in self.windows}[name]

    def cover(self, name: str) -> Cover:
        """One cover; KeyError when there is none of that name."""
        return {cover.id: cover for cover in self.covers}[name]

    def characteristic(self, name: str) -> Characteristic:
        """One characteristic; KeyError when there is none of that name."""
        return {each.id: each for each in self.characteristics}[name]

    def told_words(self, name: str) -> str:
        """What a told result is, in the words of this protocol; KeyError when there is none of that name."""
        told = {each.id: each for each in self.told}[name]
        if told.measure:
            return f"{self.measure(told.measure).label.lower()} at {self.window(told.window).label}"
        if told.timed:
            label = {each.id: each.label for each in self.timed}[told.timed]
            return f"{label.lower()} within {told.within_months} months"
        return self.characteristic(told.characteristic).label.lower()

    def likeness_words(self, name: str) -> str:
        """What a rule of likeness asks, such as `the same depth, age within 10`; KeyError when there is none of that name."""
        rule = {each.id: each for each in self.likeness}[name]
        same = [f"the same {self.field('reconstructions', each).label.lower()}" for each in rule.same]
        return ", ".join((*same, *(self._within(each, far) for each, far in rule.within)))

    def _within(self, name: str, far: float) -> str:
        characteristic = self.characteristic(name)
        bound = f"{100 * far:g} points" if characteristic.ratio else f"{far:g} {characteristic.unit}".strip()
        return f"{characteristic.label.lower()} within {bound}"

    def cohort_of(self, cover: str) -> str:
        """The cohort in which a cover's cases are counted, or an empty text for neither."""
        return self.cover(cover).cohort

    def captured_by(self, kind: str) -> str:
        """How events of a kind reach the register: "all", "contact" or "reviews"; contact unless the protocol says otherwise."""
        return dict(self.captured).get(kind, "contact")

    def judges(self, measure: Measure, window: Window) -> bool:
        """Tell whether the poor-result rule of the measure holds in the window."""
        if measure.poor is None:
            return False
        return not measure.poor_from or window.nominal_days >= self.window(measure.poor_from).nominal_days

    def poor_words(self, measure: Measure) -> str:
        """Say what is a poor result, such as `1 mm or more`, or an empty text when there is no rule."""
        if measure.poor is None:
            return ""
        field = self.value_field(measure)
        if field.kind == "yes_no":
            return "yes"
        level = field.levels[round(measure.poor.bound)] if field.levels else ""
        word = f"{measure.poor.bound:g} ({level})" if level and not level.isdigit() else ""
        return measure.poor.says("" if field.levels else field.unit, word)


def _one_line(tree: dict[str, Any]) -> str:
    return json.dumps(tree, sort_keys=True, ensure_ascii=False)
