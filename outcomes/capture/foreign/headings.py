"""Find the target that a column heading names."""

from __future__ import annotations

import difflib
import re
import unicodedata
from dataclasses import dataclass, replace
from functools import cached_property

from outcomes.capture.foreign.mapping import (
    AGE,
    BIRTH_DATE,
    DAYS_AFTER,
    EVENT,
    LINK,
    PLAIN,
    SIZE,
    UNMAPPED,
)
from outcomes.capture.foreign.visit_labels import read_visit_label
from outcomes.protocol import Protocol

# Headings that name no field but a known thing; common practice, no source.
_NAMES = """name; surname; last name; first name; forename; patient name; full name; initials; nachname; vorname;
    patientenname; familienname; pat name"""
_NUMBERS = """mrn; hospital number; hospital no; hosp no; hosp number; unit number; nhs number; nhs no; pid; kis nr;
    medical record number; record number; aufnahmenummer; krankenhausnummer; versichertennummer; patientennr kis"""
_RUNNING = "nr; no; lfd nr; lfd; number; nummer; #; id; code; lid no; lid"
_AGES = "age; alter; age at surgery; age at operation; alter bei op; age at op; age years"
_DAYS_SHUT = "days to division; division after days; days shut; days closed; tage bis durchtrennung; interval days"
_SIZES = "lesion size; tumour size; defect size; size; defekt; defektgröße; defektgrösse; defect; defect mm; size of defect; defektgrosse"
_ACUITIES = {"va", "bcva", "vision", "visus", "sehschärfe", "acuity"}
_FREE = "remarks; comments; comment; notes; bemerkung; bemerkungen; bem; anmerkung; anmerkungen; kommentar; memo"
_RIGHT = {"re", "od", "right", "rechts", "r", "rechtes", "ra"}
_LEFT = {"le", "os", "left", "links", "l", "li", "linkes", "la"}
_FELLOW = {
    "fellow",
    "other",
    "contralateral",
    "partner",
    "gegenseite",
    "partnerauge",
    "gegenauge",
    "kontralateral",
    "control",
}
_OPERATED = {"op", "operated", "operiert", "operierte", "ipsilateral", "study", "case"}
_UNITS = {"mm", "percent", "logmar", "cm", "in", "years", "jahre", "grade", "grad", "score", "yes", "no", "j", "n", "y"}
_DATE_WORDS = {"date", "datum", "on", "am", "of", "vom", "dat"}
_CLOSE = 0.9
RUNNING_NUMBER, FREE_TEXT, PERSON_NAME = "running number", "free text", "person name"


@dataclass(frozen=True)
class HeadingTarget:
    """What a heading names. `doubt` is why that should be checked; an empty `to` is nothing known."""

    to: str = ""
    visit: str = ""
    eye: str = ""
    read: str = PLAIN
    doubt: str = ""
    kind: str = ""  # a thing known that is no field: a running number, a person's name, free text


def loose(text: str) -> str:
    """The text in small letters, with single spaces for all that is no letter or digit.

    >>> loose("OP-Datum (Tag)")
    'op datum tag'
    """
    folded = unicodedata.normalize("NFKC", text).casefold()
    return " ".join("".join(sign if sign.isalnum() or sign in "#%" else " " for sign in folded).split())


def _listed(texts: str) -> set[str]:
    return {loose(text) for text in texts.split(";")}


class HeadingReader:
    """Reads headings by the names, labels and synonyms of one protocol."""

    def __init__(self, protocol: Protocol) -> None:
        """Keep the protocol."""
        self.protocol = protocol

    def read(self, heading: str) -> HeadingTarget:
        """The target of a heading, its visit and its eye."""
        label = read_visit_label(heading, self.protocol.windows)
        rest = label.rest if label else heading
        whole = self._target(heading) if label and label.days is None else HeadingTarget()
        if whole.to and not whole.doubt:
            return whole
        found = self._target(rest)
        return replace(found, visit=label.label) if label else found

    @cached_property
    def _fields(self) -> dict[str, str]:
        """The field by each of its names: id, label and synonyms; a name of two fields is left out, keys excepted."""
        names: dict[str, str] = {}
        for field_id, texts in self.protocol.synonyms.headings.items():
            for text in texts:
                names.setdefault(loose(text), field_id)
        for field in self.protocol.fields:
            names[loose(field.id)] = field.id
            names.setdefault(loose(field.label), field.id)
        return names

    @cached_property
    def _special(self) -> dict[str, HeadingTarget]:
        birth, divided = HeadingTarget("birth_year", read=AGE), HeadingTarget("divided_on", read=DAYS_AFTER)
        size = HeadingTarget(f"defect_width_mm{SIZE}defect_height_mm")
        lists = (
            (_NAMES, HeadingTarget(UNMAPPED, kind=PERSON_NAME)),
            (_NUMBERS, HeadingTarget(LINK)),
            (_RUNNING, HeadingTarget(kind=RUNNING_NUMBER)),
            (_AGES, replace(birth, doubt="the year of birth may be one too late, as only the age is known")),
            (_DAYS_SHUT, divided),
            (_SIZES, replace(size, doubt="the first number is taken as the width")),
            (_FREE, HeadingTarget(UNMAPPED, kind=FREE_TEXT)),
            (
                "dob; date of birth; geburtsdatum; geb datum; geb am; birth date",
                HeadingTarget("birth_year", read=BIRTH_DATE),
            ),
        )
        return {name: target for texts, target in lists for name in _listed(texts)}

    def _target(self, heading: str) -> HeadingTarget:
        for text in dict.fromkeys((heading, _without_units(heading))):
            if found := self._exact(loose(text)):
                return found
        words = [word for word in loose(_without_units(heading)).split() if word not in _UNITS]
        return self._of_an_eye(words) or self._event(words) or self._near(" ".join(words))

    def _exact(self, name: str) -> HeadingTarget | None:
        if name in self._special:
            return self._special[name]
        field_id = self._fields.get(name) or self._fields_by_words.get(_word_set(name))
        return HeadingTarget(field_id) if field_id else None

    @cached_property
    def _fields_by_words(self) -> dict[frozenset[str], str]:
        """The field by the words of its names in any order, names of one word excepted."""
        return {_word_set(name): field_id for name, field_id in self._fields.items() if len(_word_set(name)) > 1}

    def _of_an_eye(self, words: list[str]) -> HeadingTarget | None:
        """The field without the words that say whose eye it is of: the operated, the fellow, the right or the left one."""
        rest = " ".join(
            word for word in words if word not in _RIGHT | _LEFT | _FELLOW | _OPERATED | {"eye", "auge", "lid"}
        )
        fellow = bool(_FELLOW & set(words))
        eye = "right" if _RIGHT & set(words) else "left" if _LEFT & set(words) else ""
        if rest in _ACUITIES and (eye or fellow):
            return HeadingTarget("fellow_logmar", eye="" if fellow else eye)
        found = self._exact(rest) if rest and len(rest) < len(" ".join(words)) else None
        if found is None or not found.to:
            return None
        other = f"fellow_{found.to}"
        if fellow:
            known = any(field.id == other for field in self.protocol.fields)
            return (
                replace(found, to=other) if known else HeadingTarget(UNMAPPED, doubt="the fellow eye has no such field")
            )
        return replace(found, eye=eye)

    def _event(self, words: list[str]) -> HeadingTarget | None:
        """The date of a kind of event."""
        rest = " ".join(word for word in words if word not in _DATE_WORDS)
        kind = self.protocol.field("events", "kind")
        word = next((each for each in kind.allowed if each == rest), None) or self.protocol.synonyms.word(kind, rest)
        return HeadingTarget(EVENT + word) if word and len(rest) < len(" ".join(words)) else None

    def _near(self, name: str) -> HeadingTarget:
        """The field whose name is nearly the heading, or is a part of it; always to be checked."""
        if len(name) < 3:
            return HeadingTarget()
        alike = [each for each in self._fields if each[0] == name[0]]
        near = difflib.get_close_matches(name, alike, n=1, cutoff=_CLOSE)
        if near:
            return HeadingTarget(self._fields[near[0]], doubt=f'by its likeness to "{near[0]}"')
        short = [each for each in self._fields if _abbreviates(name, each)]
        if short:
            return HeadingTarget(self._fields[short[0]], doubt=f'as short for "{short[0]}"')
        parts = [each for each in self._fields if len(each) > 4 and re.search(rf"\b{re.escape(each)}\b", name)]
        if parts:
            longest = max(parts, key=len)
            return HeadingTarget(self._fields[longest], doubt=f'because it holds "{longest}"')
        return HeadingTarget()


def _abbreviates(name: str, whole: str) -> bool:
    """Tell whether each word of a name begins the word at its place in another, as `ant lamella` does."""
    short, words = name.split(), whole.split()
    return len(short) == len(words) > 1 and all(
        word.startswith(part) and len(part) >= 3 for part, word in zip(short, words, strict=True)
    )


def _word_set(name: str) -> frozenset[str]:
    return frozenset(word for word in name.split() if word not in {"of", "the", "der", "des", "die", "am", "on"})


def _without_units(heading: str) -> str:
    return re.sub(r"\([^)]*\)|\[[^\]]*\]|[%]|\bin mm\b|\bmm\b", " ", heading)
