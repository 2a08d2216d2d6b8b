"""`key.json`: the salon's key, wrapped once by the passphrase and once by a code for writing down."""

import base64
import json
import os
import re
import unicodedata
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from typing import Any

from estimator.errors import BadInputError
from estimator.records.errors import RecordsError
from estimator.records.sealing import KEY_BYTES, BrokenSealError, Cost, from_words, seal, unseal

FORMAT = "tressmeter-key-1"
SHORTEST_PASSPHRASE = 12  # our assumption; ASVS 6.2.1 asks for 8, but whoever has the folder may guess without a limit
_CODE_BYTES, _GROUP = 20, 4
_MOST = Cost(2**22, 32, 16)  # a changed file must not ask for more work than the machine has
PASSPHRASE, CODE = "passphrase", "recovery code"


@dataclass(frozen=True)
class Wrap:
    """The key, sealed by some words. by : What kind of words. salt, sealed : In hexadecimal."""

    by: str
    salt: str
    cost: Cost
    sealed: str


@dataclass(frozen=True)
class KeyFile:
    """id : Names the key and tells nothing of it. wraps : Each holds the whole key."""

    id: str
    wraps: tuple[Wrap, ...]

    def has(self, by: str) -> bool:
        """Whether such words open it."""
        return any(wrap.by == by for wrap in self.wraps)


def new_key() -> bytes:
    """256 random bits."""
    return os.urandom(KEY_BYTES)


def new_key_file(key: bytes, passphrase: str, code: str) -> KeyFile:
    """The file for a new key. Raises BadInputError where the passphrase is too short."""
    made = KeyFile(os.urandom(8).hex(), ())
    return rewrapped(rewrapped(made, key, PASSPHRASE, passphrase), key, CODE, code)


def rewrapped(key_file: KeyFile, key: bytes, by: str, words: str) -> KeyFile:
    """The file with the key wrapped by new words; the old ones of that kind open it no longer. Raises BadInputError."""
    if by == PASSPHRASE and len(_plain(words)) < SHORTEST_PASSPHRASE:
        raise BadInputError(
            f"The passphrase has {len(_plain(words))} letters; {SHORTEST_PASSPHRASE} or more are needed. "
            "Four words that don't belong together are a good one."
        )
    salt, cost = os.urandom(16), Cost()
    inner = from_words(_as_bytes(by, words), salt, cost)
    wrap = Wrap(by, salt.hex(), cost, seal(inner, key, _bound(key_file.id, by)).hex())
    return replace(key_file, wraps=(*(each for each in key_file.wraps if each.by != by), wrap))


@lru_cache(maxsize=16)
def opened_by(key_file: KeyFile, words: str) -> bytes | None:
    """The key; None where these words open nothing. Remembered, since each try is slow on purpose."""
    for wrap in key_file.wraps:
        if wrap.by == CODE and not _like_a_code(words):
            continue
        inner = from_words(_as_bytes(wrap.by, words), bytes.fromhex(wrap.salt), wrap.cost)
        try:
            return unseal(inner, bytes.fromhex(wrap.sealed), _bound(key_file.id, wrap.by))
        except BrokenSealError:
            continue
    return None


def _bound(key_id: str, by: str) -> bytes:
    return f"{FORMAT} {key_id} {by}".encode()


def _as_bytes(by: str, words: str) -> bytes:
    return (_code_letters(words) if by == CODE else _plain(words)).encode()


def _plain(words: str) -> str:
    """The same words typed on another keyboard are the same passphrase."""
    return unicodedata.normalize("NFC", words.strip())


# --- the code for writing down


def new_code() -> str:
    """160 random bits in groups of four letters and digits."""
    letters = base64.b32encode(os.urandom(_CODE_BYTES)).decode("ascii")
    return "-".join(letters[at : at + _GROUP] for at in range(0, len(letters), _GROUP))


def _code_letters(code: str) -> str:
    return re.sub(r"[\s-]", "", code).upper()


def _like_a_code(words: str) -> bool:
    return re.fullmatch(r"[A-Z2-7]{32}", _code_letters(words)) is not None


# --- as text


def key_file_bytes(key_file: KeyFile) -> bytes:
    """The file as it is written."""
    return json.dumps({"format": FORMAT, **asdict(key_file)}, indent=1).encode("ascii") + b"\n"


def key_file_from(content: bytes) -> KeyFile:
    """The file that `key_file_bytes` wrote. Raises RecordsError."""
    try:
        told = json.loads(content)
        if told["format"] != FORMAT:
            raise ValueError
        return KeyFile(_name(told["id"]), tuple(_wrap(each) for each in told["wraps"]))
    except (ValueError, KeyError, TypeError) as problem:
        raise RecordsError(
            "key.json is damaged, and without it these records can't be opened. Nothing was changed. Take key.json "
            "from a backup: `tressmeter restore` puts one into a new folder."
        ) from problem


def _wrap(told: dict[str, Any]) -> Wrap:
    cost = Cost(**{name: int(value) for name, value in told["cost"].items()})
    if not all(0 < got <= most for got, most in zip(asdict(cost).values(), asdict(_MOST).values(), strict=True)):
        raise ValueError
    bytes.fromhex(told["salt"]), bytes.fromhex(told["sealed"])
    return Wrap(str(told["by"]), told["salt"], cost, told["sealed"])


def _name(told: Any) -> str:
    if not re.fullmatch(r"[0-9a-f]{16}", told):
        raise ValueError
    return str(told)
