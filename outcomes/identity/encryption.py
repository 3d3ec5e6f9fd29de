"""Encrypt the link file with a passphrase, so that it can be neither read nor altered without it.

The passphrase becomes a key by Argon2id (RFC 9106) with the second of the two settings that it recommends, 64 MiB of
memory and three passes; the whole content is closed at once by AES-256 in Galois/Counter Mode (NIST SP 800-38D) with a
fresh random nonce and salt at every writing. The header is authenticated with the content, so no byte can be altered and
nothing cut off or added without being noticed.

Layout: 16 bytes of magic; passes (1 byte); memory in MiB (2 bytes); salt (16); nonce (12); the content and its tag (16).
"""

from __future__ import annotations

import secrets

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id

MAGIC = b"OUTCOMES LINK 01"
PASSES, MEMORY_MIB, LANES = 3, 64, 4
_MOST_PASSES, _MOST_MEMORY_MIB = 16, 1024
_SALT, _NONCE = 16, 12
_HEADER = len(MAGIC) + 1 + 2 + _SALT + _NONCE
_KEY = 32


def closed(content: bytes, passphrase: str) -> bytes:
    """The content, closed with the passphrase."""
    settings = bytes([PASSES]) + MEMORY_MIB.to_bytes(2, "big")
    header = MAGIC + settings + secrets.token_bytes(_SALT + _NONCE)
    return header + _cipher(header, passphrase).encrypt(header[-_NONCE:], content, header)


def opened(file: bytes, passphrase: str) -> bytes | None:
    """The content, or None when the passphrase is wrong or the file was altered or cut short."""
    header = file[:_HEADER]
    if not _sound(header):
        return None
    try:
        return _cipher(header, passphrase).decrypt(header[-_NONCE:], file[_HEADER:], header)
    except InvalidTag:
        return None


def is_link_file(file: bytes) -> bool:
    """Tell whether the file begins as a link file does."""
    return file.startswith(MAGIC)


def _sound(header: bytes) -> bool:
    """Tell whether the settings are such as this program writes; a forged file must not ask for all the memory."""
    passes, memory = header[len(MAGIC) : len(MAGIC) + 1], header[len(MAGIC) + 1 : len(MAGIC) + 3]
    return (
        len(header) == _HEADER
        and header.startswith(MAGIC)
        and 1 <= int.from_bytes(passes, "big") <= _MOST_PASSES
        and 1 <= int.from_bytes(memory, "big") <= _MOST_MEMORY_MIB
    )


def _cipher(header: bytes, passphrase: str) -> AESGCM:
    passes, memory = header[len(MAGIC)], int.from_bytes(header[len(MAGIC) + 1 : len(MAGIC) + 3], "big")
    salt = header[-_NONCE - _SALT : -_NONCE]
    kdf = Argon2id(salt=salt, length=_KEY, iterations=passes, lanes=LANES, memory_cost=memory * 1024)
    return AESGCM(kdf.derive(passphrase.encode(errors="surrogateescape")))
