"""Encrypt a file with a passphrase, so that it can be neither read nor altered without it.

The passphrase becomes a key by scrypt (RFC 7914); the file is cut into chunks, each closed by AES-256 in Galois/Counter
Mode (NIST SP 800-38D). The nonce of a chunk is a random prefix, the number of the chunk, and whether it is the last
one (the STREAM construction of Hoang, Reyhanitabar, Rogaway and Vizar, CRYPTO 2015; citation from memory), and the
header is authenticated with every chunk: chunks cannot be altered, swapped, dropped or added, nor the file cut short.

Layout: 16 bytes of magic; log2 of scrypt's cost (1 byte); salt (16); nonce prefix (7); then the chunks, each of 65,536
bytes but for the last one, and each followed by its tag (16).
"""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

from outcomes.errors import RegisterRefused
from outcomes.store.files import safely_written, system_errors

MAGIC = b"OUTCOMES SEALED1"
COST = 17
CHUNK = 65_536
_TAG = 16
_HEADER = len(MAGIC) + 1 + 16 + 7
_COSTS = range(10, 21)


def is_sealed(path: Path) -> bool:
    """Tell whether the file is closed with a passphrase."""
    with system_errors(path), path.open("rb") as file:
        return file.read(len(MAGIC)) == MAGIC


def seal_file(plain: Path, to: Path, passphrase: str) -> None:
    """`to` holds the plain file, closed with the passphrase; after a failure, what was there before."""
    if not passphrase:
        raise RegisterRefused("the passphrase is empty; nothing was written")
    header = MAGIC + bytes([COST]) + secrets.token_bytes(16 + 7)
    cipher = _cipher(header, passphrase)
    with safely_written(to) as part, plain.open("rb") as source, part.open("wb") as target:
        target.write(header)
        for number, (chunk, last) in enumerate(_chunks(source, CHUNK)):
            target.write(cipher.encrypt(_nonce(header, number, last), chunk, header))


def unseal_file(sealed: Path, to: Path, passphrase: str) -> None:
    """`to` holds the file as it was before it was closed; after a failure, what was there before.

    Raises RegisterRefused for a wrong passphrase, and for a file that was altered or cut short.
    """
    try:
        with system_errors(sealed), sealed.open("rb") as source, safely_written(to) as part, part.open("wb") as target:
            header = source.read(_HEADER)
            _check_header(header)
            cipher = _cipher(header, passphrase)
            for number, (chunk, last) in enumerate(_chunks(source, CHUNK + _TAG)):
                target.write(cipher.decrypt(_nonce(header, number, last), chunk, header))
    except InvalidTag as error:
        raise RegisterRefused(
            f"{sealed} cannot be opened: the passphrase is wrong, or the file was altered or cut short"
        ) from error


def _check_header(header: bytes) -> None:
    if len(header) < _HEADER or not header.startswith(MAGIC) or header[len(MAGIC)] not in _COSTS:
        raise InvalidTag


def _cipher(header: bytes, passphrase: str) -> AESGCM:
    cost, salt = header[len(MAGIC)], header[len(MAGIC) + 1 : len(MAGIC) + 17]
    return AESGCM(Scrypt(salt=salt, length=32, n=2**cost, r=8, p=1).derive(passphrase.encode()))


def _nonce(header: bytes, number: int, last: bool) -> bytes:  # noqa: FBT001 - a bit of the nonce
    return header[-7:] + number.to_bytes(4, "big") + bytes([last])


def _chunks(source: BinaryIO, size: int) -> Iterator[tuple[bytes, bool]]:
    """The file in chunks, each with whether it is the last one; an empty file is one empty last chunk."""
    chunk = source.read(size)
    while True:
        following = source.read(size)
        yield chunk, not following
        if not following:
            return
        chunk = following
