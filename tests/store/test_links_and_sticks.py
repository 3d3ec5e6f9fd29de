"""Registers behind a symbolic link, backups on another disk: nothing is written where it does not belong."""

import os
import sys
import threading

import pytest

from outcomes.errors import RegisterRefused
from outcomes.identity import add_link, read_links
from outcomes.protocol import default_protocol
from outcomes.store import (
    Amendment,
    Source,
    amend_value,
    back_up,
    create_register,
    erase_patients,
    freeze,
    freezes_of,
    reading,
    restore,
)
from tests.store.clinic import AT, digest, made

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="symbolic links and rights of Linux and macOS")

WHY = Source(who="NB", reason="asked for in writing")
PHRASE = "four words are enough"


@pytest.fixture
def linked(tmp_path):
    """A register on one disk, and a link to it on another."""
    (tmp_path / "disk").mkdir()
    (tmp_path / "desk").mkdir()
    link = tmp_path / "desk" / "link.duckdb"
    link.symlink_to(made(tmp_path / "disk"))
    return link


def on_the_desk(link):
    return [each.name for each in link.parent.iterdir()]


def test_every_change_is_made_to_the_file_behind_the_link(linked):
    real = linked.resolve()
    amend_value(linked, Amendment("C1", "side", "left"), source=WHY, at=AT)
    freeze(linked, "spring", source=WHY, at=AT)
    assert [each.name for each in freezes_of(real)] == ["spring"]
    kept = linked.parent.parent / "backup.zip"
    before = digest(real)
    back_up(linked, kept, at=AT)
    restore(kept, linked, overwrite=True)
    assert (linked.is_symlink(), digest(real)) == (True, before)
    assert real.with_name("register.duckdb.before-restore").exists()
    erase_patients(linked, ["P2"], source=WHY, at=AT)
    assert linked.is_symlink()
    with reading(real) as register:
        assert (register.cases, len(register.erasures)) == (2, 1)
    assert on_the_desk(linked) == ["link.duckdb"]
    assert sorted(each.name for each in real.parent.iterdir()) == [
        "register.duckdb",
        "register.duckdb.head",
        "register.freezes",
    ]


def test_a_new_register_is_made_where_the_link_points_to(tmp_path):
    (tmp_path / "disk").mkdir()
    link = tmp_path / "link.duckdb"
    link.symlink_to(tmp_path / "disk" / "new.duckdb")
    create_register(link, default_protocol())
    assert sorted(each.name for each in (tmp_path / "disk").iterdir()) == ["new.duckdb", "new.duckdb.head"]
    assert link.is_symlink()


def test_the_link_file_behind_a_link_is_written(tmp_path):
    (tmp_path / "disk").mkdir()
    link = tmp_path / "links"
    link.symlink_to(tmp_path / "disk" / "real")
    add_link(link, PHRASE, "P1", "H-0001")
    add_link(link, PHRASE, "P2", "H-0002")
    assert link.is_symlink()
    assert read_links(tmp_path / "disk" / "real", PHRASE).pairs == {"P1": "H-0001", "P2": "H-0002"}
    assert [each.name for each in (tmp_path / "disk").iterdir()] == ["real"]


def test_a_sealed_backup_writes_nothing_else_beside_itself(tmp_path):
    path = made(tmp_path)
    freeze(path, "spring", source=WHY, at=AT, passphrase=PHRASE)
    stick = tmp_path / "stick"
    stick.mkdir()
    seen, done = set(), threading.Event()

    def watch():
        while not done.is_set():
            seen.update(os.listdir(stick))  # noqa: PTH208 - quick

    watcher = threading.Thread(target=watch)
    watcher.start()
    back_up(path, stick / "backup.sealed", at=AT, passphrase=PHRASE)
    done.set()
    watcher.join()
    assert seen == {".backup.sealed.part", "backup.sealed"}


@pytest.mark.parametrize(
    "act",
    [
        lambda path: freeze(path, "spring", source=WHY, at=AT, passphrase="x" * 11),
        lambda path: back_up(path, path.with_name("backup"), at=AT, passphrase="x" * 11),
    ],
    ids=["freeze", "backup"],
)
def test_a_short_passphrase_is_refused(tmp_path, act):
    path = made(tmp_path)
    with pytest.raises(RegisterRefused, match="at least 12 characters"):
        act(path)
    assert sorted(each.name for each in tmp_path.iterdir()) == ["register.duckdb", "register.duckdb.head"]


def test_a_file_that_is_replaced_keeps_its_rights(tmp_path):
    path = made(tmp_path)
    path.chmod(0o640)
    before = path.stat().st_ino
    erase_patients(path, ["P2"], source=WHY, at=AT)
    assert path.stat().st_ino != before
    assert path.stat().st_mode & 0o777 == 0o640
