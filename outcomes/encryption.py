"""Encrypt a file with a passphrase, as it streams, so that it can be neither read nor altered without the passphrase.

The passphrase becomes a key by Argon2id (RFC 9106) with the second of the two settings that it recommends, 64 MiB of
memory and three passes. The content is cut into chunks, each encrypted by AES-256 in Galois/Counter Mode (NIST SP
800-38D). The nonce of a chunk is a random prefix, the number of the chunk, and whether it is the last one (the STREAM
construction of Hoang, Reyhanitabar, Rogaway and Vizar, CRYPTO 2015; citation from memory), and the header is
authenticated with every chunk: chunks cannot be altered, swapped, dropped or added, nor the file cut short.

Layout: 16 bytes of magic; passes (1 byte); memory in MiB (2 bytes); salt (16); nonce prefix (7); then the chunks, each
of 65,536 bytes but for the last one, and each followed by its tag (16).

Two older layouts are read and no longer written. "OUTCOMES SEALED1": the log2 of the cost of scrypt (RFC 7914) in one
byte instead of passes and memory. "OUTCOMES LINK 01": a nonce of 12 bytes and the content as one chunk.
"""

from __future__ import annotations

import io
import secrets
from collections.abc import Iterator
from typing import BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

MAGIC, SCRYPT_MAGIC, LINK_MAGIC = b"OUTCOMES SEALED2", b"OUTCOMES SEALED1", b"OUTCOMES LINK 01"
MAGICS = (MAGIC, SCRYPT_MAGIC, LINK_MAGIC)
PASSES, MEMORY_MIB, LANES = 3, 64, 4
CHUNK = 65_536
SHORTEST_PASSPHRASE = 12
_MAGIC_LENGTH, _TAG, _SALT, _PREFIX, _NONCE = 16, 16, 16, 7, 12
_MOST_PASSES, _MOST_MEMORY_MIB, _SCRYPT_COSTS = 16, 1024, range(10, 21)


class NotDecrypted(Exception):
    """The passphrase is wrong, or the file was altered or cut short."""


class EncryptingFile(io.RawIOBase):
    """A file to write to: what is written is encrypted and passed on, and no plaintext is kept anywhere but in memory."""

    def __init__(self, target: BinaryIO, passphrase: str) -> None:
        settings = bytes([PASSES]) + MEMORY_MIB.to_bytes(2, "big")
        self._header = MAGIC + settings + secrets.token_bytes(_SALT + _PREFIX)
        self._cipher, self._target = _argon2(settings, self._header[19:35], passphrase), target
        self._waiting, self._number = bytearray(), 0
        target.write(self._header)

    def writable(self) -> bool:
        """Tell that it can be written to."""
        return True

    def write(self, content: bytes | bytearray | memoryview, /) -> int:  # type: ignore[override]
        """Take the content; whole chunks are encrypted and passed on."""
        self._waiting += content
        while len(self._waiting) > CHUNK:
            self._pass_on(bytes(self._waiting[:CHUNK]), last=False)
            del self._waiting[:CHUNK]
        return len(content)

    def finish(self) -> None:
        """Pass on the last chunk: without it the file cannot be decrypted."""
        self._pass_on(bytes(self._waiting), last=True)

    def _pass_on(self, chunk: bytes, *, last: bool) -> None:
        nonce = _nonce(self._header, self._number, last=last)
        self._target.write(self._cipher.encrypt(nonce, chunk, self._header))
        self._number += 1


def encrypted(content: bytes, passphrase: str) -> bytes:
    """A small content, encrypted."""
    target = io.BytesIO()
    file = EncryptingFile(target, passphrase)
    file.write(content)
    file.finish()
    return target.getvalue()


def is_encrypted(beginning: bytes) -> bool:
    """Tell whether a file that begins so is one of this module's layouts."""
    return beginning[:_MAGIC_LENGTH] in MAGICS


def decrypted(source: BinaryIO, passphrase: str) -> Iterator[bytes]:
    """The content, chunk by chunk; raises NotDecrypted, before the end is reached for a file cut short."""
    magic = source.read(_MAGIC_LENGTH)
    try:
        if magic == LINK_MAGIC:
            yield _one_chunk(source, passphrase)
            return
        header, cipher = _opened(magic, source, passphrase)
        for number, (chunk, last) in enumerate(_chunks(source)):
            yield cipher.decrypt(_nonce(header, number, last=last), chunk, header)
    except InvalidTag as error:
        raise NotDecrypted from error


def _opened(magic: bytes, source: BinaryIO, passphrase: str) -> tuple[bytes, AESGCM]:
    """The header of a chunked layout, and its cipher; a forged cost is refused before it takes any time or memory."""
    settings = source.read({MAGIC: 3, SCRYPT_MAGIC: 1}.get(magic, 0))
    rest = source.read(_SALT + _PREFIX)
    if len(rest) < _SALT + _PREFIX or not settings:
        raise NotDecrypted
    if magic == MAGIC:
        return magic + settings + rest, _argon2(settings, rest[:_SALT], passphrase)
    if settings[0] not in _SCRYPT_COSTS:
        raise NotDecrypted
    scrypt = Scrypt(salt=rest[:_SALT], length=32, n=2 ** settings[0], r=8, p=1)
    return magic + settings + rest, AESGCM(scrypt.derive(_bytes(passphrase)))


def _one_chunk(source: BinaryIO, passphrase: str) -> bytes:
    settings, salt, nonce = source.read(3), source.read(_SALT), source.read(_NONCE)
    if len(nonce) < _NONCE:
        raise NotDecrypted
    return _argon2(settings, salt, passphrase).decrypt(nonce, source.read(), LINK_MAGIC + settings + salt + nonce)


def _argon2(settings: bytes, salt: bytes, passphrase: str) -> AESGCM:
    passes, memory = settings[0], int.from_bytes(settings[1:3], "big")
    if not 1 <= passes <= _MOST_PASSES or not 1 <= memory <= _MOST_MEMORY_MIB:
        raise NotDecrypted
    kdf = Argon2id(salt=salt, length=32, iterations=passes, lanes=LANES, memory_cost=memory * 1024)
    return AESGCM(kdf.derive(_bytes(passphrase)))


def _bytes(passphrase: str) -> bytes:
    return passphrase.encode(errors="surrogateescape")


def _nonce(header: bytes, number: int, *, last: bool) -> bytes:
    return header[-_PREFIX:] + number.to_bytes(4, "big") + bytes([last])


def _chunks(source: BinaryIO) -> Iterator[tuple[bytes, bool]]:
    """The chunks with their tags, each with whether it is the last one."""
    chunk = source.read(CHUNK + _TAG)
    while True:
        following = source.read(CHUNK + _TAG)
        yield chunk, not following
        if not following:
            return
        chunk = following
