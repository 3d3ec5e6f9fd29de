"""How long the commands, the set-up, the stages of a comparison and the estimators take, and how that grows.

`python tests/benchmark.py` prints a table a part; nothing here passes or fails. `--part` asks for one part only, `--lids` sets
the sizes of the made registers, `--write` puts the tables that were made into `tests/BENCHMARK.md`, which the README quotes.
Wall time and the time of the processors are both given, as a busy machine stretches only the first. All data are invented.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import platform
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[0] = str(ROOT)  # instead of this folder, whose `statistics` would hide that of the standard library

from statistics import median as middle  # noqa: E402

from tests import large_register  # noqa: E402
from tests.statistics import benchmark_estimators  # noqa: E402

AS_OF = date(2026, 6, 30)
DAY = ("--as-of", AS_OF.isoformat())
RESULT = ROOT / "tests" / "BENCHMARK.md"
WITH_PROJECT = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}  # the commands set that themselves
PATIENT = ["--age", "72", "--defect-width", "20", "--lid-width", "30", "--laxity", "6", "--fellow-vision", "0.1"]
PATIENT += ["--depth", "full thickness"]
MOST_WITH_CHARTS, MOST_WITH_FINDINGS = 5_000, 100_000  # lids
RATE, MANY = 50_000, 1_000_000  # rows a second asked of a load, and from how many rows on
ASKED_OF_REGISTERS = {1_000: 8.0, 5_000: 20.0, 1_000_000: 60.0}  # seconds
MEASURED = """
import resource, subprocess, sys, time
begun = time.perf_counter()
subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(time.perf_counter() - begun, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)
"""  # in a process of its own, as what other children used is counted for good
Row = tuple[str, ...]


@dataclass(frozen=True)
class Spent:
    """What some work took: seconds of the clock, seconds of the processors, and the most memory in MB of any process."""

    wall: float
    processor: float
    memory: float


def spent_by(program: list[str], folder: Path) -> Spent:
    """What a whole program took, from the start to the end of its process and of those that it starts."""
    ran = subprocess.run(
        [sys.executable, "-c", MEASURED, *program],
        cwd=folder,
        env=WITH_PROJECT,
        check=True,
        capture_output=True,
        text=True,
    )
    return Spent(*map(float, ran.stdout.split()))


def command(*arguments: str, folder: Path) -> Spent:
    """What a command took."""
    return spent_by([sys.executable, "-m", "outcomes.cli", *arguments], folder)


def median(runs: list[Spent]) -> Spent:
    """The medians of several runs, and the most memory of any."""
    wall, processor = (middle(getattr(run, name) for run in runs) for name in ("wall", "processor"))
    return Spent(wall, processor, max(run.memory for run in runs))


def shown(spent: Spent, asked: float) -> Row:
    """Wall, processor, memory, what was asked for and how much of it was taken."""
    beside = (f"{asked:.3g} s", f"{spent.wall / asked:.2f}") if math.isfinite(asked) else ("", "")
    return f"{spent.wall:.2f} s", f"{spent.processor:.2f} s", f"{spent.memory:.0f} MB", *beside


def commands(options: argparse.Namespace) -> Iterator[Row]:
    """The commands on the invented clinic of the demo."""
    workbook = str(ROOT / "demo" / "invented_clinic.xlsx")
    yield "command, on the demo", "runs", "wall", "processors", "peak", "asked", "share of it"
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for told, arguments, asked, times in (
            ("--help", ("--help",), 0.15, options.repeats),
            ("new", ("new",), math.nan, 1),
            ("load the workbook", ("load", workbook, *DAY), math.nan, 1),
            ("load it again", ("load", workbook, *DAY), math.nan, options.repeats),
            ("due", ("due", *DAY), 0.7, options.repeats),
            ("compare --no-charts", ("compare", "--no-charts", *DAY, "--out", "r"), 2.0, options.repeats),
            ("compare, every chart", ("compare", *DAY, "--out", "r"), 5.0, options.repeats),
            ("counsel, the sheet", ("counsel", *PATIENT, *DAY, "--out", "s.pdf"), 1.5, options.repeats),
            ("freeze", ("freeze", "locked"), math.nan, 1),
            ("pack", ("pack", "--for", "own-eyes", "--frozen", "locked", *DAY, "--out", "p"), 12.0, 1),
        ):
            runs = []
            for _ in range(times):
                (folder / "s.pdf").unlink(missing_ok=True)
                runs.append(command(*arguments, folder=folder))
            yield told, str(times), *shown(median(runs), asked)


def setting_up(_: argparse.Namespace) -> Iterator[Row]:
    """`demo/run.py` in a fresh copy of the project: with nothing made, and once more."""
    yield "demo/run.py", "wall", "processors", "peak", "asked", "share of it"
    with tempfile.TemporaryDirectory() as name:
        subprocess.run(["git", "clone", "-q", str(ROOT), f"{name}/copy"], check=True)
        for told, asked in (("from nothing, packages in the cache", 35.0), ("once more", 8.0)):
            program = [getattr(sys, "_base_executable", sys.executable), "demo/run.py"]
            yield told, *shown(spent_by(program, Path(name) / "copy"), asked)


def registers(options: argparse.Namespace) -> Iterator[Row]:
    """Whole commands on made registers; charts up to 5,000 lids."""
    yield "made register", "lids", "rows", "wall", "processors", "peak", "asked", "share of it"
    for lids in sorted(options.lids):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            rows = large_register.write(folder / "made", lids)
            size = f"{lids:,}", f"{rows:,}"
            command("new", folder=folder)
            loaded = command("load", "made", *DAY, folder=folder)
            yield (
                f"load, {rows / loaded.wall:,.0f} rows/s",
                *size,
                *shown(loaded, rows / RATE if rows >= MANY else math.nan),
            )
            charts = [] if lids <= MOST_WITH_CHARTS else ["--no-charts"]
            told = "compare --no-charts" if charts else "compare, every chart"
            spent = command("compare", *charts, *DAY, "--out", "r", folder=folder)
            page = (folder / "r" / "report.html").stat().st_size / 1e6
            yield f"{told}, page {page:.1f} MB", *size, *shown(spent, ASKED_OF_REGISTERS.get(lids, math.nan))


def most_memory() -> float:
    """The most memory in MB that this process has had; what the process that started it had does not count, as it does elsewhere."""
    status = Path("/proc/self/status")
    if not status.exists():
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return int(re.search(r"VmHWM:\s*(\d+)", status.read_text(encoding="utf-8"))[1]) / 1024


@dataclass
class Stages:
    """The stages of one run in the process that runs them."""

    spent: dict[str, Spent] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Measure what is done inside."""
        wall, processor = time.perf_counter(), time.process_time()
        yield
        self.spent[name] = Spent(time.perf_counter() - wall, time.process_time() - processor, most_memory())


def run_stages(folder: Path, *, findings: bool) -> None:
    """Load the tables of the folder into a new register, compare, and print what each stage took as JSON."""
    from outcomes.capture import HeldRows, check_sheets, digest_of, read_sheets
    from outcomes.cohort import Selection, assemble, read_frames
    from outcomes.findings import compare
    from outcomes.findings.assemble import stamp
    from outcomes.protocol import default_protocol
    from outcomes.store import Source, create_register, reading, record_rows

    stages, protocol, register = Stages(), default_protocol(), folder / "register.duckdb"
    create_register(register, protocol)
    with stages.stage("read the tables"):
        digest, raw = digest_of(folder), read_sheets(folder, protocol)
    with stages.stage("check every row"):
        checked = check_sheets(raw, protocol, as_of=AS_OF, held=HeldRows())
    with stages.stage("record and seal"):
        record_rows(
            register,
            checked.single,
            plain=checked.plain,
            queries=checked.queries,
            source=Source(folder.name, digest),
            at=datetime(2026, 6, 30),  # noqa: DTZ001 - the clock of the register has no zone
        )
    with stages.stage("open and verify the chain"):
        opened = reading(register)
        held = opened.__enter__()
    with stages.stage("digest of the content"):
        mark = held.digest
    with stages.stage("extract"):
        frames = read_frames(held, protocol)
    opened.__exit__(None, None, None)
    with stages.stage("assemble the cohorts"):
        series = assemble(frames, protocol, Selection(AS_OF))
    if findings:
        with stages.stage("findings"):
            compare(series, stamp(series, digest=mark, frozen="", software="benchmark"))
    print(json.dumps({name: [each.wall, each.processor, each.memory] for name, each in stages.spent.items()}))


def stages_of(lids: int) -> tuple[int, dict[str, Spent]]:
    """The rows of a made register of so many lids, and what each stage of its load and comparison took."""
    findings = [] if lids <= MOST_WITH_FINDINGS else ["--no-findings"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "made"
        rows = large_register.write(folder, lids)
        program = [sys.executable, __file__, "--stages-of", str(folder), *findings]
        ran = subprocess.run(program, env=WITH_PROJECT, check=True, capture_output=True, text=True)
    return rows, {stage: Spent(*spent) for stage, spent in json.loads(ran.stdout.splitlines()[-1]).items()}


def stages(options: argparse.Namespace) -> Iterator[Row]:
    """Every stage at every size, and the exponent with which its processor time grows between neighbouring sizes."""
    before: tuple[int, dict[str, Spent]] | None = None
    yield "stage", "lids", "wall", "processors", "rows a processor second", "peak", "growth"
    for lids in sorted(options.lids):
        rows, spent = stages_of(lids)
        for stage, each in spent.items():
            grown = ""
            if before is not None and stage in before[1]:
                ratio = each.processor / before[1][stage].processor
                grown = f"{math.log(ratio) / math.log(lids / before[0]):.2f}"
            rate = f"{rows / max(each.processor, 1e-9):,.0f}"
            yield stage, f"{lids:,}", *shown(each, math.nan)[:2], rate, f"{each.memory:.0f} MB", grown
        before = lids, spent


def estimators(_: argparse.Namespace) -> Iterator[Row]:
    """The estimators in seconds of the processor, with other programs in the same run where they are installed."""
    return benchmark_estimators.rows()


PARTS: dict[str, Callable[[argparse.Namespace], Iterator[Row]]] = {
    "commands": commands,
    "set-up": setting_up,
    "registers": registers,
    "estimators": estimators,
    "stages": stages,
}


def table(rows: Iterable[Row]) -> str:
    """The rows as a table, the first of them its heads; each is printed when it is there."""
    lines = []
    for number, row in enumerate(rows):
        lines += [f"| {' | '.join(row)} |", *(["|---" * len(row) + "|"] if number == 0 else [])]
        print("\n".join(lines[-2:] if number == 0 else lines[-1:]), flush=True)
    return "\n".join(lines)


def machine() -> str:
    """What it was measured on."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    model = re.search(r"model name\s*: (.*)", Path("/proc/cpuinfo").read_text(encoding="utf-8"))
    return (
        f"Measured on {datetime.now(UTC):%Y-%m-%d} with {os.cpu_count()} cores ({model[1] if model else platform.machine()}),"
        f" {memory:.0f} GB, {platform.system()}, Python {platform.python_version()}; load at the start {os.getloadavg()[0]:.1f}."
    )


def write(made: dict[str, str]) -> None:
    """Put the tables that were made into the result, and keep its others."""
    text = RESULT.read_text(encoding="utf-8") if RESULT.exists() else ""
    kept = dict(re.findall(r"^## (.*?)\n\n(.*?)\s*(?=^## |\Z)", text, re.DOTALL | re.MULTILINE))
    parts = {**kept, **{name.capitalize(): each for name, each in made.items()}}
    order = [name.capitalize() for name in PARTS if name.capitalize() in parts]
    RESULT.write_text("\n\n".join([HEAD, *(f"## {name}\n\n{parts[name]}" for name in order)]) + "\n", encoding="utf-8")


HEAD = """# Benchmarks

Made by `python tests/benchmark.py --write`; medians of several runs. Wall time is what one waits, processors is the time of all
processors together, peak the most memory of any one process. *Asked* is the target that was set before. Where the load at the start
was more than the number of cores, the wall times are not those of an idle machine."""


def main() -> None:
    """Print what was asked for."""
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("--part", choices=[*PARTS], action="append")
    given.add_argument("--lids", type=int, nargs="+", default=(1_000, 5_000))
    given.add_argument("--repeats", type=int, default=5)
    given.add_argument("--write", action="store_true", help="put the tables into tests/BENCHMARK.md")
    given.add_argument("--stages-of", type=Path, help=argparse.SUPPRESS)
    given.add_argument("--no-findings", action="store_true", help=argparse.SUPPRESS)
    options = given.parse_args()
    if options.stages_of:
        run_stages(options.stages_of, findings=not options.no_findings)
        return
    made = {}
    for name in options.part or PARTS:
        told = machine()
        print(f"\n{name.upper()}: {PARTS[name].__doc__}\n{told}\n")
        made[name] = f"{PARTS[name].__doc__} {told}\n\n{table(PARTS[name](options))}"
    if options.write:
        write(made)


if __name__ == "__main__":
    main()
