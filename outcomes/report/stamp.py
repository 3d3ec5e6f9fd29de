"""The stamp of every file: the register, the as-of day, the filters, the protocol and the software."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from outcomes.findings.results import Level, Stamp

DIGEST_SHOWN = 12


def stamp_facts(stamp: Stamp) -> tuple[tuple[str, str], ...]:
    """Give every fact of the stamp with its name, in reading order."""
    return (
        ("Register", f"{stamp.digest} ({stamp.cases} cases with one of the two covers)"),
        ("Data lock", stamp.frozen or "none: the register may still change"),
        ("As of", stamp.as_of.isoformat()),
        ("Cases chosen", "; ".join(chosen_words(stamp)) or "every case"),
        ("Protocol", f"{stamp.protocol} ({stamp.fingerprint})"),
        *((("Protocol lacks", lacking_words(stamp)),) if stamp.protocol_lacks else ()),
        ("Software", stamp.software),
    )


def lacking_words(stamp: Stamp) -> str:
    """Say which keys the protocol was made before."""
    keys = "; ".join(stamp.protocol_lacks)
    return f"the protocol was made before there were these keys, and what held before holds: {keys}"


def chosen_words(stamp: Stamp) -> tuple[str, ...]:
    """Say each filter, and what is left out of public output."""
    left_out = (f"for the public: counts from 1 to {stamp.suppressed_below - 1} left out",)
    return (*(choice.says() for choice in stamp.selection), *(left_out if stamp.suppressed_below else ()))


LEVELS: dict[Level, str] = {
    "own eyes": "For the clinic's own eyes: it shows single lids and small counts. Do not show or send it.",
    "journal": "For a journal: counts of any size, and nothing of single lids.",
    "public": "For the public: small counts, and what would give them away, are left out.",
}


def level_words(level: Level) -> str:
    """Say for whom a file is made."""
    return LEVELS[level]


def stamp_line(stamp: Stamp) -> str:
    """Give the stamp as one line for the foot of a table or a file."""
    digest = stamp.digest[:DIGEST_SHOWN]
    lock = f"data lock “{stamp.frozen}”" if stamp.frozen else "no data lock"
    chosen = "; ".join(chosen_words(stamp)) or "every case"
    return (
        f"register {digest}, {stamp.cases} cases of the two covers, {lock}, as of {stamp.as_of.isoformat()}; {chosen}; "
        f"protocol {stamp.fingerprint}; {stamp.software}"
    )
