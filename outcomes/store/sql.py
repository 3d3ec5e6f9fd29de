"""Load SQL from the folder `queries`.

In a checkout the folder `queries` beside the package is read; in an installed package the copy inside it.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent


@cache
def queries_folder() -> Path:
    """The folder that holds schema, extracts, checks and questions."""
    checkout = _PACKAGE.parent
    return checkout / "queries" if (checkout / "pyproject.toml").is_file() else _PACKAGE / "queries"


@cache
def statement(name: str) -> str:
    """The text of one query, such as `extracts/reviews`."""
    return (queries_folder() / f"{name}.sql").read_text(encoding="utf-8")


@cache
def statements_in(folder: str) -> tuple[str, ...]:
    """The names of all queries of one folder, in order, such as `schema/0001_register`."""
    return tuple(f"{folder}/{path.stem}" for path in sorted((queries_folder() / folder).glob("*.sql")))


def quoted(path: Path) -> str:
    """A path as a text in SQL."""
    return "'" + str(path).replace("'", "''") + "'"
