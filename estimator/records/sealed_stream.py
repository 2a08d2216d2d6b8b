"""One long sealed file, written from front to back and read anywhere: pieces of AES-256-GCM, numbered, the last marked.

Its beginning holds the wrapped key, so that the passphrase alone opens it on an empty machine. No piece can be changed,
moved, doubled or left out at the end without the reading noticing.
"""

import hashlib
import io
import os
from collections.abc import Callable
from typing import IO

from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from estimator.records.key_file import KeyFile, key_file_bytes, key_file_from
from estimator.records.sealing import TAG_BYTES, BrokenSealError, derived, gcm_decrypted

MARK = b"tressmeter-sealed-1\n"
PIECE = 1 << 16
_SALT_BYTES, _LENGTH_BYTES, _MOST_KEY_FILE = 32, 4, 1 << 16


def _nonce(number: int, last: bool) -> bytes:
    # Every file has a key of its own, so a number can't meet itself again.
    return number.to_bytes(11, "big") + bytes([last])


class SealedWriter(io.RawIOBase):
    """Takes bytes in order and writes them sealed; `finish` writes the last piece."""

    def __init__(self, file: IO[bytes], key_file: KeyFile, key: bytes) -> None:
        told, salt = key_file_bytes(key_file), os.urandom(_SALT_BYTES)
        head = MARK + len(told).to_bytes(_LENGTH_BYTES, "big") + told + salt
        self._file, self._bound = file, hashlib.sha256(head).digest()
        file.write(head + self._bound)
        self._cipher = AESGCM(derived(key, b"tressmeter backup", salt))
        self._waiting, self._number = bytearray(), 0

    def writable(self) -> bool:
        return True

    def write(self, some: bytes) -> int:  # type: ignore[override]
        self._waiting += some
        while len(self._waiting) > PIECE:
            self._put(bytes(self._waiting[:PIECE]), last=False)
            del self._waiting[:PIECE]
        return len(some)

    def finish(self) -> None:
        """The last piece; nothing can be written after it."""
        self._put(bytes(self._waiting), last=True)
        self._waiting.clear()

    def _put(self, piece: bytes, *, last: bool) -> None:
        self._file.write(self._cipher.encrypt(_nonce(self._number, last), piece, self._bound))
        self._number += 1


class SealedReader(io.RawIOBase):
    """What a SealedWriter took, from any place. Reading raises BrokenSealError where a piece is not as it was written.

    key_of : The key for a wrapped one. key_file : As the file holds it.
    """

    def __init__(self, file: IO[bytes], key_of: Callable[[KeyFile], bytes]) -> None:
        head = file.read(len(MARK) + _LENGTH_BYTES)
        length = int.from_bytes(head[len(MARK) :], "big")
        if not head.startswith(MARK) or length > _MOST_KEY_FILE:
            raise BrokenSealError
        told, salt = file.read(length), file.read(_SALT_BYTES)
        self._file, self._bound = file, hashlib.sha256(head + told + salt).digest()
        if file.read(len(self._bound)) != self._bound:
            raise BrokenSealError  # or damage here would look like a wrong passphrase
        self.key_file = key_file_from(told)
        self._key = derived(key_of(self.key_file), b"tressmeter backup", salt)
        self._begins = file.tell()
        sealed = file.seek(0, io.SEEK_END) - self._begins
        self._pieces = max(1, -(-sealed // (PIECE + TAG_BYTES)))
        self._size = max(0, sealed - self._pieces * TAG_BYTES)
        self._at, self._held, self._piece = 0, -1, b""

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._at

    def seek(self, to: int, whence: int = io.SEEK_SET) -> int:
        self._at = to + {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self._size}[whence]
        if self._at < 0:
            raise ValueError("A place before the beginning was asked for.")
        return self._at

    def read(self, size: int = -1) -> bytes:
        last = self._size if size < 0 else min(self._size, self._at + size)
        parts = []
        while self._at < last:
            number, inside = divmod(self._at, PIECE)
            part = self._opened(number)[inside : inside + last - self._at]
            parts.append(part)
            self._at += len(part)
        return b"".join(parts)

    def _opened(self, number: int) -> bytes:
        if number != self._held:
            self._file.seek(self._begins + number * (PIECE + TAG_BYTES))
            sealed = self._file.read(PIECE + TAG_BYTES)
            last = number == self._pieces - 1
            self._piece = gcm_decrypted(self._key, _nonce(number, last), sealed, self._bound)
            self._held = number
        return self._piece


def is_sealed(file: IO[bytes]) -> bool:
    """Whether the file begins as a sealed one does; it stands at its beginning afterwards."""
    begins = file.read(len(MARK))
    file.seek(0)
    return begins == MARK
