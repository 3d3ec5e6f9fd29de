"""A closed file: opened by an independent reading of its format, and by nothing else."""

import hashlib
import secrets

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from outcomes.errors import RegisterRefused
from outcomes.store.sealing import CHUNK, MAGIC, seal_file, unseal_file

SIZES = (0, 1, CHUNK - 1, CHUNK, CHUNK + 1, 3 * CHUNK)


def opened_otherwise(sealed, passphrase):
    """The same format read by the standard library's scrypt and bare AES-GCM, written from the module's description."""
    cost, salt, prefix, body = sealed[16], sealed[17:33], sealed[33:40], sealed[40:]
    key = hashlib.scrypt(passphrase.encode(), salt=salt, n=2**cost, r=8, p=1, dklen=32, maxmem=2**28)
    pieces = [body[start : start + 65_552] for start in range(0, max(len(body), 1), 65_552)]
    return b"".join(
        AESGCM(key).decrypt(prefix + number.to_bytes(4, "big") + (b"\x01" if number == len(pieces) - 1 else b"\x00"), piece, sealed[:40])
        for number, piece in enumerate(pieces)
    )


@pytest.mark.parametrize("size", SIZES)
def test_what_was_closed_is_opened_again_here_and_elsewhere(tmp_path, size):
    plain, sealed, back = tmp_path / "plain", tmp_path / "sealed", tmp_path / "back"
    plain.write_bytes(secrets.token_bytes(size))
    seal_file(plain, sealed, "pass phräse")
    unseal_file(sealed, back, "pass phräse")
    assert back.read_bytes() == plain.read_bytes() == opened_otherwise(sealed.read_bytes(), "pass phräse")


def test_anything_else_is_refused_and_leaves_nothing(tmp_path):
    plain, sealed, back = tmp_path / "plain", tmp_path / "sealed", tmp_path / "back"
    plain.write_bytes(secrets.token_bytes(2 * CHUNK + 100))
    seal_file(plain, sealed, "passphrase")
    whole = sealed.read_bytes()
    first, second, last = whole[40 : 40 + CHUNK + 16], whole[40 + CHUNK + 16 : 40 + 2 * (CHUNK + 16)], whole[40 + 2 * (CHUNK + 16) :]
    head = whole[:40]
    altered = {
        "a flipped bit in the header": head[:18] + bytes([head[18] ^ 1]) + head[19:] + first + second + last,
        "a flipped bit": head + first[:-1] + bytes([first[-1] ^ 1]) + second + last,
        "swapped chunks": head + second + first + last,
        "a dropped chunk": head + first + last,
        "cut at a chunk": head + first + second,
        "cut in a chunk": whole[:-1],
        "cut in the header": whole[:30],
        "something added": whole + b"x",
        "the end doubled": whole + last,
        "a foreign beginning": b"X" * 16 + whole[16:],
        "an absurd cost": MAGIC + bytes([40]) + whole[17:],
        "empty": b"",
    }
    for name, content in altered.items():
        sealed.write_bytes(content)
        with pytest.raises(RegisterRefused, match="passphrase is wrong, or the file was altered"):
            unseal_file(sealed, back, "passphrase")
        assert sorted(path.name for path in tmp_path.iterdir()) == ["plain", "sealed"], name
    sealed.write_bytes(whole)
    with pytest.raises(RegisterRefused):
        unseal_file(sealed, back, "Passphrase")
    with pytest.raises(RegisterRefused, match="empty"):
        seal_file(plain, sealed, "")
