"""Files that cannot be used, and registers that somebody else is using: a sentence each, and nothing changed."""

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import duckdb
import pytest

from outcomes.errors import DataRefused, RegisterRefused
from outcomes.protocol import default_protocol, read_protocol
from outcomes.store import Patience, Source, check_register, create_register, reading, record_rows
from tests.store.clinic import AT, FILE, case, digest, made, patient, review

ROOT = Path(__file__).resolve().parents[2]


def refused(path):
    """What both a reader and a writer are told; they are told the same."""
    said = []
    for act in (lambda: digest(path), lambda: record_rows(path, [patient(1)], source=FILE, at=AT)):
        with pytest.raises(RegisterRefused) as error:
            act()
        said.append(error.value.summary)
    assert said[0] == said[1]
    return said[0]


def digest_or_refusal(path):
    """The digest, or the sentence with which reading is refused."""
    try:
        return digest(path)
    except RegisterRefused as error:
        return error.summary


def child(script, *arguments, **more):
    """Another process that runs the script, with the register in `path`."""
    start = "import sys; from pathlib import Path; path = Path(sys.argv[1])\n"
    return subprocess.Popen(
        [sys.executable, "-c", start + script, *map(str, arguments)],
        cwd=ROOT,
        text=True,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        **more,
    )


def test_what_is_no_register_is_said(tmp_path):
    (tmp_path / "folder").mkdir()
    (tmp_path / "empty").touch()
    (tmp_path / "text").write_text("Dear Sir,\n" * 5000)
    (tmp_path / "short").write_text("x")
    (tmp_path / "other").write_bytes(b"SQLite format 3\x00" + bytes(8000))
    with duckdb.connect(str(tmp_path / "stranger")) as con:
        con.execute("create table patients (a integer)")
    for name, says in (
        ("nowhere", "there is no register"),
        ("nowhere/at/all", "there is no register"),
        ("folder", "is a folder"),
        ("empty", "is empty"),
        ("text", "is not a register"),
        ("other", "is not a register"),
        ("stranger", "but not a register"),
    ):
        assert says in refused(tmp_path / name)
    assert refused(tmp_path / "short")


def test_a_cut_or_scratched_file_is_refused_or_whole(tmp_path):
    path = made(tmp_path)
    before, whole = digest(path), path.read_bytes()
    for length in (1000, 5000, 9000, 14000, len(whole) // 2, len(whole) - 40_000):
        path.write_bytes(whole[:length])
        assert "damaged" in refused(path)
    found = set()
    for position in range(12_288, len(whole), len(whole) // 12):
        path.write_bytes(whole[:position] + bytes([whole[position] ^ 255]) + whole[position + 1 :])
        found.add(digest_or_refusal(path))
    damaged = f"{path} is damaged and cannot be read; restore the last backup with `outcomes restore`"
    assert found - {before} == {damaged}  # and never other rows; `before` when nothing uses the byte


def test_a_register_in_use_is_waited_for_then_refused_with_the_process(tmp_path):
    path = made(tmp_path)
    before = path.read_bytes()
    holder = child(
        "import duckdb; c = duckdb.connect(str(path)); print('open', flush=True); sys.stdin.readline()", path
    )
    holder.stdout.readline()
    said = []
    with pytest.raises(RegisterRefused, match=rf"in use by another process \(PID {holder.pid}\)"):
        record_rows(path, [patient(7)], source=FILE, at=AT, patience=Patience(0.3, said.append))
    with pytest.raises(RegisterRefused, match=str(holder.pid)), reading(path, Patience(0.1)):
        pass
    assert said == [f"register.duckdb is in use by another process (PID {holder.pid}); waiting up to 0.3 seconds"]
    holder.communicate("\n")
    assert path.read_bytes() == before


def test_a_register_that_is_let_go_in_time_is_used(tmp_path):
    path = made(tmp_path)
    holder = child(
        "from outcomes.store import reading; import time\n"
        "with reading(path): print('open', flush=True); sys.stdin.readline(); time.sleep(0.3)",
        path,
    )
    holder.stdout.readline()
    said = []

    def say(message):
        said.append(message)
        holder.stdin.write("\n")
        holder.stdin.flush()

    assert record_rows(path, [patient(7)], source=FILE, at=AT, patience=Patience(60, say)).change == 2
    assert len(said) == 1
    holder.communicate()


def test_writing_while_this_program_reads_is_said(tmp_path):
    path = made(tmp_path)
    with reading(path), reading(path) as register:
        with pytest.raises(RegisterRefused, match="already open in this program"):
            record_rows(path, [patient(7)], source=FILE, at=AT)
        assert register.cases == 3


def test_a_reader_reaches_no_other_file(tmp_path):
    path = made(tmp_path)
    (tmp_path / "secret.csv").write_text("a\n1\n")
    with reading(path) as register:
        for statement in (
            f"from '{tmp_path}/secret.csv'",
            f"attach '{tmp_path}/x.duckdb'",
            "set enable_external_access=true",
            "delete from patients",
            "install httpfs",
        ):
            with pytest.raises(duckdb.Error):
                register.con.execute(statement).fetchall()


def test_a_full_disk_changes_nothing(tmp_path):
    path = made(tmp_path)
    before = digest(path)
    script = (
        "import resource, signal; from tests.store.clinic import *; from outcomes.errors import RegisterRefused\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "rows = [patient(n, sex='male', smoker='never') for n in range(5, 60_000)]\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (900_000, 900_000))\n"
        "try: record_rows(path, rows, source=FILE, at=AT)\n"
        "except RegisterRefused as error: print(error.summary)\n"
    )
    if sys.platform == "win32":
        pytest.skip("the limit on a file's size is one of POSIX systems")
    said, _ = child(script, path).communicate()
    assert "the disk is full or the file may not grow; nothing was changed" in said
    assert (digest(path), check_register(path)) == (before, ())


def test_a_folder_that_may_not_be_written_is_said(tmp_path):
    if sys.platform == "win32" or os.geteuid():
        pytest.skip("needs a user who may become another one")
    folder = Path(tempfile.mkdtemp(prefix="store-tests-"))
    path, spare = made(folder), made(tmp_path)
    folder.chmod(0o755)
    path.chmod(0o644)
    # The other user may not enter the folder of the program either, so all that is imported on the way is imported before.
    script = (
        "import os; from tests.store.clinic import *; from outcomes.store import *\n"
        "from outcomes.errors import RegisterRefused\n"
        "def acts(path):\n"
        "    for act in (lambda: record_rows(path, [patient(9)], source=FILE, at=AT), lambda: freeze(path, 'a', source=FILE, at=AT),\n"
        "                lambda: create_register(path.with_name('b'), default_protocol()),\n"
        "                lambda: back_up(path, path.with_name('c'), at=AT)):\n"
        "        try: act()\n"
        "        except RegisterRefused as error: print(error.summary)\n"
        "    print(digest(path))\n"
        "acts(Path(sys.argv[2])); acts(Path(sys.argv[2])); print(); os.setuid(65534); acts(path)\n"
    )
    said, _ = child(script, path, spare).communicate()
    lines = said.partition("\n\n")[2].splitlines()
    assert len(lines) == 5, said
    assert all("check the permissions" in line for line in lines[:4]), said
    assert lines[4] == digest(path)
    shutil.rmtree(folder)


def test_a_register_is_never_made_over_something(tmp_path):
    path = made(tmp_path)
    before = path.read_bytes()
    with pytest.raises(RegisterRefused, match="already"):
        create_register(path, default_protocol())
    assert path.read_bytes() == before
    with pytest.raises(RegisterRefused, match="cannot be found"):
        create_register(tmp_path / "no" / "folder.duckdb", default_protocol())


def own_protocol(tmp_path, more):
    file = tmp_path / "mine.toml"
    file.write_text('extends = "default"\nname = "Mine"\n' + more)
    return read_protocol(file)


def test_a_new_measure_needs_no_column(tmp_path):
    protocol = own_protocol(
        tmp_path,
        """
[[fields]]
id = "itching"
sheet = "reviews"
kind = "grade"
observed = true
scale = "severity"
label = "Itching"
definition = "Own scale."
""",
    )
    path = tmp_path / "register.duckdb"
    create_register(path, protocol)
    rows = [patient(1), case(1), review(1, itching=3)]
    record_rows(path, rows, source=Source(), at=AT)
    with reading(path) as register:
        assert register.held()["reviews"][rows[2].key] == rows[2].values
        assert (register.protocol.name, register.protocol.fingerprint) == ("Mine", protocol.fingerprint)
        assert ("itching", 3.0) in [(field, value) for _, field, value in register.extract("observations").fetchall()]


def test_a_new_column_is_refused_before_anything_is_made(tmp_path):
    protocol = own_protocol(
        tmp_path,
        """
[[fields]]
id = "eye_colour"
sheet = "patients"
kind = "code"
label = "Colour of the eyes"
definition = "As seen."

[[fields]]
id = "site"
sheet = "reconstructions"
kind = "number"
low = 0
high = 99
label = "Site"
definition = "By number."
""",
    )
    with pytest.raises(DataRefused) as refusal:
        create_register(tmp_path / "register.duckdb", protocol)
    assert [reason.split(":")[0] for reason in refusal.value.reasons] == [
        "patients, eye_colour",
        "reconstructions, site",
    ]
    assert [path.name for path in tmp_path.iterdir()] == ["mine.toml"]


def test_the_protocol_belongs_to_the_digest(tmp_path):
    path = tmp_path / "register.duckdb"
    create_register(path, own_protocol(tmp_path, ""))
    (tmp_path / "default").mkdir()
    assert digest(path) != digest(made(tmp_path / "default", []))


def test_no_statement_prints_how_far_it_is():
    """A program without a file, as that which answers questions is taken for, would have it printed after two seconds."""
    program = "from outcomes.store.connection import in_memory\nwith in_memory() as con: "
    program += "print(con.execute(\"select current_setting('enable_progress_bar')\").fetchall())"
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[(False,)]"
