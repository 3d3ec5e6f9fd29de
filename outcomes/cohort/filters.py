"""The filters of one run: cases, windows, measures and the as-of day."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from datetime import date

from outcomes.errors import WrongUsage
from outcomes.protocol import Protocol


@dataclass(frozen=True)
class Choice:
    """One filter that was set: its name in `Selection`, and the values chosen."""

    id: str
    values: tuple[str, ...]

    def says(self) -> str:
        """Say the filter in words."""
        return f"{_WORDS.get(self.id, f'{self.id}:')} {', '.join(self.values)}"


_WORDS = {"operated_from": "operated on or after", "operated_to": "operated on or before"}


@dataclass(frozen=True)
class Selection:
    """The filters of one run; empty means everything. `as_of` is the day the result speaks for: later things are unknown."""

    as_of: date
    operated_from: date | None = None
    operated_to: date | None = None
    sites: tuple[str, ...] = ()
    surgeons: tuple[str, ...] = ()
    diagnoses: tuple[str, ...] = ()
    windows: tuple[str, ...] = ()
    measures: tuple[str, ...] = ()

    def check_against(self, protocol: Protocol) -> None:
        """Refuse, as wrong usage, a window, measure or diagnosis that the protocol does not know, and dates in the wrong order."""
        _check_known("window", self.windows, [window.id for window in protocol.windows])
        _check_known("measure", self.measures, [measure.id for measure in protocol.measures])
        _check_known("diagnosis", self.diagnoses, list(protocol.field("reconstructions", "diagnosis").values))
        if self.operated_from and self.operated_to and self.operated_from > self.operated_to:
            raise WrongUsage(f"--from {self.operated_from} lies after --to {self.operated_to}; swap them")

    def check_against_codes(self, sites: list[str], surgeons: list[str]) -> None:
        """Refuse, as wrong usage, a site or a surgeon that no case of the register has."""
        _check_known("site", self.sites, sites)
        _check_known("surgeon", self.surgeons, surgeons)

    @property
    def choices(self) -> tuple[Choice, ...]:
        """Each filter that was set, in the order of the steps; empty when everything was asked for."""
        days = [Choice(name, (str(day),)) for name in ("operated_from", "operated_to") if (day := getattr(self, name))]
        lists = ("sites", "surgeons", "diagnoses", "windows", "measures")
        return (*days, *(Choice(name, values) for name in lists if (values := getattr(self, name))))

    def says(self) -> tuple[str, ...]:
        """Say each filter in words; empty when everything was asked for."""
        return tuple(choice.says() for choice in self.choices)


def _check_known(kind: str, chosen: tuple[str, ...], known: list[str]) -> None:
    for name in chosen:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            hint = f' Did you mean "{near[0]}"?' if near else ""
            raise WrongUsage(f'there is no {kind} "{name}".{hint} Known: {", ".join(known)}')
