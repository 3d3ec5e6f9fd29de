"""Write the generated documentation anew from the program and the protocol: `python tests/maps.py`."""

from __future__ import annotations

import ast
import gzip
import re
import sys
from collections.abc import Callable, Iterable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
README, DEVELOPERS = ROOT / "README.md", ROOT / "DEVELOPERS.md"
COMMANDS = ROOT / "outcomes" / "cli" / "COMMANDS.md"
DICTIONARY = ROOT / "outcomes" / "protocol" / "DICTIONARY.md"
PROGRAM = ROOT / "outcomes" / "report" / "explorer" / "program.js.gz"
GENERATED = "Written by `python tests/maps.py`; do not edit.\n"


def _commands() -> dict[str, object]:
    from typer.main import get_command

    from outcomes.cli.app import program

    return get_command(program()).commands  # type: ignore[attr-defined,no-any-return]


def _help(thing: object) -> str:
    return " ".join((getattr(thing, "help", "") or "").split())


def _first_sentence(text: str) -> str:
    return re.split(r"(?<=[.;?])\s", text)[0].rstrip(".;")


def command_lines() -> str:
    """Every command with the first sentence of its help, a line each."""
    return "\n".join(
        f"- `outcomes {name}`: {_first_sentence(_help(command))}." for name, command in _commands().items()
    )


def command_reference() -> str:
    """Every command with what it does and its options, as its own help says it."""
    parts = ["# Commands\n", GENERATED]
    for name, command in _commands().items():
        parts.append(f"## `outcomes {name}`\n\n{_help(command)}\n")
        parts += [f"- {line}" for line in map(_option, command.params) if line]  # type: ignore[attr-defined]
        parts.append("")
    parts.append(
        "Exit codes: 0 done; 1 the data or the request was refused, with a numbered list of what, where and how to mend it;"
    )
    parts.append("2 wrong usage.\n")
    return re.sub(r"\n{3,}", "\n\n", "\n".join(parts))


def _option(parameter: object) -> str:
    name = parameter.name  # type: ignore[attr-defined]
    if name == "help":
        return ""
    argument = parameter.param_type_name == "argument"  # type: ignore[attr-defined]
    shown = (parameter.metavar or name.upper()) if argument else ", ".join(parameter.opts)  # type: ignore[attr-defined]
    return f"`{shown}` {_help(parameter)}".strip()


def _table(heads: Iterable[str], rows: Iterable[Iterable[str]]) -> list[str]:
    heads = [*heads]
    return [f"| {' | '.join(row)} |" for row in (heads, ["---"] * len(heads), *rows)]


def dictionary() -> str:
    """Every field of every sheet, measure, timed event, cover and window, as the protocol says them."""
    from outcomes.protocol import SHEETS, default_protocol

    protocol = default_protocol()
    parts = ["# Data dictionary of the default protocol", "", GENERATED]
    for sheet in SHEETS:
        fields = [(_field_name(field), field.says(), _definition(field)) for field in protocol.sheet(sheet)]
        parts += [f"## {sheet}", "", *_table(("field", "takes", "definition"), fields), ""]
    measures = [_measure_row(protocol, measure) for measure in protocol.measures]
    heads = ("measure", "poor result", "from", "compared by", "important difference", "main")
    parts += [
        "## Measures",
        "",
        "Day 0 of every lid measure is the day of division. No consensus on important differences is",
    ]
    parts += ["published: a clinic sets its own, with its reason, before it looks.", "", *_table(heads, measures), ""]
    parts += [
        "## Timed events",
        "",
        *_table(("event", "seen in", "from", "months", "verdict at"), map(_timed_row, protocol.timed)),
        "",
    ]
    captured = [(kind, protocol.captured_by(kind)) for kind in protocol.field("events", "kind").values]
    parts += ["## Kinds of events", "", *_table(("kind", "captured by"), captured), ""]
    covers = [
        (cover.id, cover.label, cover.cohort, str(cover.division_days), _span(cover.usual_division_days))
        for cover in protocol.covers
    ]
    parts += ["## Covers", "", *_table(("cover", "is", "cohort", "division planned on day", "usual days"), covers), ""]
    windows = [(each.label, str(each.nominal_days), _span(each.days)) for each in protocol.windows]
    parts += ["## Windows", "", *_table(("review", "nominal day after division", "window in days"), windows), ""]
    parts += [
        "Words of the trade that stand for a field or a value are listed under `[synonyms]` in `default.toml`.",
        "",
    ]
    return "\n".join(parts)


def _field_name(field) -> str:
    return f"`{field.id}`{' (required)' if field.required else ''}"


def _definition(field) -> str:
    return field.definition + (f" {field.source[0].upper()}{field.source[1:]}." if field.source else "")


def _measure_row(protocol, measure) -> tuple[str, ...]:
    poor = protocol.poor_words(measure) or "no rule: the value only"
    since = protocol.window(measure.poor_from).label if measure.poor_from else ""
    unit = "points" if measure.main_outcome == "share" else protocol.value_field(measure).unit or "grade"
    matters = "" if measure.important_difference is None else f"{measure.important_difference:g} {unit}"
    return (
        f"{measure.label} (`{measure.id}`)",
        poor,
        since,
        measure.main_outcome,
        matters,
        "yes" if measure.main else "",
    )


def _timed_row(timed) -> tuple[str, ...]:
    verdict = f"{timed.main_month} months" if timed.main_month else ""
    return f"{timed.label} (`{timed.id}`)", timed.origin, timed.clock, ", ".join(map(str, timed.months)), verdict


def _span(days: tuple[int, int]) -> str:
    return f"{days[0]} to {days[1]}"


def calibration() -> str:
    """How often each verdict was given, of single measures and families; whole comparisons and coverage stand in the same file."""
    verdicts = (ROOT / "tests" / "calibration" / "SUMMARY.md").read_text(encoding="utf-8").partition("\n| what |")[0]
    return "\n".join(line for line in verdicts.strip().splitlines() if not line.startswith("| whole comparison"))


def benchmarks() -> str:
    """The table of the commands, of those of which something was asked."""
    text = (ROOT / "tests" / "BENCHMARK.md").read_text(encoding="utf-8")
    lines = text.partition("## Commands\n")[2].partition("\n## ")[0].strip().splitlines()
    return "\n".join(line for line in lines if not _nothing_asked(line))


def _nothing_asked(line: str) -> bool:
    return line.startswith("|") and not line.split("|")[-3].strip()


def program() -> bytes:
    """The program with which a browser draws the charts, packed."""
    import vl_convert

    from outcomes.report.charts.drawing import VEGA_LITE

    made = vl_convert.javascript_bundle(vl_version=VEGA_LITE)  # type: ignore[call-arg] # its types ask for more
    return gzip.compress(made.encode(), mtime=0)


def modules() -> str:
    """Every module of the package with the first sentence of its docstring, a line each."""
    lines = []
    for path in sorted((ROOT / "outcomes").rglob("*.py")):
        text = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
        lines.append(f"- `{path.relative_to(ROOT / 'outcomes').as_posix()}`: {_first_sentence(' '.join(text.split()))}")
    return "\n".join(lines)


FILES: dict[Path, Callable[[], str]] = {COMMANDS: command_reference, DICTIONARY: dictionary}
PARTS: dict[Path, dict[str, Callable[[], str]]] = {
    README: {"commands": command_lines, "calibration": calibration, "benchmarks": benchmarks},
    DEVELOPERS: {"modules": modules},
}


def with_parts(path: Path) -> str:
    """The text of the file with every generated part as it is now."""
    text = path.read_text(encoding="utf-8")
    for name, made in PARTS[path].items():
        pattern = re.compile(rf"(<!-- {name}: begin -->\n).*?(<!-- {name}: end -->)", re.DOTALL)
        text = pattern.sub(lambda found, made=made: f"{found.group(1)}{made()}\n{found.group(2)}", text)  # type: ignore[misc]
    return text


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    for path, made in FILES.items():
        path.write_text(made(), encoding="utf-8")
    PROGRAM.write_bytes(program())
    for path in PARTS:
        path.write_text(with_parts(path), encoding="utf-8")
