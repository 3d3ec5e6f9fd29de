"""A closed file: read and written by an independent program of its format, and opened by nothing else."""

import hashlib
import secrets

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from outcomes.errors import RegisterRefused
from outcomes.store.encryption import seal_file, unseal_file

CHUNK = 65_536


def keyed(header, passphrase):
    """The standard library's scrypt and bare AES-GCM, put together from the module's description of the format."""
    key = hashlib.scrypt(passphrase.encode(), salt=header[17:33], n=2 ** header[16], r=8, p=1, dklen=32, maxmem=2**28)
    return AESGCM(key)


def nonce(header, number, last):
    return header[33:40] + number.to_bytes(4, "big") + (b"\x01" if last else b"\x00")


def pieces(whole, size):
    return [whole[start : start + size] for start in range(0, max(len(whole), 1), size)]


def opened_otherwise(sealed, passphrase):
    header, parts = sealed[:40], pieces(sealed[40:], CHUNK + 16)
    cipher = keyed(header, passphrase)
    return b"".join(
        cipher.decrypt(nonce(header, number, number == len(parts) - 1), part, header)
        for number, part in enumerate(parts)
    )


def closed_otherwise(plain, passphrase):
    """Closed at a low cost, so that the tests are quick; gives the header and the closed chunks."""
    header, parts = b"OUTCOMES SEALED1" + bytes([10]) + secrets.token_bytes(23), pieces(plain, CHUNK)
    cipher = keyed(header, passphrase)
    return header, [
        cipher.encrypt(nonce(header, number, number == len(parts) - 1), part, header)
        for number, part in enumerate(parts)
    ]


def test_what_is_closed_here_is_opened_elsewhere(tmp_path):
    plain, sealed, back = tmp_path / "plain", tmp_path / "sealed", tmp_path / "back"
    plain.write_bytes(secrets.token_bytes(CHUNK + 100))
    seal_file(plain, sealed, "pass phräse")
    unseal_file(sealed, back, "pass phräse")
    assert back.read_bytes() == plain.read_bytes() == opened_otherwise(sealed.read_bytes(), "pass phräse")
    assert sealed.read_bytes()[16] == 17  # the cost that was meant


@pytest.mark.parametrize("size", [0, 1, CHUNK - 1, CHUNK, CHUNK + 1, 3 * CHUNK])
def test_what_is_closed_elsewhere_is_opened_here(tmp_path, size):
    plain, sealed, back = secrets.token_bytes(size), tmp_path / "sealed", tmp_path / "back"
    header, chunks = closed_otherwise(plain, "passphrase")
    sealed.write_bytes(header + b"".join(chunks))
    unseal_file(sealed, back, "passphrase")
    assert back.read_bytes() == plain


def test_anything_else_is_refused_and_leaves_nothing(tmp_path):
    sealed, back = tmp_path / "sealed", tmp_path / "back"
    header, (first, second, last) = closed_otherwise(secrets.token_bytes(2 * CHUNK + 100), "passphrase")
    whole = header + first + second + last
    altered = {
        "a flipped bit in the salt": header[:18] + bytes([header[18] ^ 1]) + header[19:] + first + second + last,
        "a flipped bit in a nonce": header[:-1] + bytes([header[-1] ^ 1]) + first + second + last,
        "a flipped bit in a chunk": header + first[:-1] + bytes([first[-1] ^ 1]) + second + last,
        "swapped chunks": header + second + first + last,
        "a dropped chunk": header + first + last,
        "cut at a chunk": header + first + second,
        "cut in a chunk": whole[:-1],
        "cut in the header": whole[:30],
        "something added": whole + b"x",
        "the end doubled": whole + last,
        "a foreign beginning": b"X" * 16 + whole[16:],
        "an absurd cost": header[:16] + bytes([40]) + whole[17:],
        "empty": b"",
    }
    for name, content in altered.items():
        sealed.write_bytes(content)
        with pytest.raises(RegisterRefused, match="passphrase is wrong, or the file was altered"):
            unseal_file(sealed, back, "passphrase")
        assert [path.name for path in tmp_path.iterdir()] == ["sealed"], name
    sealed.write_bytes(whole)
    with pytest.raises(RegisterRefused, match="passphrase is wrong"):
        unseal_file(sealed, back, "Passphrase")
    unseal_file(sealed, back, "passphrase")  # what was altered had been whole
    with pytest.raises(RegisterRefused, match="empty"):
        seal_file(back, sealed, "")
