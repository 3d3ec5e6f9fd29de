"""Recognise codes that are shaped like a person's name, number or address.

Study codes only are stored. A shape that hardly any code has is refused; one that a code may have is queried.
All shapes are common practice, no source.
"""

from __future__ import annotations

import re
from datetime import date

# Fields that stand for a person or a case. The other code fields hold a place or a few free words.
STUDY_CODES = frozenset({"patient_id", "case_id", "surgeon", "assessor"})
_ORDINARY = frozenset(
    {"patient", "case", "lid", "eye", "surgeon", "assessor", "grader", "observer", "reviewer", "site", "code"}
)

# A few letters and a number, as most study codes are: none of the shapes below.
_PLAIN = re.compile(r"[A-Za-z]{1,3}[-_]?[0-9]{1,7}")
_ADDRESS = re.compile(r"\S@\S+\.\S")
_LONG_NUMBER = re.compile(r"\d{9,}")
_GROUPED_NUMBER = re.compile(r"(?<!\d)(?:\d{3}[ .-]\d{3}[ .-]\d{4}|\d{3}[ .-]\d{2}[ .-]\d{4})(?!\d)")
_TELEPHONE = re.compile(r"(?<!\S)(?:\+|0|\(0)[\d ().+/-]*")
_TELEPHONE_DIGITS = 9
_DATES = (
    re.compile(r"(?<!\d)(?P<y>\d{4})[-/. ](?P<m>\d{1,2})[-/. ](?P<d>\d{1,2})(?!\d)"),
    re.compile(r"(?<!\d)(?P<d>\d{1,2})[-/. ](?P<m>\d{1,2})[-/. ](?P<y>\d{4})(?!\d)"),
    re.compile(r"(?<!\d)(?P<d>\d{1,2})[/.](?P<m>\d{1,2})[/.](?P<y>\d{2})(?!\d)"),
    re.compile(r"(?<!\d)(?P<y>\d{4})(?P<m>\d{2})(?P<d>\d{2})(?!\d)"),
    re.compile(r"(?<!\d)(?P<d>\d{2})(?P<m>\d{2})(?P<y>\d{4})(?!\d)"),
    # A day of birth and a serial number, as national numbers are written.
    re.compile(r"(?<!\d)(?P<d>\d{2})(?P<m>\d{2})(?P<y>\d{2})[ .+-]?\d{4,5}(?!\d)"),
    re.compile(r"(?<!\d)(?P<y>\d{2})(?P<m>\d{2})(?P<d>\d{2})[ .+-]\d{4,5}(?!\d)"),
)
_TITLED = re.compile(r"(?:mrs?|ms|miss|dr|prof)\.? *[^\W\d_]{3,}|(?:mrs?|ms|miss|dr|prof)\. ", re.IGNORECASE)
_TITLED_WITHIN = re.compile(r"\b(?:mrs?|ms|miss|dr|prof)\b\.? *[^\W\d_]{3,}", re.IGNORECASE)
_INITIAL_AND_NAME = re.compile(r"(?:[^\W\d_]\. ?)+[^\W\d_]{3,}|[^\W\d_]{3,}, ?[^\W\d_]\.?")
_ONE_WORD = re.compile(r"[^\W\d_]{4,}")


def refused_shape(field: str, code: str) -> str:
    """Say which identity a code is shaped like, or give an empty text when it is acceptable."""
    if _PLAIN.fullmatch(code):
        return ""
    if _ADDRESS.search(code):
        return "an e-mail address"
    if _LONG_NUMBER.search(code) or _GROUPED_NUMBER.search(code) or _is_telephone(code):
        return "a hospital or telephone number"
    if field not in STUDY_CODES:
        return ""
    if _holds_date(code):
        return "a full date, such as a date of birth"
    named = _TITLED.match(code) or _INITIAL_AND_NAME.fullmatch(code) or _is_full_name(code)
    return "a person's name" if named else ""


def refused_words(words: str) -> str:
    """Say which identity a few free words hold, or give an empty text; a date may stand among them."""
    named = _TITLED_WITHIN.search(words) or _is_full_name(words)
    return refused_shape("", words) or ("a person's name" if named else "")


def doubtful_shape(field: str, code: str) -> str:
    """Say what an acceptable code may yet be, or give an empty text."""
    if field not in STUDY_CODES:
        return "a person's name" if _TITLED.match(code) or _is_full_name(code) else ""
    if _ONE_WORD.fullmatch(code) and code[0].isupper() and code[1:].islower() and code.lower() not in _ORDINARY:
        return "a person's name"
    return ""


def _is_telephone(code: str) -> bool:
    found = (number.group() for number in _TELEPHONE.finditer(code))
    return any(sum(sign.isdigit() for sign in number) >= _TELEPHONE_DIGITS for number in found)


def _holds_date(code: str) -> bool:
    return any(_is_day(found) for shape in _DATES for found in shape.finditer(code))


def _is_day(found: re.Match[str]) -> bool:
    year, month, day = (int(found.group(part)) for part in "ymd")
    if year < 100:
        year += 2000
    try:
        return 1900 <= date(year, month, day).year < 2100
    except ValueError:
        return False


def _is_full_name(code: str) -> bool:
    """Two to four words that each begin with a capital and go on in small letters."""
    words = code.replace(",", " ").split()
    return 2 <= len(words) <= 4 and all(_is_name(word) for word in words)


def _is_name(word: str) -> bool:
    letters = word.replace("-", "").replace("'", "").replace("’", "")
    return (
        len(letters) > 1
        and letters.isalpha()
        and word[0].isupper()
        and any(letter.islower() for letter in letters)
        and word.lower() not in _ORDINARY
    )
