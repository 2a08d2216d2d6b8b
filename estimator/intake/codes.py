"""One-time codes: made by chance, known afterwards by their hash alone; and the tokens that bind a form to its code."""

import hashlib
import hmac
import secrets

CODE_BYTES = 20  # 160 bits; ASVS 5.0, 7.2.3 asks for 128. At a thousand guesses a second a lifetime finds none.
_TOKEN_BYTES = 12


def new_code() -> str:
    """A code that nobody can guess, in letters that an address takes as they are."""
    return secrets.token_urlsafe(CODE_BYTES)


def hash_of_code(code: str) -> str:
    """What is kept of a code. It has so many bits that a plain hash can't be searched: no slow one is needed."""
    return hashlib.sha256(b"tressmeter intake code\0" + code.encode("utf-8", "surrogatepass")).hexdigest()


def same(one: str, other: str) -> bool:
    """Whether two texts are equal, found out in a time that does not tell where they differ."""
    return hmac.compare_digest(one.encode("utf-8", "surrogatepass"), other.encode("utf-8", "surrogatepass"))


def form_token(code: str, form: str) -> str:
    """A token that only the page of this code can have put into this form."""
    by_chance = secrets.token_urlsafe(_TOKEN_BYTES)
    return f"{by_chance}.{_seal(code, form, by_chance)}"


def token_fits(token: str, code: str, form: str) -> bool:
    """Whether this form came from the page of this code."""
    by_chance, _, seal = token.partition(".")
    return same(seal, _seal(code, form, by_chance))


def _seal(code: str, form: str, by_chance: str) -> str:
    said = f"{form}\0{by_chance}".encode("utf-8", "surrogatepass")
    return hmac.new(code.encode("utf-8", "surrogatepass"), said, hashlib.sha256).hexdigest()
