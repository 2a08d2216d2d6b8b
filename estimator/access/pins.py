"""A PIN: what may be one, and what is kept of it. It unlocks a paired phone and is of no use without one."""

import base64
import hashlib
import hmac
import secrets
from itertools import pairwise
from threading import Lock

from estimator.errors import BadInputError

FEWEST_DIGITS, MOST_DIGITS = 6, 12
# scrypt, RFC 7914. N = 2^17, r = 8, p = 1: OWASP's Password Storage Cheat Sheet, first choice (from memory).
# It takes 128 MB and about a quarter of a second.
COST, BLOCK, LANES = 2**17, 8, 1
SALT_BYTES, KEY_BYTES = 16, 32
_ONE_AT_A_TIME = Lock()  # many tries at once may not fill the machine's memory


def checked(pin: str) -> str:
    """The PIN, where it may serve as one. Raises BadInputError."""
    if not (pin.isascii() and pin.isdigit() and FEWEST_DIGITS <= len(pin) <= MOST_DIGITS):
        raise BadInputError(f"A PIN has {FEWEST_DIGITS} to {MOST_DIGITS} digits and nothing else. Choose another.")
    if _is_easy(pin):
        raise BadInputError("This PIN is among the first that anybody tries: a row, a repeat. Choose another.")
    return pin


def _is_easy(pin: str) -> bool:
    """One digit, a row up or down, or a short part said again (121212, 123123, 112233)."""
    steps = {(int(b) - int(a)) % 10 for a, b in pairwise(pin)}
    if len(steps) == 1 and steps <= {0, 1, 9}:
        return True
    if any(pin == pin[:part] * (len(pin) // part) for part in range(1, len(pin) // 2 + 1) if len(pin) % part == 0):
        return True
    return len(set(pin)) <= 2 or all(a == b for a, b in zip(pin[::2], pin[1::2], strict=False))


def hashed(pin: str) -> str:
    """What is kept of a PIN: the costs, a salt of its own, and the key made of it."""
    salt = secrets.token_bytes(SALT_BYTES)
    key = _key(pin, salt, COST, BLOCK, LANES)
    return f"scrypt${COST}${BLOCK}${LANES}${_text(salt)}${_text(key)}"


def fits(pin: str, kept: str) -> bool:
    """Whether this is the PIN of which `kept` was made. It takes the same time either way."""
    _, cost, block, lanes, salt, key = kept.split("$")
    made = _key(pin, base64.b64decode(salt), int(cost), int(block), int(lanes))
    return hmac.compare_digest(made, base64.b64decode(key))


def _key(pin: str, salt: bytes, cost: int, block: int, lanes: int) -> bytes:
    with _ONE_AT_A_TIME:
        return hashlib.scrypt(
            pin.encode("utf-8"), salt=salt, n=cost, r=block, p=lanes, maxmem=256 * cost * block, dklen=KEY_BYTES
        )


def _text(content: bytes) -> str:
    return base64.b64encode(content).decode("ascii")
