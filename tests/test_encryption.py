"""An encrypted file: read and written by an independent program of its format, and opened by nothing else."""

import hashlib
import io
import secrets

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id

from outcomes.encryption import EncryptingFile, NotDecrypted, decrypted, encrypted

CHUNK = 65_536


def keyed(header, passphrase):
    """The key derivation and bare AES-GCM, put together from the module's description of the layouts."""
    if header.startswith(b"OUTCOMES SEALED1"):  # by the standard library
        salt, cost = header[17:33], 2 ** header[16]
        key = hashlib.scrypt(passphrase.encode(), salt=salt, n=cost, r=8, p=1, dklen=32, maxmem=2**28)
    else:
        memory = 1024 * int.from_bytes(header[17:19], "big")
        kdf = Argon2id(salt=header[19:35], length=32, iterations=header[16], lanes=4, memory_cost=memory)
        key = kdf.derive(passphrase.encode())
    return AESGCM(key)


def nonce(header, number, last):
    return header[-7:] + number.to_bytes(4, "big") + (b"\x01" if last else b"\x00")


def pieces(whole, size):
    return [whole[start : start + size] for start in range(0, max(len(whole), 1), size)]


def opened_otherwise(sealed, passphrase):
    header, parts = sealed[:42], pieces(sealed[42:], CHUNK + 16)
    cipher = keyed(header, passphrase)
    return b"".join(
        cipher.decrypt(nonce(header, number, number == len(parts) - 1), part, header)
        for number, part in enumerate(parts)
    )


def closed_otherwise(plain, passphrase, beginning=b"OUTCOMES SEALED2\x01\x00\x01"):
    """Encrypted at a low cost, so that the tests are quick; gives the header and the encrypted chunks."""
    header, parts = beginning + secrets.token_bytes(23), pieces(plain, CHUNK)
    cipher = keyed(header, passphrase)
    return header, [
        cipher.encrypt(nonce(header, number, number == len(parts) - 1), part, header)
        for number, part in enumerate(parts)
    ]


def opened(sealed, passphrase):
    return b"".join(decrypted(io.BytesIO(sealed), passphrase))


@pytest.mark.parametrize("size", [0, 1, CHUNK - 1, CHUNK, CHUNK + 1, 2 * CHUNK + 100])
def test_what_is_encrypted_here_is_opened_elsewhere(size):
    plain = secrets.token_bytes(size)
    sealed = encrypted(plain, "pass phräse")
    assert opened(sealed, "pass phräse") == plain == opened_otherwise(sealed, "pass phräse")
    assert sealed[16:19] == b"\x03\x00\x40"  # RFC 9106, section 4, second recommended setting: 3 passes, 64 MiB


@pytest.mark.parametrize("beginning", [b"OUTCOMES SEALED2\x01\x00\x01", b"OUTCOMES SEALED1\x0a"])
@pytest.mark.parametrize("size", [0, 1, CHUNK - 1, CHUNK, CHUNK + 1, 3 * CHUNK])
def test_what_is_encrypted_elsewhere_is_opened_here(size, beginning):
    plain = secrets.token_bytes(size)
    header, chunks = closed_otherwise(plain, "passphrase", beginning)
    assert opened(header + b"".join(chunks), "passphrase") == plain


def test_a_link_file_of_the_first_version_is_opened():
    header = b"OUTCOMES LINK 01\x01\x00\x01" + secrets.token_bytes(28)
    sealed = header + keyed(header, "passphrase").encrypt(header[-12:], b"{}", header)
    assert opened(sealed, "passphrase") == b"{}"
    with pytest.raises(NotDecrypted):
        opened(sealed[:-1], "passphrase")


def test_small_writes_are_the_same_content():
    target = io.BytesIO()
    file = EncryptingFile(target, "passphrase")
    plain = secrets.token_bytes(CHUNK + 300)
    for start in range(0, len(plain), 7000):
        assert file.write(plain[start : start + 7000]) == len(plain[start : start + 7000])
    file.finish()
    assert opened(target.getvalue(), "passphrase") == plain


def test_salt_and_nonce_are_fresh_at_every_writing():
    assert len({encrypted(b"", "passphrase")[19:42] for _ in range(3)}) == 3


def test_anything_else_is_refused():
    header, (first, second, last) = closed_otherwise(secrets.token_bytes(2 * CHUNK + 100), "passphrase")
    whole = header + first + second + last
    altered = {
        "a flipped bit in the salt": header[:20] + bytes([header[20] ^ 1]) + header[21:] + first + second + last,
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
        "another layout": b"OUTCOMES SEALED1" + whole[16:],
        "no pass": header[:16] + b"\x00" + whole[17:],
        "absurd memory": header[:17] + b"\xff\xff" + whole[19:],
        "empty": b"",
    }
    for name, content in altered.items():
        try:
            opened(content, "passphrase")
        except NotDecrypted:
            continue
        pytest.fail(name)
    with pytest.raises(NotDecrypted):
        opened(whole, "Passphrase")
    opened(whole, "passphrase")  # what was altered had been whole
