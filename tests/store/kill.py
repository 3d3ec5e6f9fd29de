"""Is a register whole after its program was killed at any moment? `python tests/store/kill.py 200`, 200 kills.

Each round begins with the same register, starts one act in a process of its own, kills it after a random part of the time
that the act takes, and then opens the register: it must open without an alarm, hold the state from before the act or from
after it, and that from after it if the act had been reported as done; the act must be possible again, and the next
change too. A freeze, a backup or a copy must be there wholly or not at all.
"""

import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from outcomes.store import (  # noqa: E402 - found by the path that was just set
    Amendment,
    Source,
    amend_value,
    backup,
    check_backup,
    check_register,
    erase_patients,
    freeze,
    freezes_of,
    reading,
    reading_frozen,
    record_rows,
    restore,
)
from tests.store.clinic import AT, FILE, case, digest, made, patient, review  # noqa: E402
from tests.store.tomorrow import NUMBER, build, command, told  # noqa: E402

WHY = Source(who="NB", reason="killed on purpose")
MORE = [make(number) for make in (patient, case, review) for number in range(10, 60)]


def record(path):
    record_rows(path, MORE, source=FILE, at=AT)


def amend(path):
    amend_value(path, Amendment("C1", "side", "left"), source=WHY, at=AT)


def make_freeze(path):
    freeze(path, "spring", source=WHY, at=AT)


def make_backup(path):
    backup(path, path.with_name("backup.zip"), at=AT)


def erase(path):
    erase_patients(path, ["P2"], source=WHY, at=AT)


def put_back(path):
    restore(path.with_name("earlier.zip"), path, overwrite=True)


ACTS = {
    "record": record,
    "amend": amend,
    "freeze": make_freeze,
    "backup": make_backup,
    "erase": erase,
    "restore": put_back,
}


def start(act, path):
    """The act in a process of its own, which leaves a file when it is done."""
    child = os.fork()
    if child == 0:
        try:
            ACTS[act](path)
            path.with_name("done").touch()
        finally:
            os._exit(0)
    return child


def start_migration(path, folder):
    """Tomorrow's program, ready to bring the register up to date as soon as it is told to."""
    script = "print('ready', flush=True); sys.stdin.readline(); digest(path); path.with_name('done').touch()"
    child = subprocess.Popen(**command(folder, script, path), stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    child.stdout.readline()
    child.stdin.write("\n")
    child.stdin.flush()
    return child


def stamp(file):
    """The size of a file and when it was written, or nothing when it is gone."""
    try:
        found = file.stat()
    except OSError:
        return ()
    return found.st_size, found.st_mtime_ns


def seen(path):
    """What the files beside the register look like from outside."""
    return [(name, *stamp(path.with_name(name))) for name in sorted(os.listdir(path.parent))]  # noqa: PTH208 - quick


def wait(path, takes):
    """Until a random moment: of all the time that the act takes, or of the short while after it first writes.

    Most of an act reads and checks; so every other kill waits for the first file that changes, and falls soon after.
    """
    if random.random() < 0.5:
        time.sleep(random.uniform(0, 1.15 * takes))
        return
    before, end = seen(path), time.monotonic() + 10 * takes
    while seen(path) == before and time.monotonic() < end:
        pass
    time.sleep(random.uniform(0, 0.3) ** 2)


def killed(act, path, folder, takes):
    """Start the act, kill it at a random moment, and tell whether it had reported that it was done."""
    if act == "migrate":
        child = start_migration(path, folder)
        wait(path, takes)
        child.kill()
        child.communicate()
    else:
        child = start(act, path)
        wait(path, takes)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
    return path.with_name("done").exists()


def state(path, folder, act):
    """The digest of the register and how it came to it, read without an alarm."""
    if act == "migrate":
        script = (
            "with reading(path) as register: print(register.digest, len(register.history('C1')), check_register(path))"
        )
        return told(folder, script, path)
    assert check_register(path) == ()
    with reading(path) as register:
        return register.digest, len(register.history("C1")), len(register.erasures)


def check_products(path):
    """Freezes and backups are whole or not there."""
    for each in freezes_of(path):
        with reading_frozen(path, each.name):
            pass
    if path.with_name("backup.zip").exists():
        check_backup(path.with_name("backup.zip"), beside=path)
    return bool(freezes_of(path)), path.with_name("backup.zip").exists()


def prepared(folder, act):
    """What every round of an act begins with."""
    path = made(folder)
    if act == "restore":
        backup(path, path.with_name("earlier.zip"), at=AT)
        record_rows(path, MORE, source=FILE, at=AT)
    if act == "erase":
        freeze(path, "before", source=WHY, at=AT)
    return path


class Act:
    """One act, with the states from before and after it, and how long it takes."""

    def __init__(self, name, scratch, folder):
        self.name, self.scratch, self.folder = name, scratch, folder
        self.origin = scratch / f"{name}-origin"
        self.origin.mkdir()
        path = prepared(self.origin, name)
        self.before = (None if name == "migrate" else state(path, folder, name), check_products(path))
        path = self.fresh("whole")
        began = time.monotonic()
        if name == "migrate":
            child = start_migration(path, folder)
            began = time.monotonic()
            child.wait()
        else:
            os.waitpid(start(name, path), 0)
        self.takes = time.monotonic() - began
        assert path.with_name("done").exists(), name
        self.after = (state(path, folder, name), check_products(path))
        shutil.rmtree(path.parent)

    def fresh(self, name):
        folder = self.scratch / f"{self.name}-{name}"
        shutil.copytree(self.origin, folder)
        return folder / "register.duckdb"

    def round(self, number):
        """One kill; gives what was found: `before`, `after` or `done`."""
        path = self.fresh(str(number))
        done = killed(self.name, path, self.folder, self.takes)
        copy = path.with_name(f"register.duckdb.before-schema-{NUMBER}")
        assert not copy.exists() or digest(copy)
        found = (state(path, self.folder, self.name), check_products(path))
        assert found == self.after or (not done and found == self.before), f"{self.name}: {found}"
        if found != self.after:
            ACTS[self.name](path)
            assert (state(path, self.folder, self.name), check_products(path)) == self.after, f"{self.name} again"
        if self.name != "migrate":
            assert record_rows(path, [patient(99)], source=FILE, at=AT).change
        shutil.rmtree(path.parent)
        return "done" if done else "after" if found == self.after else "before"


def rounds(kills, seed):
    """So many kills, spread over the acts; gives how often each state was found."""
    random.seed(seed)
    found = Counter()
    with tempfile.TemporaryDirectory(prefix="store-kills-") as scratch:
        folder = build(Path(scratch) / "tomorrow")
        acts = [Act(name, Path(scratch), folder) for name in [*ACTS, "migrate"]]
        for number in range(kills):
            act = acts[number % len(acts)]
            found[act.name, act.round(number)] += 1
    return found


if __name__ == "__main__":
    for (act, outcome), times in sorted(rounds(int(sys.argv[1]), seed=int(sys.argv[2]) if sys.argv[2:] else 1).items()):
        print(f"{act:8} {outcome:6} {times}")
