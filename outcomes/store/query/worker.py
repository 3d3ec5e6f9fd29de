"""The process that checks and runs one SQL question.

It reads an order from standard input, checks the question by its text alone, makes the documented views that it asks of over
the register, which it cannot write to, gives up the right to open or write any other file, and only then runs the question.
Whatever happens it writes one JSON text.
"""

from __future__ import annotations

import contextlib
import json
import re
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from decimal import Decimal
from math import isfinite
from pathlib import Path
from typing import Any

import duckdb

from outcomes.errors import OutcomesError
from outcomes.store.connection import in_memory, open_beside, shut_in
from outcomes.store.query.client import Limits, as_given, too_large
from outcomes.store.query.views import VIEWS, make_views
from outcomes.store.register import Register, reading
from outcomes.store.snapshot import frozen_to_ask

_LONGEST = 100_000
_PAGE = 4096
_TABLE_FUNCTIONS = {"range", "generate_series", "unnest"}
_FORBIDDEN = re.compile(
    r"(duckdb_|pragma_|pg_|read_|parquet_|sniff|scan_|glob$|query|current_setting|getenv|getvariable|nextval|currval"
    r"|write_|which_secret|json_execute|from_substrait|checkpoint|force_|enable_|set_)|(_scan$)|(_secrets?$)"
)
_KINDS = {"BOOLEAN", "DATE", "DOUBLE", "FLOAT", "TIMESTAMP"}
Tree = dict[str, Any]


class _Refused(Exception):
    """Why the question is not answered."""


def main() -> None:
    """QueryResult the order that stands on standard input."""
    order = json.load(sys.stdin)
    try:
        reply = _reply_to(order, Limits(**order["limits"]))
    except _Refused as refused:
        reply = {"refused": str(refused)}
    except OutcomesError as refusal:
        reply = {"refused": refusal.summary}
    json.dump(reply, sys.stdout, allow_nan=False)


def _reply_to(order: Tree, limits: Limits) -> Tree:
    with in_memory() as con, _refusals(limits):
        shut_in(con)
        asked_of = check_question(con, order["sql"])
    with _register(order) as register:
        con, digest = register.con, register.digest
        make_views(register, asked_of)
        con.execute(f"set threads = 2; set memory_limit = '{_taken(con) + limits.memory_mb}MB'")
        shut_in(con)
        _give_up_rights(limits)
        given = {name: as_given(*value) for name, value in order["given"].items()}
        with _refusals(limits):
            return {**_rows(con, order["sql"], given, limits), "digest": digest}


@contextmanager
def _refusals(limits: Limits) -> Iterator[None]:
    """What the database has against the question is a refusal of the question, and none of the register."""
    try:
        yield
    except (MemoryError, duckdb.OutOfMemoryException) as error:
        raise _Refused(too_large(limits)) from error
    except duckdb.Error as error:
        raise _Refused(_said(error)) from error


@contextmanager
def _register(order: Tree) -> Iterator[Register]:
    path, frozen = Path(order["register"]), order["frozen"]
    with frozen_to_ask(path, frozen, order["passphrase"]) if frozen else reading(path, open_it=open_beside) as register:
        yield register


def _taken(con: duckdb.DuckDBPyConnection) -> int:
    """The megabytes of memory that the copied tables take."""
    return int(con.execute("select sum(memory_usage_bytes) // 1_000_000 from duckdb_memory()").fetchall()[0][0])


def _give_up_rights(limits: Limits) -> None:
    """From here on this process can take only so much more memory, and write no file, where the system knows how."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
        taken = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * _PAGE
        most = taken + limits.memory_mb * 1_000_000
        resource.setrlimit(resource.RLIMIT_AS, (most, most))


def check_question(con: duckdb.DuckDBPyConnection, sql: str) -> set[str]:
    """Refuse whatever is not one SELECT over the documented views, and give the names of those that it reads."""
    if len(sql) > _LONGEST:
        raise _Refused(f"a question may have {_LONGEST} letters at most")
    statements = con.extract_statements(sql)
    if len(statements) != 1:
        raise _Refused(f"ask one question at a time: this is {len(statements)} statements")
    kind = str(statements[0].type).removeprefix("StatementType.")
    if kind != "SELECT":
        what = "a PIVOT or several statements in one" if kind == "MULTI" else kind
        raise _Refused(f"only a SELECT can be asked; this is {what}")
    tree = json.loads(con.execute("select json_serialize_sql(?)", [sql]).fetchall()[0][0])
    if tree["error"]:
        raise _Refused(f"the question cannot be read: {tree['error_message']}")
    nodes = list(_nodes(tree["statements"]))
    _check_tree(nodes)
    return {node["table_name"].lower() for node in nodes if node.get("type") == "BASE_TABLE"} & set(VIEWS)


def _check_tree(nodes: list[Tree]) -> None:
    named = {entry["key"] for node in nodes for entry in node.get("cte_map", {}).get("map", ())}
    for node in nodes:
        if node.get("type") == "BASE_TABLE":
            _check_table(node, named)
        elif node.get("type") == "SHOW_REF" and not node.get("query"):
            raise _Refused("SHOW cannot be asked; `outcomes ask --list` shows the views, DESCRIBE their columns")
        elif node.get("type") == "TABLE_FUNCTION":
            _check_table_function(node["function"])
        elif node.get("class") == "FUNCTION" and _FORBIDDEN.match(node["function_name"].lower()):
            raise _Refused(f"{node['function_name']}() cannot be asked: it looks beyond the documented views")


def _check_table(node: Tree, named: set[str]) -> None:
    name = node["table_name"]
    elsewhere = node.get("catalog_name") or node.get("schema_name")
    if elsewhere or name.lower() not in {*VIEWS, *(each.lower() for each in named)}:
        place = ".".join(part for part in (node.get("catalog_name"), node.get("schema_name"), name) if part)
        raise _Refused(f'"{place}" is none of the documented views: {", ".join(VIEWS)}')


def _check_table_function(function: Tree) -> None:
    if function.get("function_name", "").lower() not in _TABLE_FUNCTIONS:
        raise _Refused(
            f"{function.get('function_name')}() cannot be asked: only the documented views and "
            + ", ".join(sorted(_TABLE_FUNCTIONS))
        )


def _nodes(tree: object) -> Iterator[Tree]:
    """Every node of the question, however deep."""
    left = [tree]
    while left:
        each = left.pop()
        if isinstance(each, dict):
            yield each
            left.extend(each.values())
        elif isinstance(each, list):
            left.extend(each)


def _rows(con: duckdb.DuckDBPyConnection, sql: str, given: Tree, limits: Limits) -> Tree:
    stop = threading.Timer(limits.seconds, con.interrupt)
    stop.start()
    try:
        answer = con.execute(sql, given)
        columns = [(str(each[0]), _kind(str(each[1]))) for each in answer.description or []]
        rows: list[list[Any]] = []
        size = 0
        while some := answer.fetchmany(1000):
            rows.extend([_plain(value) for value in row] for row in some)
            size += sum(len(str(value)) for row in rows[-len(some) :] for value in row)
            if len(rows) > limits.rows or size > limits.answer_mb * 1_000_000:
                raise _Refused(
                    f"the answer has more than {limits.rows} rows or {limits.answer_mb} MB; ask for less, or for counts"
                )
    except duckdb.InterruptException as error:
        raise _Refused(
            f"the question took longer than {limits.seconds:g} seconds and was stopped; ask for less at a time"
        ) from error
    finally:
        stop.cancel()
    return {"columns": columns, "rows": rows}


def _kind(kind: str) -> str:
    """The type that a column keeps in a file; what is no number, date or truth becomes text."""
    if kind.endswith(("INT", "INTEGER")):
        return kind
    if kind.startswith("DECIMAL"):
        return "DOUBLE"
    return kind if kind in _KINDS else "VARCHAR"


def _plain(value: Any) -> Any:  # noqa: ANN401 - whatever a column holds
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float | Decimal):
        return float(value) if isfinite(value) else None
    return value.isoformat() if isinstance(value, date | datetime) else str(value)


def _said(error: duckdb.Error) -> str:
    """What the database has against the question, without the line that repeats it."""
    first = str(error).split("\n\nLINE", maxsplit=1)[0]
    return "the question cannot be answered: " + " ".join(first.split())


if __name__ == "__main__":
    main()
