"""Run an SQL question in a process of its own, within limits of time, memory and size.

The process (`worker`) is stopped when it takes too long or too much memory, and can
reach the documented views and nothing else. This module starts it, waits, and turns what it says into an answer.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any

from outcomes.errors import OutcomesError
from outcomes.store.connection import PATIENT, Patience, in_memory, open_to_read
from outcomes.store.files import safely_written, system_errors
from outcomes.store.query.catalogue import Given
from outcomes.store.sql import quoted

_GRACE = 20.0
_KEPT = ("SYSTEMROOT", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH")


class QuestionRefused(OutcomesError):
    """The question was not answered: it is no single SELECT, asks for what it may not see, or takes too much."""


@dataclass(frozen=True)
class Limits:
    """What a question may take: seconds, megabytes of memory, rows and megabytes of its answer."""

    seconds: float = 30.0
    memory_mb: int = 1024
    rows: int = 100_000
    answer_mb: int = 64


LIMITS = Limits()


@dataclass(frozen=True)
class QueryResult:
    """Columns with their types, rows of text, numbers, truths and None; the digest is that of the register sql_question."""

    columns: tuple[tuple[str, str], ...]
    rows: tuple[tuple[Any, ...], ...]
    digest: str


@dataclass(frozen=True)
class SqlQuestion:
    """A question: one SELECT over the documented views, and the values of its settings ($name)."""

    sql: str
    given: Mapping[str, Given]


def ask(  # noqa: PLR0913 - a freeze may be closed with a passphrase
    path: Path,
    sql_question: SqlQuestion,
    *,
    frozen: str = "",
    passphrase: str = "",
    patience: Patience = PATIENT,
    limits: Limits = LIMITS,
) -> QueryResult:
    """The answer; nothing in the register or on the disk is changed. Raises QuestionRefused, or RegisterRefused."""
    if not frozen:
        with open_to_read(path, patience):  # wait here, where it can be announced
            pass
    order = {
        "register": str(path.absolute()),
        "frozen": frozen,
        "passphrase": passphrase,
        "sql": sql_question.sql,
        "given": {name: [type(value).__name__, str(value)] for name, value in sql_question.given.items()},
        "limits": asdict(limits),
    }
    reply = _reply(_run(json.dumps(order), limits), limits)
    if "refused" in reply:
        raise QuestionRefused(reply["refused"])
    return QueryResult(
        tuple((name, kind) for name, kind in reply["columns"]),
        tuple(tuple(row) for row in reply["rows"]),
        reply["digest"],
    )


def _run(order: str, limits: Limits) -> subprocess.CompletedProcess[str]:
    """Run the other process on the order; it is given no variable of ours and no folder of ours to begin in."""
    package = str(Path(__file__).resolve().parents[3])
    environment = {name: os.environ[name] for name in _KEPT if name in os.environ}
    try:
        return subprocess.run(
            [sys.executable, "-P", "-m", "outcomes.store.query.worker"],
            input=order,
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=limits.seconds + _GRACE,
            env={**environment, "PYTHONPATH": package, "PYTHONUTF8": "1"},
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise QuestionRefused(_too_long(limits)) from error


def _reply(done: subprocess.CompletedProcess[str], limits: Limits) -> dict[str, Any]:
    """What the other process said; one that died without a word had run out of memory."""
    try:
        reply: dict[str, Any] = json.loads(done.stdout)
    except ValueError as error:
        raise QuestionRefused(too_large(limits)) from error
    return reply


def _too_long(limits: Limits) -> str:
    return f"the question took longer than {limits.seconds:g} seconds and was stopped; ask for less at a time"


def too_large(limits: Limits) -> str:
    """Say that a question needed too much memory."""
    return f"the question needed more than {limits.memory_mb} MB of memory and was stopped; ask for less at a time"


def write_parquet(answer: QueryResult, path: Path, metadata: Mapping[str, str]) -> None:
    """The answer is a Parquet file that carries these metadata; after a failure what was there before."""
    names = ", ".join(f"{_name(name)} {kind}" for name, kind in answer.columns)
    pairs = ", ".join(f"{key}: {_text(value)}" for key, value in metadata.items())
    with system_errors(path), safely_written(path) as part, in_memory() as con:
        con.execute(f"create table answer ({names})")
        appender = con.appender("answer")
        appender.append_rows(list(answer.rows))
        appender.flush()
        con.execute(f"copy answer to {quoted(part)} (format parquet, kv_metadata {{{pairs}}})")


def _name(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _text(value: str) -> str:
    return "'" + value.replace("'", "''") + "'"


def as_given(kind: str, text: str) -> Given:
    """A setting's value, as it was before it was handed to the other process."""
    if kind == "date":
        return date.fromisoformat(text)
    return text if kind == "str" else float(text)
