"""Whole files made into damaged ones, as bad cards, cut transfers and hostile hands make them."""

from collections.abc import Callable

import numpy as np

Damage = Callable[[bytes, np.random.Generator], bytes]


def cut(whole: bytes, random: np.random.Generator) -> bytes:
    """The end is missing, from one byte to nearly all."""
    return whole[: int(random.integers(1, len(whole)))]


def flip_bits(whole: bytes, random: np.random.Generator) -> bytes:
    """One to eight single bits are wrong, anywhere."""
    spoilt = bytearray(whole)
    for place in random.integers(0, len(whole), int(random.integers(1, 9))):
        spoilt[place] ^= 1 << int(random.integers(0, 8))
    return bytes(spoilt)


def spoil_head(whole: bytes, random: np.random.Generator) -> bytes:
    """One to four bytes of the first 600 are something else."""
    spoilt = bytearray(whole)
    for place in random.integers(0, min(600, len(whole)), int(random.integers(1, 5))):
        spoilt[place] = int(random.integers(0, 256))
    return bytes(spoilt)


def blank_block(whole: bytes, random: np.random.Generator) -> bytes:
    """A stretch of 16 to 4096 bytes reads as zeros, as an unreadable sector does."""
    length = min(int(2 ** random.integers(4, 13)), len(whole) // 2)
    start = int(random.integers(0, len(whole) - length))
    return whole[:start] + bytes(length) + whole[start + length :]


def move_block(whole: bytes, random: np.random.Generator) -> bytes:
    """A stretch is missing in one place and stands in another."""
    length = min(int(2 ** random.integers(4, 13)), len(whole) // 4)
    start = int(random.integers(0, len(whole) - length))
    rest = whole[:start] + whole[start + length :]
    there = int(random.integers(0, len(rest)))
    return rest[:there] + whole[start : start + length] + rest[there:]


DAMAGES: dict[str, Damage] = {
    "cut": cut,
    "bits": flip_bits,
    "head": spoil_head,
    "block": blank_block,
    "moved": move_block,
}
