"""The hundred hostile texts of `hostile.toml`, and what a form may make of one."""

import re
import tomllib
import unicodedata
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from tests.counts import NIGHT


@cache
def hostile_texts() -> tuple[str, ...]:
    """Every text, each once, in the order of the file."""
    kinds = tomllib.loads(Path(__file__).with_name("hostile.toml").read_text(encoding="utf-8"))
    return tuple(_whole(text) for texts in kinds.values() for text in texts)


def _whole(text: str) -> str:
    if not text.startswith("@300:"):
        return text
    return text.removeprefix("@300:") * 300


def visible(text: str) -> str:
    """What of a text can be seen: marks that only steer gone, blanks as one, letters composed."""
    seen = (" " if letter.isspace() else letter for letter in unicodedata.normalize("NFC", text))
    kept = "".join(letter for letter in seen if unicodedata.category(letter) not in ("Cc", "Cf", "Cs"))
    return " ".join(kept.split())


def squeezed(text: str) -> str:
    """The same without any blank: where a line breaks, a reader of PDF may see one or none."""
    return "".join(letter for letter in visible(text) if not letter.isspace())


CHUNK = 8  # so many zones, shades and strands on one paper
EVERYDAY_STEP = 14  # one text of each kind and a few more


def chunks(texts: Sequence[str]) -> list[tuple[str, ...]]:
    """The texts in groups that fit one paper."""
    return [tuple(texts[start : start + CHUNK]) for start in range(0, len(texts), CHUNK)]


def everyday_and_slow() -> list[Any]:
    """Parameters of a test: one group of texts for every day, every second one in the whole suite, all at night."""
    everyday = pytest.param(hostile_texts()[::EVERYDAY_STEP], id="everyday")
    return [everyday, *(pytest.param(part, id=f"{n}", marks=when(n)) for n, part in enumerate(all_chunks()))]


def when(number: int) -> Any:
    """The marks of one group of texts."""
    return NIGHT if number % 2 else pytest.mark.slow


def all_chunks() -> list[tuple[str, ...]]:
    return chunks(hostile_texts())


REPLACED = "\u25a0"


def on_paper(text: str) -> re.Pattern[str]:
    """Finds a text in printed words without blanks: each letter as itself, or, beyond Latin-1, as a black square."""
    letters = squeezed(text.replace("_", " "))
    return re.compile("".join(_either(letter) for letter in letters), re.IGNORECASE)


def _either(letter: str) -> str:
    forms = [letter, letter.upper()] if ord(letter) < 256 else [letter, letter.upper(), REPLACED]
    return "(?:" + "|".join(map(re.escape, forms)) + ")"
