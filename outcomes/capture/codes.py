"""Match codes without regard to capitals, width and doubled spaces."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from outcomes.capture.entry import Entry, HeldRows
from outcomes.protocol import Protocol, Value, folded_code


def unify_codes(
    entries: Iterable[Entry], held: HeldRows, protocol: Protocol
) -> tuple[tuple[Entry, ...], tuple[str, ...]]:
    """Write each code as the register holds it, else as the sheet has it first; and say which were written otherwise."""
    code_fields = {field.id for field in protocol.fields if field.kind == "code"}
    spellings: dict[tuple[str, str], str] = {}
    for rows in held.values():
        for values in rows.values():
            _add_spellings(spellings, values.items(), code_fields)
    changed: Counter[tuple[str, str, str]] = Counter()
    unified = []
    for entry in entries:
        _add_spellings(spellings, entry.values.items(), code_fields)
        others = {
            field: (code, spellings[field, folded_code(code)])
            for field, code in entry.values.items()
            if field in code_fields and isinstance(code, str) and spellings[field, folded_code(code)] != code
        }
        changed.update((field, code, known) for field, (code, known) in others.items())
        values = {**entry.values, **{field: known for field, (_, known) in others.items()}}
        unified.append(replace(entry, values=values) if others else entry)
    notes = (f'{field} "{code}" is "{known}" ({count} in all)' for (field, code, known), count in changed.items())
    return tuple(unified), tuple(notes)


def _add_spellings(
    spellings: dict[tuple[str, str], str], values: Iterable[tuple[str, Value]], code_fields: set[str]
) -> None:
    for field, code in values:
        if field in code_fields and isinstance(code, str):
            spellings.setdefault((field, folded_code(code)), code)
