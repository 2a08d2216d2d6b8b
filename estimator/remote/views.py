"""The views that are asked for, and which of them a photograph may be: a proposal, for a person to confirm."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from estimator.errors import BadInputError

_WORD = re.compile(r"[a-z]+")


@dataclass(frozen=True)
class View:
    """One view. how : What the client is asked to do. words : What people write in file names for it."""

    code: str
    title: str
    how: str
    words: tuple[str, ...]


@cache
def asked_views() -> tuple[View, ...]:
    """Every view that is asked for, in its order."""
    text = files("estimator.remote").joinpath("tables", "views.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)["view"]
    return tuple(
        View(row["code"], row["title"], row["how"], tuple(row["words"])) for row in rows if row["source"].strip()
    )


def proposed_view(name: str) -> str:
    """The view that a file's name speaks of; "" where it speaks of none or of several."""
    words = set(_WORD.findall(name.lower()))
    found = [view.code for view in asked_views() if words & set(view.words)]
    return found[0] if len(found) == 1 else ""


def stated_views(texts: Sequence[str], names: Sequence[str]) -> Mapping[str, str]:
    """The views that a person stated as "photo.jpg=back", by photograph.

    Raises
    ------
    BadInputError : A photograph or a view of that name is not there.
    """
    codes = [view.code for view in asked_views()]
    stated = {}
    for text in texts:
        name, _, view = text.rpartition("=")
        if name not in names:
            raise BadInputError(f"There is no photograph {name!r}. There are: {', '.join(names)}.")
        if view not in codes:
            raise BadInputError(f"{view!r} is no view. Write one of: {', '.join(codes)}.")
        stated[name] = view
    return stated
