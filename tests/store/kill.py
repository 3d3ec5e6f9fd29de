"""Kill every writing command at random moments and check the register: `python tests/store/kill.py 204`, 204 kills.

A seed and the names of acts may follow: `python tests/store/kill.py 50 1 "backup sealed"`.

Each round begins with the same register, starts one act in a process of its own, forked or spawned, kills it after a random
part of the time that the act takes, and then opens the register: it must open without an alarm, hold the state from before
the act or from after it, and that from after it if the act had been reported as done; the act must be possible again, and
the next changes too, after which no part file and no private folder is left. A freeze, a backup, an export or a copy is there
wholly or not at all, and nothing on the disk of a sealed backup or of the link file can be read.
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

from outcomes.encryption import MAGIC  # noqa: E402 - found by the path that was just set
from outcomes.identity import add_link, read_links  # noqa: E402
from outcomes.protocol import RowAddress, read_protocol  # noqa: E402
from outcomes.store import (  # noqa: E402
    Amendment,
    Source,
    amend_value,
    back_up,
    change_protocol,
    check_backup,
    check_register,
    erase_patients,
    export_plain,
    freeze,
    freezes_of,
    reading,
    reading_frozen,
    record_rows,
    remove_row,
    restore,
    restore_row,
    withdraw_patient,
)
from tests.store.clinic import AT, FILE, case, digest, made, patient, review  # noqa: E402
from tests.store.tomorrow import NUMBER, build, command, told  # noqa: E402

WHY = Source(who="NB", reason="killed on purpose")
PHRASE = "four words are enough"
MINE = 'extends = "default"\n[[measures]]\nid = "retraction"\npoor = { at_least = 0.5 }\n'
MORE = [make(number) for make in (patient, case, review) for number in range(10, 60)]


def record(path):
    record_rows(path, MORE, source=FILE, at=AT)


def amend(path):
    amend_value(path, Amendment("C1", "side", "left"), source=WHY, at=AT)


def remove(path):
    remove_row(path, RowAddress("C1"), source=WHY, at=AT)


def bring_back(path):
    restore_row(path, RowAddress("C3"), source=WHY, at=AT)


def withdraw(path):
    withdraw_patient(path, "P1", source=WHY, at=AT)


def change_rules(path):
    change_protocol(path, read_protocol(path.with_name("mine.toml")), source=WHY, at=AT)


def make_freeze(path):
    freeze(path, "spring", source=WHY, at=AT)


def make_sealed_freeze(path):
    freeze(path, "spring", source=WHY, at=AT, passphrase=PHRASE)


def make_backup(path):
    back_up(path, stick_of(path) / "backup.zip", at=AT)


def make_sealed_backup(path):
    back_up(path, stick_of(path) / "backup.sealed", at=AT, passphrase=PHRASE)


def erase(path):
    erase_patients(path, ["P2"], source=WHY, at=AT, passphrase=PHRASE)


def put_back(path):
    restore(path.with_name("earlier.zip"), path, overwrite=True, passphrase=PHRASE)


def export(path):
    with reading(path) as register:
        export_plain(register, path.with_name("plain"))


def link(path):
    add_link(stick_of(path) / "links", PHRASE, "P9", "H-0009")


ACTS = {
    "record": record,
    "amend": amend,
    "remove": remove,
    "restore-row": bring_back,
    "withdraw": withdraw,
    "protocol": change_rules,
    "freeze": make_freeze,
    "freeze sealed": make_sealed_freeze,
    "backup": make_backup,
    "backup sealed": make_sealed_backup,
    "erase": erase,
    "erase sealed": erase,
    "restore": put_back,
    "restore sealed": put_back,
    "export": export,
    "link": link,
}
SEALED = {"backup sealed", "link"}
# What the beginning or the middle of a readable file of this program holds.
READABLE = (b"DUCK", b"PAR1", b"PK\x03\x04", b"patient_id", b"H-000")


def stick_of(path):
    """Where backups and the link file go: another disk than the register's."""
    return path.parent / "stick"


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


def start_spawned(act, path):
    """The act in a process that was not forked, ready to begin as soon as it is told to."""
    script = [sys.executable, __file__, "--act", act, str(path)]
    child = subprocess.Popen(script, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    return released(child)


def released(child):
    child.stdout.readline()
    child.stdin.write("\n")
    child.stdin.flush()
    return child


def run_act(act, path):
    print("ready", flush=True)
    sys.stdin.readline()
    ACTS[act](Path(path))
    Path(path).with_name("done").touch()


def start_migration(path, folder):
    """Tomorrow's program, ready to bring the register up to date as soon as it is told to."""
    script = "print('ready', flush=True); sys.stdin.readline(); digest(path); path.with_name('done').touch()"
    return released(subprocess.Popen(**command(folder, script, path), stdin=subprocess.PIPE, stdout=subprocess.PIPE))


def stamp(file):
    """The size of a file and when it was written, or nothing when it is gone."""
    try:
        found = file.stat()
    except OSError:
        return ()
    return found.st_size, found.st_mtime_ns


def seen(path):
    """What the files beside the register look like from outside."""
    folders = (path.parent, stick_of(path))
    return [(name, *stamp(folder / name)) for folder in folders for name in sorted(os.listdir(folder))]  # noqa: PTH208


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


def killed(act, path, folder, takes, *, spawned):
    """Start the act, kill it at a random moment, and tell whether it had reported that it was done."""
    if act == "migrate" or spawned:
        child = start_migration(path, folder) if act == "migrate" else start_spawned(act, path)
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
        return register.digest, len(register.history("C1")), len(register.erasures), register.protocol.fingerprint


def check_products(path):
    """Freezes, backups, exports and links are whole or not there."""
    for each in freezes_of(path):
        with reading_frozen(path, each.name, PHRASE):
            pass
    backups = [each for each in sorted(stick_of(path).glob("backup*")) if check_backup(each, PHRASE, beside=path)]
    plain = path.with_name("plain")
    assert not plain.exists() or len(list(plain.iterdir())) == 6
    links = stick_of(path) / "links"
    pairs = len(read_links(links, PHRASE).pairs) if links.exists() else 0
    return bool(freezes_of(path)), len(backups), plain.exists(), pairs


def check_stick(path, act):
    """No byte on the other disk can be read without the passphrase."""
    for each in stick_of(path).iterdir() if act in SEALED else ():
        content = each.read_bytes()
        assert not [needle for needle in READABLE if needle in content], each
        assert content.startswith(MAGIC) or len(content) < len(MAGIC), each


def litter(path):
    """What is left of part files and private folders."""
    names = [each for each in path.parent.rglob(".*") if "migrate" not in str(path.parent)]
    return [str(each) for each in names if each.name.startswith(".outcomes-") or each.name.endswith(".part")]


def prepared(folder, act):
    """What every round of an act begins with."""
    path = made(folder)
    stick_of(path).mkdir()
    remove_row(path, RowAddress("C3"), source=WHY, at=AT)
    path.with_name("mine.toml").write_text(MINE)
    phrase = PHRASE if "sealed" in act else ""
    if act.startswith("restore"):
        back_up(path, path.with_name("earlier.zip"), at=AT, passphrase=phrase)
        record_rows(path, MORE, source=FILE, at=AT)
    if act.startswith("erase"):
        freeze(path, "before", source=WHY, at=AT, passphrase=phrase)
    if act == "link":
        add_link(stick_of(path) / "links", PHRASE, "P1", "H-0001")
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
        done = killed(self.name, path, self.folder, self.takes, spawned=number % 2)
        check_stick(path, self.name)
        copy = path.with_name(f"register.duckdb.before-schema-{NUMBER}")
        assert not copy.exists() or digest(copy)
        found = (state(path, self.folder, self.name), check_products(path))
        assert found == self.after or (not done and found == self.before), f"{self.name}: {found}"
        if found != self.after:
            ACTS[self.name](path)
            assert (state(path, self.folder, self.name), check_products(path)) == self.after, f"{self.name} again"
        if self.name != "migrate":
            assert record_rows(path, [patient(99)], source=FILE, at=AT).change
            freeze(path, "after", source=WHY, at=AT)
            back_up(path, stick_of(path) / "after.zip", at=AT)
            assert not litter(path), (self.name, litter(path))
        shutil.rmtree(path.parent)
        return "done" if done else "after" if found == self.after else "before"


def rounds(kills, seed, names):
    """So many kills, spread over the acts of these names; gives how often each state was found."""
    random.seed(seed)
    found = Counter()
    with tempfile.TemporaryDirectory(prefix="store-kills-") as scratch:
        folder = build(Path(scratch) / "tomorrow")
        acts = [Act(name, Path(scratch), folder) for name in names]
        for number in range(kills):
            act = acts[number % len(acts)]
            outcome = act.round(number // len(acts) + number)
            found[act.name, outcome] += 1
            print(number + 1, act.name, outcome, file=sys.stderr, flush=True)
    return found


if __name__ == "__main__" and sys.argv[1] == "--act":
    run_act(*sys.argv[2:])
elif __name__ == "__main__":
    chosen = sys.argv[3:] or [*ACTS, "migrate"]
    for (act, outcome), times in sorted(rounds(int(sys.argv[1]), int((*sys.argv, 1)[2]), chosen).items()):
        print(f"{act:14} {outcome:6} {times}")
