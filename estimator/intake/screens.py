"""What stands on each page of the client: titles, questions, photographs by view, and how far it has come."""

from dataclasses import asdict
from datetime import datetime
from typing import Any

from estimator.intake.asked import LEVELS, asked_on
from estimator.intake.entry import MOST_WORDS, Entry
from estimator.intake.giving import Given
from estimator.records.consent_scopes import Scope, scope_texts
from estimator.remote.views import asked_views
from estimator.reports import wording
from estimator.reports.intake_drawings import light_drawing, view_drawing
from estimator.reports.intake_sheet import PRIVACY, RULES
from estimator.toning.targets import TONES

SENT_AS_FILES = 1  # the last rule of the sheet speaks of chats, which this page is not
STEPS = ("start", "photos", "hair", "health", "wish", "send")
TITLES = {
    "start": "Photos for your salon",
    "photos": "Photos of your hair",
    "hair": "Your hair so far",
    "health": "Skin and health",
    "wish": "What you would like",
    "send": "Look over and send",
}
_LEADS = {
    "hair": "What your hair has met decides what may be done to it.",
    "health": "These answers keep you safe. They are sent only because you agreed to it.",
}


def words_for(screen: str, given: Given) -> dict[str, Any]:
    """Everything that the template of this screen shows."""
    steps = steps_of(given.entry)
    # Before the client has answered, the longest way is told: a count that grows disheartens.
    told = STEPS if screen == STEPS[0] else steps
    common = {"title": TITLES[screen], "step": steps.index(screen) + 1, "steps": len(told)}
    return common | _WORDS[screen](given)


def steps_of(entry: Entry) -> tuple[str, ...]:
    """The screens that this client goes through: health is asked only with the consent to it."""
    return tuple(step for step in STEPS if step != "health" or entry.agreed_to(Scope.HEALTH))


def after(screen: str, entry: Entry) -> str:
    """The screen that comes next."""
    steps = steps_of(entry)
    return steps[steps.index(screen) + 1]


def _before(screen: str, entry: Entry) -> str:
    steps = steps_of(entry)
    return steps[steps.index(screen) - 1]


def _start(given: Given) -> dict[str, Any]:
    def consent(scope: Scope) -> dict[str, Any]:
        return {"code": scope.value, "text": scope_texts()[scope].text, "given": given.entry.agreed_to(scope)}

    return {
        "most_photos": given.invitation.limits.photos,
        "privacy": PRIVACY[:1],
        "until": _moment(given.invitation.expires_utc),
        "remote": consent(Scope.REMOTE),
        "health": consent(Scope.HEALTH),
    }


def _moment(utc: datetime) -> str:
    here = utc.astimezone()
    return f"{wording.date_text(here.date())}, {here:%H:%M}"


def _views(entry: Entry) -> list[dict[str, Any]]:
    return [
        {
            **asdict(view),
            "drawing": view_drawing(view.code),
            "photos": [photo for photo in entry.photos if photo.view == view.code],
        }
        for view in asked_views()
    ]


def _photos(given: Given) -> dict[str, Any]:
    views = _views(given.entry)
    return {
        "views": views,
        "views_here": sum(bool(view["photos"]) for view in views),
        "light": light_drawing(),
        "rules": RULES[:-SENT_AS_FILES],
        "most_mb": f"{given.invitation.limits.bytes_each / 1e6:.3g}",
        "places_left": max(given.places_left, 0),
    }


def _questions(screen: str, given: Given) -> dict[str, Any]:
    return {
        "page": screen,
        "lead": _LEADS[screen],
        "questions": asked_on(screen),
        "answers": given.entry.answers,
        "next_words": TITLES[after(screen, given.entry)].lower(),
        "back": _before(screen, given.entry),
    }


def _wish(given: Given) -> dict[str, Any]:
    entry = given.entry
    return {
        "levels": LEVELS,
        "tones": tuple(TONES.values()),
        "wish_level": entry.wish_level,
        "wish_tone": entry.wish_tone,
        "words": entry.words,
        "most_words": MOST_WORDS,
        "back": _before("wish", entry),
    }


def _send(given: Given) -> dict[str, Any]:
    entry = given.entry
    views = _views(entry)
    return {
        "photos": len(entry.photos),
        "views": views,
        "views_here": sum(bool(view["photos"]) for view in views),
        "missing": [view["title"].lower() for view in views if not view["photos"]],
        "answered": len(entry.answers),
        "health": entry.agreed_to(Scope.HEALTH),
        "wished": bool(entry.wish_level or entry.wish_tone or entry.words),
    }


_WORDS = {
    "start": _start,
    "photos": _photos,
    "hair": lambda given: _questions("hair", given),
    "health": lambda given: _questions("health", given),
    "wish": _wish,
    "send": _send,
}
TEMPLATES = {"hair": "questions", "health": "questions", "send": "look_over"}
