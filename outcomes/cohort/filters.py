"""What was asked for: which cases, which windows, which measures, on which day?"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from datetime import date

from outcomes.errors import WrongUsage
from outcomes.protocol import Protocol


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

    def says(self) -> tuple[str, ...]:
        """Say each filter in words, for the stamp and the flow; empty when everything was asked for."""
        words = []
        if self.operated_from:
            words.append(f"operated on or after {self.operated_from}")
        if self.operated_to:
            words.append(f"operated on or before {self.operated_to}")
        for name in ("sites", "surgeons", "diagnoses", "windows", "measures"):
            chosen = getattr(self, name)
            if chosen:
                words.append(f"{name}: {', '.join(chosen)}")
        return tuple(words)


def _check_known(kind: str, chosen: tuple[str, ...], known: list[str]) -> None:
    for name in chosen:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            hint = f' Did you mean "{near[0]}"?' if near else ""
            raise WrongUsage(f'there is no {kind} "{name}".{hint} Known: {", ".join(known)}')
