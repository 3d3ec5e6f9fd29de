"""How long the commands, the stages of a comparison and the estimators take, and how that grows with the register.

`python tests/benchmark.py` prints three tables; nothing here passes or fails. `--lids 1000 10000 100000` sets the sizes of
the made registers (one of a million lids takes hours: `--lids 1000000`), `--part` prints one table only. Wall time and the
time of the processors are both given, as a busy machine stretches only the first. All data are invented.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from tests import large_register  # noqa: E402
from tests.statistics import benchmark_estimators  # noqa: E402

AS_OF = date(2026, 6, 30)
SIZES = (1_000, 10_000, 100_000)
PATIENT = ["--age", "72", "--defect-width", "20", "--lid-width", "30", "--laxity", "6", "--fellow-vision", "0.1"]
PATIENT += ["--depth", "full thickness"]
WITH_PROJECT = {**os.environ, "PYTHONPATH": str(ROOT)}
PARTS = ("commands", "stages", "estimators")


@dataclass(frozen=True)
class Spent:
    """What some work took: seconds of the clock, seconds of the processors, and the most memory of its process in MB."""

    wall: float
    processor: float
    memory: float


def command(*arguments: str, folder: Path) -> Spent:
    """A whole command, from the start to the end of its process and of those that it starts."""
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    program = [sys.executable, "-m", "outcomes.cli", *arguments]
    subprocess.run(program, cwd=folder, env=WITH_PROJECT, check=True, capture_output=True)
    wall, after = time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
    return Spent(wall, _processor(after) - _processor(before), after.ru_maxrss / 1024)


def _processor(used: resource.struct_rusage) -> float:
    return used.ru_utime + used.ru_stime


def median(runs: list[Spent]) -> Spent:
    """The medians of several runs, and the most memory of any."""
    wall, processor = (statistics.median(getattr(run, name) for run in runs) for name in ("wall", "processor"))
    return Spent(wall, processor, max(run.memory for run in runs))


def show_commands(repeats: int) -> None:
    """The commands on the invented clinic of the demo, beside the seconds that were asked for."""
    day, workbook = ("--as-of", AS_OF.isoformat()), str(ROOT / "demo" / "invented_clinic.xlsx")
    print(f"{'command, on the demo':<32} {'wall':>8} {'cpu':>8} {'MB':>6} {'asked':>6} {'ratio':>6}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for told, arguments, asked, times in (
            ("--help", ("--help",), 0.15, repeats),
            ("new", ("new",), math.nan, 1),
            ("load the workbook", ("load", workbook, *day), math.nan, 1),
            ("load it again", ("load", workbook, *day), math.nan, repeats),
            ("due", ("due", *day), 0.7, repeats),
            ("compare --no-charts", ("compare", "--no-charts", *day, "--out", "r"), 2.0, repeats),
            ("compare, every chart", ("compare", *day, "--out", "r"), 5.0, repeats),
            ("counsel, the sheet", ("counsel", *PATIENT, *day, "--out", "s.pdf"), 1.5, repeats),
            ("freeze", ("freeze", "locked"), math.nan, 1),
            ("pack", ("pack", "--for", "public", "--frozen", "locked", *day, "--out", "p"), 12.0, 1),
        ):
            spent = median([command(*arguments, folder=folder) for _ in range(times)])
            print(
                f"{told:<32} {spent.wall:>8.2f} {spent.processor:>8.2f} {spent.memory:>6.0f}"
                f" {asked:>6.2f} {spent.wall / asked:>6.2f}"
            )


@dataclass
class Stages:
    """The stages of one run in the process that runs them."""

    spent: dict[str, Spent] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Measure what is done inside."""
        wall, processor = time.perf_counter(), time.process_time()
        yield
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        self.spent[name] = Spent(time.perf_counter() - wall, time.process_time() - processor, most)


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


def stages_of(lids: int, *, findings: bool) -> tuple[int, dict[str, Spent]]:
    """The rows of a made register of so many lids, and what each stage of its load and comparison took."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "made"
        rows = large_register.write(folder, lids)
        program = [sys.executable, __file__, "--stages-of", str(folder), *([] if findings else ["--no-findings"])]
        ran = subprocess.run(program, env=WITH_PROJECT, check=True, capture_output=True, text=True)
    return rows, {stage: Spent(*spent) for stage, spent in json.loads(ran.stdout.splitlines()[-1]).items()}


def show_stages(sizes: list[int], findings_up_to: int) -> None:
    """Every stage at every size, and the exponent with which its processor time grows between neighbouring sizes."""
    before: tuple[int, dict[str, Spent]] | None = None
    print(f"{'stage':<28} {'lids':>9} {'wall':>9} {'cpu':>9} {'rows/cpu s':>11} {'peak MB':>8} {'growth':>7}")
    for lids in sizes:
        rows, spent = stages_of(lids, findings=lids <= findings_up_to)
        for stage, each in spent.items():
            grown = ""
            if before is not None and stage in before[1]:
                ratio = each.processor / before[1][stage].processor
                grown = f"{math.log(ratio) / math.log(lids / before[0]):.2f}"
            rate = rows / max(each.processor, 1e-9)
            print(
                f"{stage:<28} {lids:>9,} {each.wall:>9.2f} {each.processor:>9.2f} {rate:>11,.0f}"
                f" {each.memory:>8.0f} {grown:>7}",
                flush=True,
            )
        before = lids, spent


def main() -> None:
    """Print what was asked for."""
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("--part", choices=PARTS, action="append")
    given.add_argument("--lids", type=int, nargs="+", default=SIZES)
    given.add_argument("--findings-up-to", type=int, default=10_000, help="the largest register that is compared too")
    given.add_argument("--repeats", type=int, default=5)
    given.add_argument("--stages-of", type=Path, help=argparse.SUPPRESS)
    given.add_argument("--no-findings", action="store_true", help=argparse.SUPPRESS)
    options = given.parse_args()
    if options.stages_of:
        run_stages(options.stages_of, findings=not options.no_findings)
        return
    parts = options.part or PARTS
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    if "commands" in parts:
        show_commands(options.repeats)
    if "stages" in parts:
        show_stages(sorted(options.lids), options.findings_up_to)
    if "estimators" in parts:
        benchmark_estimators.main()


if __name__ == "__main__":
    main()
