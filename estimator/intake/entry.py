"""What one client has given so far, or has sent: consents, photographs by view, answers and wishes."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any

from estimator.care.facts import Facts, facts_from_answers
from estimator.records.consent_scopes import Scope
from estimator.toning.targets import Target

MOST_WORDS = 1_000  # letters of free text


@dataclass(frozen=True)
class GivenConsent:
    """What the client agreed to, with the very text that stood on the page."""

    scope: Scope
    text: str
    given_utc: datetime


@dataclass(frozen=True)
class EntryPhoto:
    """One photograph as it is kept, without private tags.

    name : Our own, such as back-1.jpg. sha256 : Of the kept file. original_sha256, size_bytes : Of what arrived.
    """

    name: str
    view: str
    sha256: str
    original_sha256: str
    size_bytes: int


@dataclass(frozen=True)
class Entry:
    """What a client has given.

    answers : By fact, as a form holds them. wish_level : 0 where none was said. words : In the client's own words.
    """

    consents: tuple[GivenConsent, ...] = ()
    photos: tuple[EntryPhoto, ...] = ()
    answers: Mapping[str, Any] = field(default_factory=dict)
    wish_level: float = 0.0
    wish_tone: str = ""
    words: str = ""

    def agreed_to(self, scope: Scope) -> bool:
        """Whether the client agreed to this use."""
        return any(consent.scope is scope for consent in self.consents)

    @property
    def views(self) -> dict[str, str]:
        """The view that the client gave each photograph for, by its name."""
        return {photo.name: photo.view for photo in self.photos}

    @property
    def facts(self) -> Facts:
        """What the answers say; everything else stays open. Raises BadInputError."""
        return facts_from_answers(self.answers)

    @property
    def wish(self) -> Target | None:
        """The wish for the whole hair; None where no level was said."""
        return Target("hair", self.wish_level, self.wish_tone or "neutral") if self.wish_level else None


@dataclass(frozen=True)
class SentConsultation:
    """One consultation in the inbox. id : That of its invitation. client : The client's code where it is linked."""

    id: str
    sent_utc: datetime
    client: str
    entry: Entry


def entry_json(entry: Entry) -> dict[str, Any]:
    """The entry as JSON holds it."""
    told = asdict(entry)
    told["consents"] = [
        {"scope": each.scope.value, "text": each.text, "given_utc": each.given_utc.isoformat()}
        for each in entry.consents
    ]
    return told


def entry_from_json(told: Mapping[str, Any]) -> Entry:
    """The entry in `told`. Raises KeyError, TypeError or ValueError where it is none."""
    consents = tuple(
        GivenConsent(Scope(each["scope"]), str(each["text"]), datetime.fromisoformat(each["given_utc"]))
        for each in told["consents"]
    )
    photos = tuple(EntryPhoto(**photo) for photo in told["photos"])
    wish = float(told["wish_level"]), str(told["wish_tone"])
    return Entry(consents, photos, dict(told["answers"]), *wish, str(told["words"]))
