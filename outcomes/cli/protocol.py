"""`outcomes protocol`: show, check or change the rules of a register."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outcomes.cli.confirm import Reason, Who, Yes, confirm, now, patience, source
from outcomes.cli.options import DEFAULT_REGISTER, Frozen, RegisterPath, opened
from outcomes.cli.plurals import counted
from outcomes.errors import DataRefused

if TYPE_CHECKING:
    from outcomes.protocol import Protocol
    from outcomes.store import ProtocolEffects

ProtocolFile = Annotated[
    Path, typer.Argument(metavar="FILE", help='A protocol file; one with extends = "default" is laid over the default.')
]

protocols = typer.Typer(
    help="Show, check or change the rules of a register: fields, limits, measures, thresholds, windows.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


def add_to(app: typer.Typer) -> None:
    """Add the commands to the program."""
    app.add_typer(protocols, name="protocol")


@protocols.command()
def show(
    register: RegisterPath = DEFAULT_REGISTER,
    frozen: Frozen = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print the whole protocol as JSON.")] = False,
) -> None:
    """Show the rules of a register or a freeze, and every protocol that the register had before."""
    with opened(register, frozen) as reading:
        protocol = reading.protocol
    if as_json:
        typer.echo(protocol.text)
        return
    _say(protocol)
    if not frozen:
        _say_versions(register)


@protocols.command()
def check(file: ProtocolFile, register: RegisterPath = DEFAULT_REGISTER) -> None:
    """Check a protocol file, and say what it would change in a register that is there. Nothing is changed."""
    from outcomes.protocol import read_protocol
    from outcomes.store import protocol_effects, reading

    protocol = read_protocol(file)
    typer.echo(f"{file} is sound: {protocol.name!r} (fingerprint {protocol.fingerprint}).")
    if not register.exists():
        return
    with reading(register, patience()) as held:
        old = held.protocol
    _say_changes(old, protocol, protocol_effects(register, protocol, patience()))


@protocols.command()
def change(
    file: ProtocolFile,
    reason: Reason,
    register: RegisterPath = DEFAULT_REGISTER,
    who: Who = "",
    yes: Yes = False,
) -> None:
    """Give a register another protocol, after listing what changes and asking. Freezes keep theirs.

    A field or a level that is held cannot be taken away.
    """
    from outcomes.protocol import read_protocol
    from outcomes.store import Source, change_protocol, protocol_effects, reading

    protocol = read_protocol(file)
    with reading(register, patience()) as held:
        old = held.protocol
    _say_changes(old, protocol, protocol_effects(register, protocol, patience()))
    confirm(f"{register} will have the protocol {protocol.fingerprint} from now on.", "change", yes=yes)
    by = source(who, reason)
    number = change_protocol(
        register, protocol, source=Source(file.name, "", by.who, by.reason), at=now(), patience=patience()
    )
    typer.echo(f"The register has the protocol {protocol.fingerprint} from change {number} on; the one before is kept.")


def _say_changes(old: Protocol, new: Protocol, effects: ProtocolEffects) -> None:
    """List what changes; raises DataRefused for what the register holds and the new protocol does not allow."""
    from outcomes.protocol import protocol_differences

    differences = protocol_differences(old, new)
    if not differences:
        typer.echo("It is the protocol of the register; nothing changes.")
    elif old.fingerprint == new.fingerprint:
        typer.echo("Only the words by which sheets are read change; no result does.")
    else:
        typer.echo(f"{counted(len(differences), 'change')} of the protocol:")
    judging = [each for each in differences if each.table != "synonyms"]
    for number, each in enumerate(judging, start=1):
        typer.echo(f"{number:>4}. {each}")
    if len(judging) < len(differences):
        typer.echo("      and words by which sheets are read, which judge nothing")
    for line in effects.readings:
        typer.echo(f"  Held values: {line}")
    if effects.problems:
        raise DataRefused("the protocol does not fit what the register holds", list(effects.problems))


def _say(protocol: Protocol) -> None:
    typer.echo(f"{protocol.name} (fingerprint {protocol.fingerprint})")
    typer.echo("\nMeasures (poor result):")
    for measure in protocol.measures:
        first = f", from {protocol.window(measure.poor_from).label} on" if measure.poor_from else ""
        main = " [main]" if measure.main else ""
        typer.echo(f"  {measure.label}: {protocol.poor_words(measure) or 'no rule'}{first}{main}")
    typer.echo("\nWindows (days after division):")
    for window in protocol.windows:
        typer.echo(f"  {window.label}: {window.nominal_days} ({window.days[0]} to {window.days[1]})")
    typer.echo("\nRules:")
    for name, value in protocol.document["rules"].items():
        typer.echo(f"  {name}: {value}")


def _say_versions(register: Path) -> None:
    from outcomes.protocol import default_protocol, keys_lacking
    from outcomes.store import protocol_versions, reading

    typer.echo("\nProtocols of this register:")
    for each in protocol_versions(register, patience()):
        since = (
            f"from change {each.change} on, {each.at:%Y-%m-%d}, {each.who}: {each.reason}" if each.at else "at first"
        )
        typer.echo(f"  {each.fingerprint} {since} (version {each.software} of this program)")
    with reading(register, patience()) as held:
        lacking = keys_lacking(held.protocol, default_protocol())
    if lacking:
        typer.echo("\nKeys of the present default protocol that this one lacks (what held before them holds):")
        for line in lacking:
            typer.echo(f"  {line}")
