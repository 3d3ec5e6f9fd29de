"""Create a register, open a verified one, and migrate one made by an earlier version of the program."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import duckdb

from outcomes.errors import RegisterRefused
from outcomes.protocol import Protocol
from outcomes.store.audit_chain import first_link, verified_chain
from outcomes.store.connection import Patience, new_file, open_to_write
from outcomes.store.files import safely_written
from outcomes.store.schema import apply_migrations, fill_new, newest_schema, schema_version
from outcomes.store.sql import quoted
from outcomes.store.tip import Head, HeadNote, check_head, note_head
from outcomes.whole_files import real_path

Chain = tuple[Head, ...]
Opener = Callable[[Path, Patience], AbstractContextManager[duckdb.DuckDBPyConnection]]


def create_register(path: Path, protocol: Protocol) -> None:
    """An empty register with this protocol is at the path afterwards; after a failure there is nothing there.

    Raises RegisterRefused when something is there already, and DataRefused when the protocol has a field for which the
    register has no column. A further measure, or any other observed field of a review, needs none.
    """
    if path.exists():
        raise RegisterRefused(f"{path} is there already and was left as it is; give another path for the new register")
    path = real_path(path)
    with safely_written(path) as part:
        with new_file(part) as con:
            fill_new(con, protocol)
            head = first_link(con)
        note_head(path, HeadNote(head))


@contextmanager
def verified(open_it: Opener, path: Path, patience: Patience) -> Iterator[tuple[duckdb.DuckDBPyConnection, Chain]]:
    """The register opened in that way with its verified chain; an older one is first brought up to date.

    Raises RegisterRefused when it is absent, busy, damaged, newer than the program, altered, or has lost changes.
    """
    path = real_path(path)
    with open_it(path, patience) as con:
        if schema_version(path, con) == newest_schema():
            yield con, _verified_chain(path, con)
            return
    bring_up_to_date(path, patience)
    with open_it(path, patience) as con:
        yield con, _verified_chain(path, con)


def _verified_chain(path: Path, con: duckdb.DuckDBPyConnection) -> Chain:
    chain = verified_chain(path, con)
    check_head(path, chain)
    return chain


def bring_up_to_date(path: Path, patience: Patience) -> None:
    """The register has the present tables afterwards, with a copy as it was beside it; or nothing was done."""
    with open_to_write(path, patience) as con:
        version = schema_version(path, con)
        _verified_chain(path, con)
        write_copy(con, path.with_name(f"{path.name}.before-schema-{newest_schema()}"))
        apply_migrations(con, after=version)
        con.execute("checkpoint")


def write_copy(con: duckdb.DuckDBPyConnection, to: Path) -> None:
    """A compact copy of the open register is at `to`; after a failure, what was there before."""
    name = con.execute("select current_database()").fetchall()[0][0]
    with safely_written(to) as part:
        con.execute(f"attach {quoted(part)} as copied (read_write)")
        con.execute(f'copy from database "{name}" to copied')
        con.execute("detach copied")
