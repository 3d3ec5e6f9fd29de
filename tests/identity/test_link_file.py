"""The link file keeps its pairs, and tells nobody without the passphrase."""

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id

from outcomes import encryption
from outcomes.identity import add_link, change_passphrase, read_links, remove_link
from outcomes.identity.link_file import LinkRefused

PHRASE = "four words are enough"
OTHER = "another four words here"


@pytest.fixture(scope="module")
def made_once(tmp_path_factory):
    path = tmp_path_factory.mktemp("link") / "links.sealed"
    add_link(path, PHRASE, "P1", "H-0001")
    add_link(path, PHRASE, "P2", "H-0002")
    return path


@pytest.fixture
def file(made_once, tmp_path):
    return Path(shutil.copy2(made_once, tmp_path))


def test_argon2id_is_that_of_the_published_vector():
    # RFC 9106, section 5.3: password 32 x 01, salt 16 x 02, secret 8 x 03, data 12 x 04, 3 passes, 32 KiB, 4 lanes.
    kdf = Argon2id(
        salt=b"\x02" * 16, length=32, iterations=3, lanes=4, memory_cost=32, ad=b"\x04" * 12, secret=b"\x03" * 8
    )
    assert kdf.derive(b"\x01" * 32).hex() == "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"


def test_pairs_are_found_by_code_and_by_number(file):
    links = read_links(file, PHRASE)
    assert links.number_of("P1") == "H-0001"
    assert links.code_of("H-0002") == "P2"


def test_the_same_pair_again_changes_nothing(file):
    assert add_link(file, PHRASE, "P1", "H-0001") == 2
    assert add_link(file, PHRASE, " P1 ", "H-0001\n") == 2


@pytest.mark.parametrize(
    "code, number, says", [("P1", "H-9", "another hospital number"), ("P9", "H-0001", "another study code")]
)
def test_a_code_has_one_number_and_a_number_one_code(file, code, number, says):
    before = file.read_bytes()
    with pytest.raises(LinkRefused, match=says) as refused:
        add_link(file, PHRASE, code, number)
    assert "H-0001" not in str(refused.value)
    assert file.read_bytes() == before


def test_codes_and_numbers_that_differ_only_in_case_or_width_are_one(file):
    wide = "".join(chr(ord(sign) + 0xFEE0) for sign in "p1")
    assert add_link(file, PHRASE, "p1", "h-0001") == 2
    assert add_link(file, PHRASE, wide, "H-0001") == 2
    links = read_links(file, PHRASE)
    assert (links.number_of("p1"), links.code_of("h-0002"), links.number_of(wide)) == ("H-0001", "P2", "H-0001")
    with pytest.raises(LinkRefused, match="another hospital number"):
        add_link(file, PHRASE, wide, "H-9")
    with pytest.raises(LinkRefused, match="another study code"):
        add_link(file, PHRASE, "P9", "h-0001")
    assert remove_link(file, PHRASE, "p1") == 1


@pytest.mark.parametrize("text", ["", "  ", "x" * 65, "a\nb", "a\x00b"])
def test_odd_codes_and_numbers_are_refused(file, text):
    with pytest.raises(LinkRefused, match="printable"):
        add_link(file, PHRASE, text, "H-3")
    with pytest.raises(LinkRefused, match="printable"):
        add_link(file, PHRASE, "P3", text)


def test_a_pair_is_removed(file):
    assert remove_link(file, PHRASE, "P1") == 1
    with pytest.raises(LinkRefused, match="no study code"):
        read_links(file, PHRASE).number_of("P1")
    with pytest.raises(LinkRefused, match="no study code"):
        remove_link(file, PHRASE, "P1")


def test_a_wrong_passphrase_is_refused(file):
    with pytest.raises(LinkRefused, match="passphrase is wrong"):
        read_links(file, OTHER)
    before = file.read_bytes()
    with pytest.raises(LinkRefused):
        add_link(file, OTHER, "P3", "H-3")
    assert file.read_bytes() == before


def test_only_the_new_passphrase_opens_after_a_change(file):
    change_passphrase(file, PHRASE, OTHER)
    assert read_links(file, OTHER).number_of("P1") == "H-0001"
    with pytest.raises(LinkRefused, match="passphrase is wrong"):
        read_links(file, PHRASE)


@pytest.mark.parametrize("short", ["", "short", "x" * 11])
def test_a_short_passphrase_is_refused(file, tmp_path, short):
    with pytest.raises(LinkRefused, match="at least 12"):
        add_link(tmp_path / "new", short, "P1", "H-1")
    with pytest.raises(LinkRefused, match="at least 12"):
        change_passphrase(file, PHRASE, short)
    assert not (tmp_path / "new").exists()


def test_nothing_of_the_pairs_is_in_the_file(file):
    content = file.read_bytes()
    assert b"P1" not in content
    assert b"H-0001" not in content
    if os.name != "nt":
        assert file.stat().st_mode & 0o077 == 0
    assert [each.name for each in file.parent.iterdir()] == [file.name]


def test_every_altered_byte_is_noticed(monkeypatch, file):
    # A cheaper key, so that every byte of the file can be tried: the layout and the checks are the same.
    monkeypatch.setattr(encryption, "MEMORY_MIB", 1)
    monkeypatch.setattr(encryption, "PASSES", 1)
    add_link(file, PHRASE, "P3", "H-0003")
    whole = file.read_bytes()
    for place in range(len(whole)):
        if place in {len(encryption.MAGIC), len(encryption.MAGIC) + 1, len(encryption.MAGIC) + 2}:
            continue  # the cost: altered below, where it cannot ask for a gigabyte
        file.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        with pytest.raises(LinkRefused):
            read_links(file, PHRASE)


def test_a_file_cut_short_or_longer_is_noticed(file):
    whole = file.read_bytes()
    for odd in (b"", whole[:10], whole[:46], whole[:47], whole[:-1], whole + b"x"):
        file.write_bytes(odd)
        with pytest.raises(LinkRefused):
            read_links(file, PHRASE)


@pytest.mark.parametrize(
    "settings", [b"\x00\x00\x40", b"\x03\x00\x00", b"\xff\x00\x40", b"\x03\xff\xff", b"\x02\x00\x40"]
)
def test_a_forged_cost_is_noticed_at_once(file, settings):
    whole = file.read_bytes()
    start = len(encryption.MAGIC)
    file.write_bytes(whole[:start] + settings + whole[start + 3 :])
    begun = time.monotonic()
    with pytest.raises(LinkRefused):
        read_links(file, PHRASE)
    assert time.monotonic() - begun < 30


def test_what_is_no_link_file_is_told(tmp_path):
    (tmp_path / "text").write_text("P1,H-1")
    for path, says in [
        (tmp_path / "none", "no link file at"),
        (tmp_path, "is a folder"),
        (tmp_path / "text", "no link file of this program"),
        (tmp_path / "nowhere" / "links", "no link file at"),
    ]:
        with pytest.raises(LinkRefused, match=says):
            read_links(path, PHRASE)
    with pytest.raises(LinkRefused, match="cannot be used"):
        add_link(tmp_path / "nowhere" / "links", PHRASE, "P1", "H-1")
    with pytest.raises(LinkRefused, match="no link file of this program"):
        add_link(tmp_path / "text", PHRASE, "P1", "H-1")
    assert (tmp_path / "text").read_text() == "P1,H-1"


@pytest.mark.skipif(sys.platform == "win32", reason="folders cannot be locked there")
def test_two_at_once_lose_no_pair(tmp_path):
    code = (
        "import sys, time\nfrom pathlib import Path\nfrom outcomes.identity import add_link\n"
        "from outcomes.identity.link_file import LinkRefused\n"
        "for n in range(3):\n"
        "    while True:\n"
        "        try:\n"
        f"            add_link(Path(sys.argv[1]), {PHRASE!r}, f'{{sys.argv[2]}}{{n}}', f'H{{sys.argv[2]}}{{n}}')\n"
        "            break\n"
        "        except LinkRefused as refusal:\n"
        "            assert 'another process' in str(refusal), refusal\n"
        "            time.sleep(0.01)\n"
    )
    path = tmp_path / "links"
    root = Path(__file__).resolve().parents[2]
    both = [
        subprocess.Popen([sys.executable, "-c", code, str(path), who], cwd=root, stderr=subprocess.PIPE) for who in "AB"
    ]
    for each in both:
        _, said = each.communicate(timeout=120)
        assert each.returncode == 0, said.decode()
    assert set(read_links(path, PHRASE).pairs) == {f"{who}{n}" for who in "AB" for n in range(3)}
