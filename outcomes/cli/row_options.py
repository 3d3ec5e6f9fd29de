"""Options that name one row of a case: the reconstruction itself, or a review or event of a day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.cli.options import day
from outcomes.errors import WrongUsage

if TYPE_CHECKING:
    from outcomes.protocol import RowAddress

Case = Annotated[str, typer.Argument(metavar="CASE", help="Study code of the case.")]
ReviewOption = Annotated[str | None, typer.Option("--review", metavar="DATE", help="The review of this day.")]
EventOption = Annotated[
    tuple[str, str] | None, typer.Option("--event", metavar="KIND DATE", help="The event of this kind and day.")
]
AssessorOption = Annotated[str, typer.Option("--assessor", help="Which of several reviews that day.")]
ModeOption = Annotated[str, typer.Option("--mode", help="Which of several reviews that day by one assessor.")]


def row_address(
    case: str, review: str | None, event: tuple[str, str] | None, assessor: str = "", mode: str = ""
) -> RowAddress:
    """The row that the options name; raises WrongUsage for a review and an event at once."""
    from outcomes.protocol import RowAddress

    if review and event:
        raise WrongUsage("give --review or --event, not both")
    if event:
        return RowAddress(case, day(event[1], "--event"), kind=event[0])
    return RowAddress(case, day(review, "--review"), assessor, mode)
