"""The stamp that every file carries: register, data lock, day, selection, protocol and software."""

from __future__ import annotations

from outcomes.findings.results import Stamp

DIGEST_SHOWN = 12


def stamp_facts(stamp: Stamp) -> tuple[tuple[str, str], ...]:
    """Give every fact of the stamp with its name, in reading order."""
    return (
        ("Register", f"{stamp.digest} ({stamp.cases} cases with one of the two covers)"),
        ("Data lock", stamp.frozen or "none: the register may still change"),
        ("As of", stamp.as_of.isoformat()),
        ("Cases chosen", "; ".join(stamp.selection) or "every case"),
        ("Protocol", f"{stamp.protocol} ({stamp.fingerprint})"),
        ("Software", stamp.software),
    )


def stamp_line(stamp: Stamp) -> str:
    """Give the stamp as one line for the foot of a table or a file."""
    digest = stamp.digest[:DIGEST_SHOWN]
    lock = f"data lock “{stamp.frozen}”" if stamp.frozen else "no data lock"
    chosen = "; ".join(stamp.selection) or "every case"
    return (
        f"register {digest}, {stamp.cases} cases of the two covers, {lock}, as of {stamp.as_of.isoformat()}; {chosen}; "
        f"protocol {stamp.fingerprint}; {stamp.software}"
    )
