"""Convert a Snellen fraction to logMAR."""

from __future__ import annotations

import math
import re

_SNELLEN = re.compile(r"^\s*(\d+(?:[.,]\d+)?)\s*/\s*(\d+(?:[.,]\d+)?)\s*$")


def snellen_to_logmar(text: str) -> float | None:
    """Turn a Snellen fraction into logMAR, or give None when the text is no Snellen fraction.

    logMAR is log10 of the minimum angle of resolution in minutes of arc, which for Snellen distance over letter
    size is log10(size / distance): 6/6 and 20/20 are 0.0, 6/60 is 1.0 (Bailey & Lovie, Am J Optom Physiol Opt
    1976;53:740-745; citation from memory). Rounded to three decimals.

    >>> snellen_to_logmar("6/12")
    0.301
    >>> snellen_to_logmar("20/20")
    0.0
    >>> snellen_to_logmar("0.3") is None
    True
    """
    found = _SNELLEN.match(text)
    if found is None:
        return None
    distance, size = (float(part.replace(",", ".")) for part in found.groups())
    if distance <= 0 or size <= 0:
        return None
    return round(math.log10(size / distance), 3) + 0.0
