"""Names of a package that are imported from their modules when they are first used."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module


def lazy_names(modules: Mapping[str, str]) -> Callable[[str], object]:
    """Give the `__getattr__` of a package whose public names stand in these modules; AttributeError for any other name.

    >>> lazy_names({"sqrt": "math"})("sqrt")
    <built-in function sqrt>
    """

    def found(name: str) -> object:
        if name not in modules:
            raise AttributeError(name)
        return getattr(import_module(modules[name]), name)

    return found
