"""A fitted level scale as a text that can be kept, read by a person and loaded again."""

import json
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from estimator.errors import BadInputError
from estimator.scale.level import LevelScale, scale_from_document
from estimator.scale.swatch_ring import RingFit

LONGEST_NAME = 80
MOST_ROWS = 200
_SHA256 = re.compile(r"[0-9a-f]{64}")
_MAKE_ANEW = "Make the scale anew from a photograph of the ring, or mend the file."


@dataclass(frozen=True)
class KeptScale:
    """What a scale's file holds.

    photo_sha256 : Hashes of the photographs it was fitted to. versions : Of the programs that made it, by name.
    """

    scale: LevelScale
    day: str
    photo_sha256: tuple[str, ...]
    versions: tuple[tuple[str, str], ...]


def scale_text(fit: RingFit, photo_sha256: tuple[str, ...], versions: Mapping[str, str]) -> str:
    """The scale as TOML, in the form of default_scale.toml. Raises BadInputError for a name that can't be kept."""
    scale = fit.scale
    _check_name(scale.name)
    head = [
        "# Level of hair by the lightness of a flat tress: CIE L*, D65, 2 degrees. Piecewise linear between rows.",
        f"name = {_quoted(scale.name)}",
        f"day = {_quoted(fit.day)}",
        f"photo_sha256 = [{', '.join(map(_quoted, photo_sha256))}]",
        f"swatch_sd = {fit.swatch_sd:.3f}",
        f"notes = [{', '.join(_quoted(finding.message) for finding in fit.findings)}]",
        "",
        "[versions]",
        *(f"{_quoted(program)} = {_quoted(version)}" for program, version in versions.items()),
    ]
    rows = zip(scale.levels, scale.lightness, scale.lightness_sd, fit.sources, strict=True)
    return "\n".join([*head, *(_row_text(*row) for row in rows)]) + "\n"


def kept_scale(text: str) -> KeptScale:
    """The scale that `scale_text` wrote, or a person in that form. Raises BadInputError, saying what is wrong."""
    document = _document(text)
    rows = document.get("row")
    if not isinstance(rows, list) or not 2 <= len(rows) <= MOST_ROWS or not all(isinstance(row, dict) for row in rows):
        raise BadInputError(
            f"The scale needs 2 to {MOST_ROWS} tables [[row]] with level, lightness, source. {_MAKE_ANEW}"
        )
    _check_rows(rows)
    _check_name(document.get("name"))
    hashes, versions = document.get("photo_sha256", []), document.get("versions", {})
    if not isinstance(hashes, list) or not all(isinstance(one, str) and _SHA256.fullmatch(one) for one in hashes):
        raise BadInputError(f"photo_sha256 must list hashes of 64 digits. {_MAKE_ANEW}")
    if not isinstance(versions, dict):
        raise BadInputError(f"versions must be a table. {_MAKE_ANEW}")
    try:
        scale = scale_from_document(document)
    except ValueError as problem:
        raise BadInputError(f"{problem} {_MAKE_ANEW}") from problem
    named = tuple((str(program), str(version)) for program, version in versions.items())
    return KeptScale(scale, str(document.get("day", "")), tuple(hashes), named)


def levels_from_text(text: str) -> dict[str, float]:
    """Stated levels by swatch, from "lock1=7,lock2=8.5". Raises BadInputError."""
    levels: dict[str, float] = {}
    for part in text.split(","):
        swatch, equals, level = (piece.strip() for piece in part.rpartition("="))
        if not equals or not swatch or not re.fullmatch(r"\d{1,2}(\.\d{1,2})?", level):
            raise BadInputError(f"The levels hold {part.strip()!r}. Write swatch=level, such as lock1=7,lock2=8.5.")
        if swatch in levels:
            raise BadInputError(f"The level of {swatch} is stated twice. State it once.")
        levels[swatch] = float(level)
    return levels


def _document(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as problem:
        raise BadInputError(f"The scale is not a TOML file ({problem}). {_MAKE_ANEW}") from problem


def _check_rows(rows: list[dict[str, Any]]) -> None:
    """Every row has its numbers within what hair can be. Raises BadInputError with the row's number."""
    for number, row in enumerate(rows, start=1):
        for key, most, needed in (("level", 10, True), ("lightness", 100, True), ("lightness_sd", 50, False)):
            value = row.get(key, None if needed else 0.0)
            if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= most:
                raise BadInputError(f"Row {number} of the scale: {key} must be a number from 0 to {most}. {_MAKE_ANEW}")


def _check_name(name: Any) -> None:
    if not isinstance(name, str) or not 0 < len(name.strip()) <= LONGEST_NAME or not name.isprintable():
        raise BadInputError(f"A scale needs a name of 1 to {LONGEST_NAME} printable characters. Give it another name.")


def _quoted(text: str) -> str:
    """A TOML basic string; JSON escapes the same characters, but for delete."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _row_text(level: float, lightness: float, lightness_sd: float, source: str) -> str:
    return (
        f"\n[[row]]\nlevel = {level:g}\nlightness = {lightness:.4f}\nlightness_sd = {lightness_sd:.3f}\n"
        f"source = {_quoted(source)}"
    )
