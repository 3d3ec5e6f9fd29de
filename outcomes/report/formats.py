"""The forms in which numbers are printed.

Every format is here, so that the page, the terminal, the tables and the charts say one number in one way. Shares come
as 0 to 1 and are printed out of 100: as whole numbers, or with one decimal where a whole number would hide that
something happened.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from outcomes.findings.small_count import SmallCount
from outcomes.protocol import Field, Measure, Protocol

Written = Callable[[float], str]
Count = float | SmallCount
WrittenCount = Callable[[Count], str]

MINUS = "\u2212"
LEAST_P = 0.001
NEAR_ONE = 0.5
GROUPED_DIGITS = 5
THOUSAND, LEAST_THOUSANDS, TWO_DIGITS = 1_000, 0.05, 10


def count(number: Count) -> str:
    """Print a count of lids or patients; one that is not given for being small says below what it is.

    >>> count(53), count(SmallCount(5)), count(SmallCount(5, all_but=True))
    ('53', 'fewer than 5', 'all or all but fewer than 5')
    """
    if isinstance(number, SmallCount):
        if number.all_but:
            return f"all or all but fewer than {number.fewer_than}"
        return f"fewer than {number.fewer_than}"
    return f"{number:.0f}"


def short_counts(numbers: Iterable[Count]) -> WrittenCount:
    """Give the way to print these counts under the marks of a chart, where words and long numbers have no room.

    Where one is 1,000 or more, all are in thousands, and `in_thousands` says that in the caption.

    >>> few, many = [53, SmallCount(5), SmallCount(5, all_but=True)], [9629, 585203, 53, 12, SmallCount(5)]
    >>> [*map(short_counts(few), few)], [*map(short_counts(many), many)]
    (['53', '<5', '≈all'], ['9.6', '585', '0.1', '<0.1', '<0.1'])
    """
    return _short_thousands if in_thousands(numbers) else _short_count


def in_thousands(numbers: Iterable[Count]) -> bool:
    """Tell whether `short_counts` prints these in thousands.

    >>> in_thousands([999, SmallCount(5)]), in_thousands([12, 1000])
    (False, True)
    """
    return any(not isinstance(number, SmallCount) and number >= THOUSAND for number in numbers)


def _short_count(number: Count) -> str:
    if isinstance(number, SmallCount):
        return "≈all" if number.all_but else f"<{number.fewer_than}"
    return count(number)


def _short_thousands(number: Count) -> str:
    if isinstance(number, SmallCount):
        return "≈all" if number.all_but else "<0.1"
    thousands = number / THOUSAND
    if 0 < thousands < LEAST_THOUSANDS:
        return "<0.1"
    return f"{thousands:.1f}" if round(thousands, 1) < TWO_DIGITS else f"{thousands:.0f}"


def grouped(text: str) -> str:
    """Part the thousands of a number as printed if it is a whole one of five digits or more, for a page that is read.

    >>> grouped("585203"), grouped("9629"), grouped("5.54")
    ('585,203', '9629', '5.54')
    """
    return f"{int(text):,}" if text.isdecimal() and len(text) >= GROUPED_DIGITS else text


def _bare(value: float, decimals: int) -> str:
    text = f"{abs(value):.{decimals}f}"
    return f"{MINUS}{text}" if value < 0 and text.strip("0.") else text


def hundredths(share: float) -> str:
    """Print a share out of 100, without its unit."""
    decimals = 1 if share not in {0, 1, -1} and f"{abs(share):.0%}" in {"0%", "100%"} else 0
    return _bare(100 * share, decimals)


def percent(share: float) -> str:
    """Print a share.

    >>> percent(1 / 6), percent(0.0), percent(0.004)
    ('17%', '0%', '0.4%')
    """
    return hundredths(share) + "%"


def signed(text: str) -> str:
    """Put a plus before a difference above zero."""
    return f"+{text}" if text[0] != MINUS and text.strip("0.%") else text


def points(difference: float) -> str:
    """Print a difference of shares in points of 100, with its sign.

    >>> points(-0.121), points(0.09), points(0.0)
    ('−12', '+9', '0')
    """
    return signed(hundredths(difference))


def measured(field: Field) -> Written:
    """Give the way to print a value of this field, without its unit.

    Millimetres with one decimal, the rest with none, and one more where the number asks for it: a limit of a quarter
    millimetre or half a grade is printed as it is.
    """
    fewest = 1 if field.unit == "mm" else 0
    return lambda value: _bare(value, fewest if round(value, fewest) == round(value, fewest + 2) else fewest + 1)


def mean_of(field: Field) -> Written:
    """Give the way to print a mean or a spread of this field: two decimals, of per cent one."""
    decimals = 1 if field.unit == "%" else 2
    return lambda value: _bare(value, decimals)


def size(difference: float, written: Written) -> str:
    """Print how large a difference is; one that is too small for the decimals says so.

    >>> size(-0.24, "{:.2f}".format), size(0.002, "{:.2f}".format), size(0.0, "{:.2f}".format)
    ('0.24', 'under 0.01', '0.00')
    """
    text = written(abs(difference))
    return f"under {text[:-1]}1" if difference and not text.strip("0.") else text


def mean_change(field: Field) -> Written:
    """Give the way to print a difference of means of this field, with its sign."""
    written = mean_of(field)
    return lambda value: signed(written(value))


def capitalised(words: str) -> str:
    """The words with a capital at the beginning.

    >>> capitalised("lash loss, T1 and LogMAR")
    'Lash loss, T1 and LogMAR'
    """
    return f"{words[0].upper()}{words[1:]}"


def uncapitalised(words: str) -> str:
    """The words with a small letter at the beginning, to stand within a sentence."""
    return f"{words[0].lower()}{words[1:]}"


def unit_of(field: Field) -> str:
    """Say the unit of a field; a graded one has grades."""
    return field.unit or ("grades" if field.levels else "")


def months(value: float) -> str:
    """Print a time in months: with one decimal, unless it is whole."""
    return _bare(value, 0 if float(value).is_integer() else 1)


def months_change(value: float) -> str:
    """Print a difference of times in months, with its sign."""
    return signed(months(value))


def decimal(value: float) -> str:
    """Print an effective number, a mean or a ratio with one decimal."""
    return _bare(value, 1)


def probability(value: float) -> str:
    """Print a probability, such as that of a better result, with two decimals."""
    return _bare(value, 2)


def mean_beside(spread: float | None) -> Written:
    """Give the way to print a mean and its spread: two decimals where the spread is under one unit, else one."""
    decimals = 2 if spread is not None and spread < 1 else 1
    return lambda value: _bare(value, decimals)


def standardised(value: float) -> str:
    """Print a standardised difference, with its sign."""
    return signed(_bare(value, 2))


def p_value(p: float) -> str:
    """Print a p value: three decimals when small, two otherwise.

    >>> p_value(0.0004), p_value(0.034), p_value(0.34), p_value(1.0)
    ('<0.001', '0.034', '0.34', '1.00')
    """
    if p < LEAST_P:
        return f"<{LEAST_P}"
    return f"{p:.3f}" if f"{p:.2f}" < "0.10" else f"{p:.2f}"


def p_words(p: float) -> str:
    """Print a p value in a sentence, with its sign."""
    printed = p_value(p)
    return printed if printed.startswith("<") else f"= {printed}"


def about(value: float) -> str:
    """Print an expected number in whole ones; less than half a one says so.

    >>> about(0.85), about(0.2)
    ('1', 'less than 1')
    """
    return f"{value:.0f}" if value >= NEAR_ONE else "less than 1"


def small(value: float) -> str:
    """Print a number far below one with four decimals."""
    return _bare(value, 4)


def poor_definition(measure: Measure, protocol: Protocol) -> str:
    """Say a measure with its poor result, such as `Retraction of 1 mm or more`."""
    words = protocol.poor_words(measure)
    if not words:
        return measure.label
    return f"{measure.label}: {words}"


def in_list(words: list[str]) -> str:
    """Say several words as one list with an `and`."""
    return ", ".join(words[:-1]) + (" and " if len(words) > 1 else "") + words[-1] if words else ""


def short_time(nominal_days: int) -> str:
    """Say a window's nominal day in the few letters that fit under an axis.

    >>> [short_time(days) for days in (7, 42, 91, 183, 365, 1826)]
    ['1w', '6w', '3m', '6m', '1y', '5y']
    """
    for unit, days, at_least in (("y", 365.25, 365), ("m", 30.4375, 80)):
        if nominal_days >= at_least:
            return f"{nominal_days / days:.0f}{unit}"
    return f"{nominal_days / 7:.0f}w"
