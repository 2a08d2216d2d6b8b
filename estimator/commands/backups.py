"""Commands that back a salon's records up, list backups and put them back."""

from pathlib import Path
from typing import Annotated

import typer

from estimator.commands.options import SalonOption
from estimator.errors import BadInputError


def backup(
    file: Annotated[Path | None, typer.Argument(help="The new file.")] = None,
    into: Annotated[
        Path | None, typer.Option("--into", help="A folder of backups, which stores each file once for all of them.")
    ] = None,
    keep: Annotated[int | None, typer.Option("--keep", help="With --into: only so many backups stay.")] = None,
    check: Annotated[bool, typer.Option("--check", help="With --into: read all backups there once more.")] = False,
    salon: SalonOption = None,
) -> None:
    """The whole of the records in one file, or once more into a folder of backups; read back and checked."""
    if (file is None) == (into is None):
        raise BadInputError("Name one new file, or a folder of backups with --into FOLDER.")
    if file is not None and (keep is not None or check):
        raise BadInputError("--keep and --check belong to a folder of backups. Name it with --into FOLDER.")
    missing = _into_file(file, salon) if file is not None else _into_folder(into or Path(), keep, check, salon)
    for sha256 in missing:
        print(f"Missing, so not in the backup: {sha256}. `tressmeter doctor` says more.")


def _into_file(file: Path, salon: Path | None) -> tuple[str, ...]:
    from estimator.access.trail import Happened, note_at
    from estimator.commands.records import opened
    from estimator.records.backing_up import back_up

    with opened(salon) as store:
        done = back_up(store, file)
        note_at(store.place.folder, Happened.BACKED_UP)
    print(f"{done.rows} rows and {done.files} files written to {file}, read back and found whole")
    return done.missing


def _into_folder(folder: Path, keep: int | None, check: bool, salon: Path | None) -> tuple[str, ...]:
    from estimator.access.trail import Happened, note_at
    from estimator.commands.records import opened
    from estimator.records.backup_folder import back_up_into

    with opened(salon) as store:
        done = back_up_into(store, folder, keep)
        note_at(store.place.folder, Happened.BACKED_UP)
    print(f"Backup {done.number}: {done.rows} rows and {done.files} files, {done.new} of them new in {folder}, "
          "read back and found whole")  # fmt: skip
    if done.taken_out:
        print(f"{done.taken_out} older backups taken out, with the files that only they named")
    if done.open_before:
        print(f"{done.open_before} backups in {folder} were made before the records were encrypted: they lie open.")
    if check:
        _tell_check(folder)
    return done.missing


def list_backups(
    folder: Annotated[Path, typer.Argument(help="The folder of --into.")],
    check: Annotated[bool, typer.Option("--check", help="Read every part of every backup.")] = False,
) -> None:
    """The backups in a folder of backups."""
    from estimator.records.backup_list import need_backups, sound_backups

    need_backups(folder)
    backups, _ = sound_backups(folder)
    for each in backups:
        sealed = ", encrypted" if each.sealed else ""
        print(f"{each.number:>6}  {each.made_at_utc[:16].replace('T', ' ')} UTC  {each.rows} rows, "
              f"{len(each.files)} files{sealed}")  # fmt: skip
    if not backups:
        print(f"There is no backup in {folder}.")
    if check:
        _tell_check(folder)


def _tell_check(folder: Path) -> None:
    from estimator.records.backup_folder import damaged_in

    damaged = damaged_in(folder)
    for name in damaged:
        print(f"Damaged or gone: {name}")
    if damaged:
        print("Delete what is damaged and back up again: what the records still hold is written anew.")
        raise typer.Exit(1)
    print("Every part of every backup was read and is as it was written.")


def restore(
    backup: Annotated[Path, typer.Argument(help="What `tressmeter backup` wrote: a file, or a folder of backups.")],
    salon: Annotated[Path, typer.Argument(help="A new folder for the records.")],
    at: Annotated[
        str, typer.Option("--at", help="From a folder: the backup of this number, or the last one up to this day.")
    ] = "",
    erased_in: Annotated[
        Path | None, typer.Option("--erased-in", help="Erase anew whoever was erased in the records of this folder.")
    ] = None,
) -> None:
    """Put a backup into a new folder, and compare every row and file with it."""
    from estimator.commands.records import opened
    from estimator.records.erasing import erase_again, erased_ids
    from estimator.records.place import salon_place

    ids: list[str] = []
    if erased_in is not None:
        with opened(erased_in) as store:
            ids = erased_ids(store)
    if backup.is_dir():
        from estimator.records.backup_folder import restore_from

        done = restore_from(backup, salon_place(salon), at)
    else:
        from estimator.records.backing_up import restore as put_back

        if at:
            raise BadInputError("--at chooses among the backups of a folder; this is one file.")
        done = put_back(backup, salon_place(salon))
    print(f"{done.rows} rows and {done.files} files restored into {salon}, each compared with the backup")
    if erased_in is None:
        print("Clients that were erased after this backup are in it again: erase them anew, or use --erased-in.")
        return
    with opened(salon) as store:
        print(f"{erase_again(store, ids)} clients erased again")
