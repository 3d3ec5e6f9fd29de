"""Are the generated parts of README.md true? `python tests/maps.py` writes them anew from the program and the protocol."""

from __future__ import annotations

import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
README = ROOT / "README.md"


def commands() -> str:
    """Every command with what it does and its options, as its own help says it."""
    from typer.main import get_command

    from outcomes.cli.app import app

    parts = []
    for name, command in get_command(app).commands.items():  # type: ignore[attr-defined]
        parts.append(f"**`outcomes {name}`** — {' '.join((command.help or '').split())}\n")
        parts += [f"- {line}" for line in map(_option, command.params) if line]
        parts.append("")
    parts.append(
        "Exit codes: 0 done; 1 the data or the request was refused, with a numbered list of what, where and how to mend it; 2 wrong usage."
    )
    return "\n".join(parts).strip()


def _option(parameter: object) -> str:
    name = parameter.name  # type: ignore[attr-defined]
    if name == "help":
        return ""
    argument = parameter.param_type_name == "argument"  # type: ignore[attr-defined]
    shown = (parameter.metavar or name.upper()) if argument else ", ".join(parameter.opts)  # type: ignore[attr-defined]
    return f"`{shown}` {' '.join((getattr(parameter, 'help', '') or '').split())}".strip()


def dictionary() -> str:
    """Every field of every sheet, and every measure with its poor-result rule, as the protocol says them."""
    from outcomes.protocol import SHEETS, default_protocol

    protocol = default_protocol()
    parts = []
    for sheet in SHEETS:
        parts += [f"### {sheet}", "", "| field | takes | definition |", "|---|---|---|"]
        parts += [
            f"| `{field.id}`{' (required)' if field.required else ''} | {field.says()} | {field.definition}"
            f"{f' {field.source[0].upper()}{field.source[1:]}.' if field.source else ''} |"
            for field in protocol.sheet(sheet)
        ]
        parts.append("")
    parts += [
        "### Measures",
        "",
        "Day 0 of every lid measure is the day of division.",
        "",
        "| measure | poor result | from | main |",
        "|---|---|---|---|",
    ]
    parts += [
        f"| {measure.label} (`{measure.id}`) | {protocol.poor_words(measure) or 'no rule: the value only'} | "
        f"{protocol.window(measure.poor_from).label if measure.poor_from else ''} | {'yes' if measure.main else ''} |"
        for measure in protocol.measures
    ]
    parts += ["", "### Windows", "", "| review | nominal day after division | window in days |", "|---|---|---|"]
    parts += [
        f"| {window.label} | {window.nominal_days} | {window.days[0]} to {window.days[1]} |"
        for window in protocol.windows
    ]
    return "\n".join(parts)


def calibration() -> str:
    """What the calibration found, as its own result table says it; empty until it was run."""
    found = ROOT / "tests" / "calibration" / "SUMMARY.md"
    return found.read_text(encoding="utf-8").strip() if found.exists() else ""


PARTS = {"commands": commands, "dictionary": dictionary, "calibration": calibration}


def with_parts(text: str) -> str:
    """The text of the README with every generated part as it is now."""
    for name, made in PARTS.items():
        pattern = re.compile(rf"(<!-- {name}: begin -->\n).*?(<!-- {name}: end -->)", re.DOTALL)
        text = pattern.sub(lambda found, made=made: f"{found.group(1)}{made()}\n{found.group(2)}", text)  # type: ignore[misc]
    return text


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    README.write_text(with_parts(README.read_text(encoding="utf-8")), encoding="utf-8")
