"""Commands that encrypt a salon's records, open them for good, and change the words that do."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.commands.options import SalonOption
from estimator.errors import BadInputError

if TYPE_CHECKING:
    from estimator.records.place import SalonPlace

_LOST = "Without the passphrase and without this code everything is lost: nobody can open the records, we neither."
_WordsFile = Annotated[
    Path | None, typer.Option("--new-file", help="A file whose first line is the new passphrase; else it is asked for.")
]
_Keyring = Annotated[bool, typer.Option("--keyring", help="Put the key into this system's keyring as well.")]


def encrypt(
    backup: Annotated[Path | None, typer.Option("--backup", help="Make this backup first, unencrypted.")] = None,
    new_file: _WordsFile = None,
    keyring: _Keyring = False,
    salon: SalonOption = None,
) -> None:
    """Encrypt the salon's folder: database, photographs, reports, drafts, journal, clock."""
    from estimator.records.converting import encrypt_salon
    from estimator.records.key_file import key_file_from
    from estimator.records.place import KEY_FILE
    from estimator.records.unlocking import key_of, put_into_keyring

    place = _begun(salon)
    _need_backup(place, backup)
    done = encrypt_salon(place, _new_words(new_file, first=True))
    print(f"Encrypted: {done.rows} rows and {done.files} files, each compared. Nothing readable is left of them.")
    _tell_damaged(done.damaged, "They are as damaged as before.")
    _tell_code(done.code)
    if backup is not None:
        print(f"The backup {backup} is not encrypted. Once you have opened the records by the passphrase, make a new "
              "backup and delete that one.")  # fmt: skip
    if not place.on_sqlite:
        print("The database lies on a server and was not touched: who guards that server guards it.")
    if keyring:
        key_file = key_file_from((place.folder / KEY_FILE).read_bytes())
        put_into_keyring(key_file, key_of(key_file))
        print("The keyring of this system holds the key: on this machine nobody needs to type the passphrase.")


def decrypt(
    yes: Annotated[bool, typer.Option("--yes", help="Do it; without it only what would happen is said.")] = False,
    salon: SalonOption = None,
) -> None:
    """Make an encrypted folder an open one again."""
    from estimator.records.converting import decrypt_salon
    from estimator.records.unlocking import take_out_of_keyring
    from estimator.records.vault import vault_of

    place = _begun(salon)
    if not yes:
        print("Whoever can read the folder could read the records again. Do it with: tressmeter records decrypt --yes")
        raise typer.Exit(1)
    key_file = vault_of(place.folder).key_file
    done = decrypt_salon(place)
    if key_file is not None:
        take_out_of_keyring(key_file)
    print(f"Open again: {done.rows} rows and {done.files} files. Encrypted backups still need the passphrase.")
    _tell_damaged(done.damaged, "They are lost; `tressmeter doctor --from BACKUP` takes them from there.")


def passphrase(
    new_file: _WordsFile = None,
    new_code: Annotated[bool, typer.Option("--new-code", help="Only make a new recovery code.")] = False,
    keyring: _Keyring = False,
    forget: Annotated[bool, typer.Option("--forget", help="Only take the key out of this system's keyring.")] = False,
    salon: SalonOption = None,
) -> None:
    """Change the passphrase of encrypted records, the recovery code, or what the keyring holds."""
    from estimator.records import rewrapping
    from estimator.records.unlocking import put_into_keyring, take_out_of_keyring

    place = _begun(salon)
    held = rewrapping.opened(place)
    if forget:
        gone = take_out_of_keyring(held.key_file)
        print("The keyring holds the key no longer." if gone else "The keyring held no key of these records.")
    elif new_code:
        _tell_code(rewrapping.change_code(place))
    elif keyring and new_file is None:
        put_into_keyring(held.key_file, held.key)
        print("The keyring of this system holds the key.")
    else:
        rewrapping.change_passphrase(place, _new_words(new_file))
        print("Changed. Backups made before, and copies of the old key.json, still open with the old passphrase.")
        if keyring:
            put_into_keyring(held.key_file, held.key)


def _begun(salon: Path | None) -> "SalonPlace":
    from estimator.records.place import salon_place, usual_folder

    place = salon_place(salon or usual_folder())
    if not place.begun:
        raise BadInputError(f"There are no records in {place.folder}. --salon FOLDER says where they lie.")
    return place


def _need_backup(place: "SalonPlace", backup: Path | None) -> None:
    from estimator.records.backing_up import back_up
    from estimator.records.checking import days_since_backup
    from estimator.records.store import open_store

    with open_store(place) as store:
        if backup is not None:
            done = back_up(store, backup)
            print(f"Backed up first: {done.rows} rows and {done.files} files in {backup}.")
        elif days_since_backup(store) != 0:
            raise BadInputError(
                "There is no backup of today. Nothing was changed. Make one with the same command: --backup FILE."
            )


def _new_words(new_file: Path | None, *, first: bool = False) -> str:
    """The new passphrase: from a file, for a first one from the environment, else typed twice."""
    from estimator.records.unlocking import (
        PASSPHRASE_FILE_VARIABLE,
        PASSPHRASE_VARIABLE,
        ask,
        can_ask,
        given_words,
        words_in,
    )

    if new_file is not None:
        return words_in(new_file)
    if first and (given := next(given_words(), None)):
        return given[1]
    if not can_ask():
        environment = f", or set {PASSPHRASE_VARIABLE} or {PASSPHRASE_FILE_VARIABLE}" if first else ""
        raise BadInputError(f"Nobody can be asked for a passphrase. Name a file with it, --new-file{environment}.")
    words = ask("New passphrase")
    if ask("The same once more") != words:
        raise BadInputError("The two are not the same. Nothing was changed. Do it again.")
    return words


def _tell_code(code: str) -> None:
    print("\nRecovery code, shown this once. Write it down and keep it apart from this machine:")
    print(f"\n    {code}\n\nIt is given where the passphrase would be. {_LOST}")


def _tell_damaged(damaged: tuple[str, ...], what: str) -> None:
    if damaged:
        print(f"{len(damaged)} files were damaged before. {what}", file=sys.stderr)
