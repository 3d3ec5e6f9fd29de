"""Match codes without regard to capitals, width and doubled spaces."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from outcomes.capture.entry import Entry
from outcomes.capture.held_rows import HeldRows
from outcomes.protocol import Protocol, folded_code


def unify_codes(
    entries: Iterable[Entry], held: HeldRows, protocol: Protocol
) -> tuple[tuple[Entry, ...], tuple[str, ...]]:
    """Write each code as the register holds it, else as the sheet has it first; and say which were written otherwise."""
    code_fields = [field.id for field in protocol.fields if field.kind == "code"]
    known = {name: held.codes(name) for name in code_fields}
    spellings = {name: {folded_code(code): code for code in known[name]} for name in code_fields}
    changed: Counter[tuple[str, str, str]] = Counter()
    unified = []
    for entry in entries:
        others = {
            name: (code, spelling)
            for name in code_fields
            if (code := entry.text(name)) and code not in known[name]
            if (spelling := spellings[name].setdefault(folded_code(code), code)) != code
        }
        changed.update((name, code, spelling) for name, (code, spelling) in others.items())
        values = {**entry.values, **{name: spelling for name, (_, spelling) in others.items()}}
        unified.append(replace(entry, values=values) if others else entry)
    notes = (f'{name} "{code}" is "{spelling}" ({count} in all)' for (name, code, spelling), count in changed.items())
    return tuple(unified), tuple(notes)
