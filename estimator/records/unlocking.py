"""Where a salon's key comes from: the system's keyring, or words from the environment, from a file, from a person.

A key that was found stays in this program's memory until it ends; nothing writes it anywhere else.
"""

import base64
import os
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

from estimator.errors import BadInputError
from estimator.records.errors import LockedError
from estimator.records.key_file import KeyFile, opened_by

PASSPHRASE_VARIABLE = "TRESSMETER_PASSPHRASE"
PASSPHRASE_FILE_VARIABLE = "TRESSMETER_PASSPHRASE_FILE"
_SERVICE = "tressmeter"
_MOST_WORDS = 4096
_held: dict[str, bytes] = {}


def key_of(key_file: KeyFile) -> bytes:
    """The key that this file wraps. Raises LockedError, which says in a sentence what is missing or wrong."""
    if key_file.id not in _held:
        _held[key_file.id] = _found(key_file)
    return _held[key_file.id]


def hold(key_file: KeyFile, key: bytes) -> None:
    """Remember a key while this program runs."""
    _held[key_file.id] = key


def forget() -> None:
    """As if no key had been asked for yet."""
    _held.clear()
    opened_by.cache_clear()


def _found(key_file: KeyFile) -> bytes:
    for told_by, words in given_words():
        key = opened_by(key_file, words)
        if key is None:
            raise LockedError(f"The passphrase in {told_by} does not open these records. Check it, then try again.")
        return key
    key = in_keyring(key_file)
    if key is not None:
        return key
    return _asked(key_file) if can_ask() else _refuse()


def given_words() -> Iterator[tuple[str, str]]:
    """What the environment says: where it stands, and the words."""
    if words := os.environ.get(PASSPHRASE_VARIABLE, ""):
        yield PASSPHRASE_VARIABLE, words
    elif named := os.environ.get(PASSPHRASE_FILE_VARIABLE, ""):
        yield f"the file of {PASSPHRASE_FILE_VARIABLE}", words_in(Path(named))


def words_in(path: Path) -> str:
    """The first line of a file. Raises BadInputError."""
    try:
        with path.open(encoding="utf-8-sig") as file:
            words = file.readline(_MOST_WORDS).strip()
    except (OSError, UnicodeDecodeError) as problem:
        raise BadInputError(f"The passphrase's file {path.name} can't be read. Check its path.") from problem
    if not words:
        raise BadInputError(f"The first line of {path.name} is empty. The passphrase stands there alone.")
    return words


def _refuse() -> bytes:
    raise LockedError(
        f"These records are encrypted{_no_keyring()}. Set {PASSPHRASE_VARIABLE} to their passphrase, or "
        f"{PASSPHRASE_FILE_VARIABLE} to a file that holds it, and start again."
    )


def _no_keyring() -> str:
    return "" if keyring_there() else ", and this system has no keyring that could hold the key"


# --- a person at a terminal


def can_ask() -> bool:
    """Whether somebody sits there. A page's work runs beside the main thread, and must never wait for a terminal."""
    return threading.current_thread() is threading.main_thread() and sys.stdin is not None and sys.stdin.isatty()


def ask(what: str) -> str:
    """Words typed at the terminal, unseen."""
    from getpass import getpass

    return getpass(f"{what}: ")


def _asked(key_file: KeyFile) -> bytes:
    for _ in range(3):
        key = opened_by(key_file, ask("Passphrase of the records"))
        if key is not None:
            return key
        print("That is not the passphrase of these records.", file=sys.stderr)
    raise LockedError("None of these was the passphrase of the records. Nothing was changed. Look it up, then go on.")


# --- the system's keyring


def keyring_there() -> bool:
    """Whether this system has a keyring that the library knows."""
    import keyring
    from keyring.backends import fail

    return not isinstance(keyring.get_keyring(), fail.Keyring)


def in_keyring(key_file: KeyFile) -> bytes | None:
    """The key as the keyring holds it; None where it holds none, or can't be asked."""
    import keyring
    from keyring.errors import KeyringError

    try:
        told = keyring.get_password(_SERVICE, key_file.id)
    except (KeyringError, OSError):
        return None
    return base64.b64decode(told) if told else None


def put_into_keyring(key_file: KeyFile, key: bytes) -> None:
    """The key in the system's keyring. Raises BadInputError where there is none."""
    import keyring
    from keyring.errors import KeyringError

    try:
        keyring.set_password(_SERVICE, key_file.id, base64.b64encode(key).decode("ascii"))
    except (KeyringError, OSError) as problem:
        raise BadInputError(
            "This system has no keyring that could hold the key, or it refused. The passphrase opens the records: "
            f"give it in {PASSPHRASE_VARIABLE} or {PASSPHRASE_FILE_VARIABLE}, or type it when asked."
        ) from problem


def take_out_of_keyring(key_file: KeyFile) -> bool:
    """Whether the keyring held the key; it does so no longer."""
    import keyring
    from keyring.errors import KeyringError

    try:
        keyring.delete_password(_SERVICE, key_file.id)
    except (KeyringError, OSError):
        return False
    return True
