"""What visits and clients are found by: the words of a name, and the marks of a visit. No database in here."""

import re
import unicodedata
from collections.abc import Iterable

_PART = re.compile(r"\w+")
_APOSTROPHES = (("\N{RIGHT SINGLE QUOTATION MARK}", "'"), ("'", "\N{RIGHT SINGLE QUOTATION MARK}"))  # phones curl them


def folded(text: str) -> str:
    """Text as it is looked up: without accents, case or doubled spaces."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(letter for letter in plain if not unicodedata.combining(letter)).casefold().split())


def words_of(*texts: str) -> set[str]:
    """Every word of these texts, folded; and what a hyphen, an apostrophe or a bracket parts, as words of their own."""
    whole = {word for text in texts for word in folded(text).split()}
    parts = {part for word in whole for part in _PART.findall(word)}
    return whole | parts | {word.replace(*marks) for word in whole for marks in _APOSTROPHES}


def after_prefix(prefix: str) -> str:
    """The first text that no longer begins with `prefix`, by code points: the end of its range in an index."""
    return prefix[:-1] + chr(ord(prefix[-1]) + 1) if ord(prefix[-1]) < 0x10FFFF else prefix + chr(0x10FFFF)


def level_tag(level: float) -> str:
    """The mark of a whole level, halves rounded up."""
    return f"level:{int(level + 0.5)}"


def reading_tags(level: float, stage: str) -> set[str]:
    """Marks of one zone's reading: its level, its stage, and both together, which is what people ask for."""
    return {level_tag(level), stage_tag(stage), f"{level_tag(level)} {stage_tag(stage)}"}


def stage_tag(stage: str) -> str:
    """The mark of a stage of remaining warmth."""
    return f"stage:{folded(stage)}"


def tone_tag(tone: str) -> str:
    """The mark of a tone that was wanted."""
    return f"tone:{folded(tone)}"


def finding_tag(code: str) -> str:
    """The mark of a finding."""
    return f"finding:{code}"


def visit_tags(readings: Iterable[tuple[float, str]], tones: Iterable[str], codes: Iterable[str]) -> set[str]:
    """Every mark of a visit, from its readings (level and stage), the tones wanted and the codes of its findings."""
    marks = {tag for level, stage in readings for tag in reading_tags(level, stage)}
    return marks | {tone_tag(tone) for tone in tones if tone} | {finding_tag(code) for code in codes}
