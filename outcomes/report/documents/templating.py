"""With which templates are pages made?

Everything that enters a template is escaped; only our own charts are let through as they are.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

HERE = Path(__file__).with_name("templates")


@cache
def templates() -> Environment:
    """The templates of this folder, escaping everything, and refusing names that were not given."""
    return Environment(
        loader=FileSystemLoader(HERE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
