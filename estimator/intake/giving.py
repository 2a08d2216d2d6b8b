"""The client's side: what may be done with an open code. Nothing is kept before consent.

Every function raises NotOpenError where the code opens nothing: wrong, expired, revoked and used are one answer.
"""

import json
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from estimator.errors import BadInputError
from estimator.intake.entry import (
    MOST_WORDS,
    Entry,
    EntryPhoto,
    GivenConsent,
    SentConsultation,
    entry_from_json,
    entry_json,
)
from estimator.intake.inbox import Inbox, sent_text
from estimator.intake.invitation import Invitation, State
from estimator.intake.invitation_book import OpenBook
from estimator.intake.photos_taken_in import CleanPhoto
from estimator.records.consent_scopes import Scope, scope_texts
from estimator.records.errors import ConsentMissingError, RecordsError
from estimator.records.photo_files import hash_of
from estimator.records.sent_in import ENTRY_FILE, SENT_FILE, of_health
from estimator.remote.views import asked_views
from estimator.synced_folders import sync_folder

LEFT_FREE_BYTES = 500_000_000  # of the salon's disk, whatever a client sends
NO_SPACE = "The salon's machine is short of space. Your photo was not kept; tell the salon."


class NotOpenError(BadInputError):
    """The code opens nothing."""

    def __init__(self) -> None:
        super().__init__("This address is not open.")


class NotTakenError(RecordsError):
    """The salon's machine could not take it; the text is meant for the client."""


class LimitReachedError(BadInputError):
    """The invitation takes no more of this."""


@dataclass(frozen=True)
class Given:
    """What a client has given so far under an open code, and what it may hold."""

    invitation: Invitation
    entry: Entry

    @property
    def places_left(self) -> int:
        return self.invitation.limits.photos - len(self.entry.photos)


def given(inbox: Inbox, code: str) -> Given:
    """What was given so far."""
    with inbox.held() as book:
        invitation = _opened(inbox, book, code)
        return Given(invitation, _read(inbox, invitation))


def agree(inbox: Inbox, code: str, scopes: frozenset[Scope]) -> None:
    """Keep what the client agrees to; what is no longer agreed to goes with what was given for it."""
    if Scope.REMOTE not in scopes:
        withdraw(inbox, code)
        return
    with inbox.held() as book:
        invitation = _opened(inbox, book, code)
        entry = _read(inbox, invitation)
        kept = [each for each in entry.consents if each.scope in scopes]
        new = scopes - {each.scope for each in kept}
        added = [GivenConsent(scope, scope_texts()[scope].text, book.now) for scope in sorted(new)]
        changed = replace(entry, consents=(*kept, *added))
        if Scope.HEALTH not in scopes:
            changed = replace(changed, answers=_without_health(entry.answers))
        _write(inbox, invitation, changed)


def withdraw(inbox: Inbox, code: str) -> None:
    """Take out all that was given; the code stays open until its end."""
    with inbox.held() as book:
        inbox.take_out_open(_opened(inbox, book, code).id)


def begin_upload(inbox: Inbox, code: str) -> Given:
    """One more try, counted before a byte of the photograph is taken. Raises LimitReachedError, ConsentMissingError."""
    with inbox.held() as book:
        invitation = _opened(inbox, book, code)
        entry = _agreed(_read(inbox, invitation))
        _check_places(invitation, entry, 0)
        if invitation.tries >= invitation.limits.tries:
            raise LimitReachedError(
                f"This address takes {invitation.limits.tries} tries, and they are used up. Send what is here, or ask "
                "the salon for a new link."
            )
        book.keep(invitation.with_try())
        return Given(invitation.with_try(), entry)


def add_photo(inbox: Inbox, code: str, view: str, photo: CleanPhoto) -> EntryPhoto:
    """The photograph as it is kept now: its file first, then its line. Raises LimitReachedError, BadInputError."""
    if view not in {each.code for each in asked_views()}:
        raise BadInputError("Say which side of the head the photo shows.")
    with inbox.held() as book:
        invitation = _opened(inbox, book, code)
        entry = _agreed(_read(inbox, invitation))
        if any(each.original_sha256 == photo.original_sha256 for each in entry.photos):
            raise BadInputError("This very photo is here already. It counts once.")
        _check_places(invitation, entry, photo.size_bytes)
        _check_space(inbox, photo)
        name = _free_name(view, photo.ending, {each.name for each in entry.photos})
        kept = EntryPhoto(name, view, hash_of(photo.content), photo.original_sha256, photo.size_bytes)
        inbox.files.put(inbox.open_folder(invitation.id) / name, photo.content)
        _write(inbox, invitation, replace(entry, photos=(*entry.photos, kept)))
    return kept


def remove_photo(inbox: Inbox, code: str, name: str) -> bool:
    """Whether there was such a photograph among those given under this code; it is gone now."""
    with inbox.held() as book:
        invitation = _opened(inbox, book, code)
        entry = _read(inbox, invitation)
        left = tuple(each for each in entry.photos if each.name != name)
        if left == entry.photos:
            return False
        _write(inbox, invitation, replace(entry, photos=left))
    return True


def answer(inbox: Inbox, code: str, asked: frozenset[str], answers: Mapping[str, Any]) -> None:
    """Keep the answers to the questions `asked`, in place of what stood for them. Raises BadInputError.

    Answers on health are kept only with the consent to them.
    """
    with inbox.held() as book:
        invitation = _opened(inbox, book, code)
        entry = _agreed(_read(inbox, invitation))
        others = {fact: value for fact, value in entry.answers.items() if fact not in asked}
        told = others | {fact: value for fact, value in answers.items() if fact in asked}
        if not entry.agreed_to(Scope.HEALTH):
            told = _without_health(told)
        changed = replace(entry, answers=told)
        _ = changed.facts  # raises with every fault at once
        _write(inbox, invitation, changed)


def wish(inbox: Inbox, code: str, level: float, tone: str, words: str) -> None:
    """Keep what the client hopes for. level : 0 where the client can't say. Raises BadInputError."""
    if len(words) > MOST_WORDS:
        raise BadInputError(f"Your own words have {len(words):,} letters; {MOST_WORDS:,} are taken. Shorten them.")
    with inbox.held() as book:
        invitation = _opened(inbox, book, code)
        entry = _agreed(_read(inbox, invitation))
        changed = replace(entry, wish_level=level, wish_tone=tone, words=words)
        _ = changed.wish
        _write(inbox, invitation, changed)


def send(inbox: Inbox, code: str) -> SentConsultation:
    """The consultation, in the inbox now; the code is used up. Raises BadInputError without any photograph."""
    with inbox.held() as book:
        invitation = _opened(inbox, book, code)
        entry = _agreed(_read(inbox, invitation))
        if not entry.photos:
            raise BadInputError("There is no photo here yet. Put in one at least, then send.")
        sent = SentConsultation(invitation.id, book.now, invitation.client, entry)
        folder = inbox.open_folder(invitation.id)
        _drop_strays(folder, entry)
        inbox.files.put(folder / SENT_FILE, sent_text(sent))
        _into_inbox(inbox, invitation.id)
        book.keep(replace(invitation, ended=State.SENT))
    return sent


def _into_inbox(inbox: Inbox, invitation_id: str) -> None:
    """The one act that counts: from here on it is sent, and what is still to be noted the next start notes."""
    folder, there = inbox.open_folder(invitation_id), inbox.sent_folder(invitation_id)
    try:
        (folder / ENTRY_FILE).unlink(missing_ok=True)
        there.parent.mkdir(parents=True, exist_ok=True)
        folder.rename(there)
        sync_folder(there.parent)
        sync_folder(folder.parent)
    except OSError as problem:
        raise NotTakenError(
            f"It could not be sent ({problem.strerror}). Try again in a while, and tell the salon."
        ) from problem


@contextmanager
def _told_in_one_sentence() -> Iterator[None]:
    try:
        yield
    except (ValueError, KeyError, TypeError) as problem:
        raise NotTakenError(
            "What you gave can't be read any more. Ask the salon for a new link, and put it in once more."
        ) from problem


def _opened(inbox: Inbox, book: OpenBook, code: str) -> Invitation:
    found = inbox.opened_by(book, code)
    if found is None:
        raise NotOpenError
    return found


def _read(inbox: Inbox, invitation: Invitation) -> Entry:
    with _told_in_one_sentence():
        try:
            return entry_from_json(json.loads(inbox.files.get(inbox.open_folder(invitation.id) / ENTRY_FILE)))
        except FileNotFoundError:
            return Entry()


def _write(inbox: Inbox, invitation: Invitation, entry: Entry) -> None:
    folder = inbox.open_folder(invitation.id)
    inbox.files.put(folder / ENTRY_FILE, json.dumps(entry_json(entry)).encode("ascii"))
    _drop_strays(folder, entry)


def _drop_strays(folder: Path, entry: Entry) -> None:
    """Take out photographs that were removed, or whose line a sudden end kept from being written."""
    named = {each.name for each in entry.photos} | {ENTRY_FILE}
    for path in folder.iterdir():
        if path.name not in named:
            path.unlink(missing_ok=True)


def _agreed(entry: Entry) -> Entry:
    if not entry.agreed_to(Scope.REMOTE):
        raise ConsentMissingError("Nothing is kept without your consent. Agree on the first page, then go on.")
    return entry


def _check_places(invitation: Invitation, entry: Entry, size_bytes: int) -> None:
    limits = invitation.limits
    if len(entry.photos) >= limits.photos:
        raise LimitReachedError(
            f"{limits.photos} photos are here, and this address takes no more. Remove one, or send what is here."
        )
    if sum(each.size_bytes for each in entry.photos) + size_bytes > limits.bytes_total:
        raise LimitReachedError(
            f"This address takes {limits.bytes_total / 1e6:.3g} MB in all, and this photo goes beyond it. Remove one, "
            "or send what is here."
        )


def _check_space(inbox: Inbox, photo: CleanPhoto) -> None:
    if shutil.disk_usage(inbox.folder).free < LEFT_FREE_BYTES + len(photo.content):
        raise NotTakenError(NO_SPACE)


def _free_name(view: str, ending: str, taken: set[str]) -> str:
    stems = {name.rpartition(".")[0] for name in taken}
    number = next(n for n in range(1, len(stems) + 2) if f"{view}-{n}" not in stems)
    return f"{view}-{number}.{ending}"


def _without_health(answers: Mapping[str, Any]) -> dict[str, Any]:
    return {fact: value for fact, value in answers.items() if not of_health(fact)}
