"""Numbers with their nouns."""

from __future__ import annotations


def counted(number: int, one: str, many: str = "") -> str:
    """Say so many of a thing; `many` is given where an s does not make it.

    >>> counted(1, "case"), counted(2, "query", "queries")
    ('1 case', '2 queries')
    """
    return f"{number} {one if number == 1 else many or f'{one}s'}"
