"""Keep the digest of the newest change in a file beside the register, so that a lost change is detected.

The chain inside the register proves that nothing before its end was altered, but not that its end is still there: a
torn write-ahead log opens without a word and drops the newest changes, and a file synchronised from elsewhere may be
an old one. So the number and the digest of the newest change are also kept outside, in `REGISTER.head`.

The two writes are crash-safe in this order: the head says "N, perhaps N+1"; the register commits N+1; the head says
"N+1"; the log is emptied. Killed before the commit, N is found and expected; killed after it, N+1 is found and
allowed. Only a change that was reported as done can be missed, and a change is reported last of all. A missing head (a
register that was copied by itself) is not an error: the next change writes it.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path

from outcomes.errors import RegisterRefused
from outcomes.store.files import system_errors
from outcomes.whole_files import real_path, write_safely


@dataclass(frozen=True)
class Head:
    """The newest change: its number, the digest of the chain up to it, its kind, and when it was made."""

    change: int
    digest: str
    kind: str
    at: str


@dataclass(frozen=True)
class HeadNote:
    """What lies outside: the newest change that is certain, and the one that was being written, if any."""

    settled: Head
    perhaps: Head | None = None


def head_path(path: Path) -> Path:
    """Where the head of a register is kept."""
    path = real_path(path)
    return path.with_name(path.name + ".head")


def note_head(path: Path, noted: HeadNote) -> None:
    """The head file holds exactly this afterwards; after a failure, what it held before."""
    place = head_path(path)
    with system_errors(place):
        write_safely(place, json.dumps(asdict(noted), sort_keys=True).encode() + b"\n")


def read_head(path: Path) -> HeadNote | None:
    """What was noted, or None when there is no head; raises RegisterRefused when it cannot be read."""
    place = head_path(path)
    if not place.exists():
        return None
    with system_errors(place):
        content = place.read_bytes()
    try:
        tree = json.loads(content)
        perhaps = tree["perhaps"]
        return HeadNote(Head(**tree["settled"]), Head(**perhaps) if perhaps else None)
    except (ValueError, KeyError, TypeError) as error:
        raise RegisterRefused(
            f"{place} is damaged, so that it cannot be told whether the newest changes are still in {path.name}",
            (f"compare the register with the last backup, then delete {place.name} to go on with what is there",),
        ) from error


def check_head(path: Path, chain: tuple[Head, ...]) -> None:
    """Raise RegisterRefused when changes that were made are no longer in the register; settle a head left half-way."""
    noted = read_head(path)
    if noted is None:
        return
    if not (_holds(chain, noted.settled) or (noted.perhaps and _holds(chain, noted.perhaps))):
        raise _lost(path, chain[-1], noted.settled)
    if noted != HeadNote(chain[-1]):
        _settle(path, chain[-1], noted)


def _holds(chain: tuple[Head, ...], head: Head) -> bool:
    return head.change < len(chain) and chain[head.change].digest == head.digest


def _settle(path: Path, newest: Head, noted: HeadNote) -> None:
    """Note a change whose writer died just after it; a folder that cannot be written is left as it is."""
    if newest == noted.settled:
        return
    try:
        note_head(path, HeadNote(newest))
    except RegisterRefused:
        return


def _lost(path: Path, newest: Head, noted: Head) -> RegisterRefused:
    place = head_path(path).name
    if newest.change < noted.change:
        first = newest.change + 1
        which = f"change {noted.change}" if first == noted.change else f"changes {first} to {noted.change}"
        last = f"the last of them: {noted.kind}, {noted.at}"
        says = f"{path} has lost {which} ({last}); it ends with change {newest.change}, {newest.at}"
    else:
        says = f"{path} is not the file that was last written here: its changes are not those that {place} knows"
    return RegisterRefused(
        says,
        (
            "restore the last backup with `outcomes restore`, then load again what was entered since",
            f"or, to go on with what is left and lose the rest, delete {place}",
        ),
    )
