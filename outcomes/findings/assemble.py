"""The case series of a register, and the stamp of a run."""

from __future__ import annotations

from outcomes.cohort import CaseSeries, Register, Selection, assemble, read_frames
from outcomes.findings.results import Stamp
from outcomes.protocol import Protocol, default_protocol, keys_lacking


def case_series(register: Register, protocol: Protocol, selection: Selection) -> CaseSeries:
    """Read the register once into the case series that was asked for."""
    return assemble(read_frames(register, protocol), protocol, selection)


def stamp(series: CaseSeries, *, digest: str, frozen: str, software: str) -> Stamp:
    """What every file of this run is stamped with."""
    return Stamp(
        cases=series.cases.height,
        digest=digest,
        frozen=frozen,
        as_of=series.as_of,
        software=software,
        protocol=series.protocol.name,
        fingerprint=series.protocol.fingerprint,
        selection=series.selection.choices,
        protocol_lacks=keys_lacking(series.protocol, default_protocol()),
    )
