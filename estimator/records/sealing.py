"""Encryption in few words: a sealed text that shows every changed byte, keys made from a key, a key made from words.

AES-256-GCM (NIST SP 800-38D), HKDF with SHA-256 (RFC 5869), scrypt (RFC 7914) and AES-SIV (RFC 5297), all of them the
library's. A random nonce of 96 bits serves 2^32 texts under one key (SP 800-38D, 8.3): more than a salon ever writes.
"""

import os
from dataclasses import dataclass

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.ciphers.aead import AESGCM, AESSIV
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

KEY_BYTES, NONCE_BYTES, TAG_BYTES = 32, 12, 16
MARK = b"tm-seal1"  # what every sealed file begins with


class BrokenSealError(Exception):
    """A sealed text was changed, is cut short, belongs elsewhere, or was sealed with another key."""


@dataclass(frozen=True)
class Cost:
    """What one guess of a passphrase costs: scrypt's own three numbers. 2^17, 8, 1 take 128 MB and about 0.3 s."""

    n: int = 2**17
    r: int = 8
    p: int = 1


def gcm_encrypted(key: bytes, nonce: bytes, content: bytes, bound: bytes) -> bytes:
    """AES-GCM: the content encrypted, with its tag behind it. bound : Not in it, but it opens only with the same."""
    return AESGCM(key).encrypt(nonce, content, bound)


def gcm_decrypted(key: bytes, nonce: bytes, encrypted: bytes, bound: bytes) -> bytes:
    """The content that `gcm_encrypted` took. Raises BrokenSealError."""
    try:
        return AESGCM(key).decrypt(nonce, encrypted, bound)
    except (InvalidTag, ValueError) as problem:
        raise BrokenSealError from problem


def seal(key: bytes, content: bytes, bound: bytes) -> bytes:
    """The content as a sealed file holds it: mark, random nonce, the encrypted content and its tag."""
    nonce = os.urandom(NONCE_BYTES)
    return MARK + nonce + gcm_encrypted(key, nonce, content, bound)


def unseal(key: bytes, sealed: bytes, bound: bytes) -> bytes:
    """The content that `seal` took. Raises BrokenSealError."""
    begins = len(MARK) + NONCE_BYTES
    if not sealed.startswith(MARK):
        raise BrokenSealError
    return gcm_decrypted(key, sealed[len(MARK) : begins], sealed[begins:], bound)


def derived(key: bytes, info: bytes, salt: bytes | None = None, length: int = KEY_BYTES) -> bytes:
    """HKDF-SHA-256: a key for one use, from which neither the key it came from nor another use's can be told."""
    return HKDF(hashes.SHA256(), length, salt, info).derive(key)


def from_words(words: bytes, salt: bytes, cost: Cost, length: int = KEY_BYTES) -> bytes:
    """scrypt: a key from words that a person remembers, slowly, so that guessing is slow as well."""
    return Scrypt(salt=salt, length=length, n=cost.n, r=cost.r, p=cost.p).derive(words)


def hidden(key: bytes, name: bytes, bound: bytes) -> bytes:
    """AES-SIV: always the same for the same name, telling nothing of it without the key. key : 64 bytes."""
    return AESSIV(key).encrypt(name, [bound])


def shown(key: bytes, covered: bytes, bound: bytes) -> bytes:
    """The name that `hidden` took. Raises BrokenSealError."""
    try:
        return AESSIV(key).decrypt(covered, [bound])
    except (InvalidTag, ValueError) as problem:
        raise BrokenSealError from problem
