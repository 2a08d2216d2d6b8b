"""A salon's level scale as CGATS.17 text, and back: lightness of each level, every digit."""

import json
import math

from calibration.cards.cgats import CgatsTable, cgats_text, parse_cgats
from estimator.errors import BadInputError
from estimator.exchange.cgats_colours import plain_word
from estimator.scale.level import LevelScale

FIELDS = ("SAMPLE_ID", "SAMPLE_NAME", "LAB_L", "STDEV_L", "TM_LEVEL")


def cgats_of_scale(scale: LevelScale) -> str:
    """The rows of the scale: level, L* (D65, 2°, as a flat tress reads) and one standard deviation of it."""
    keywords = (
        ("ORIGINATOR", "Tressmeter"),
        ("FILE_DESCRIPTOR", plain_word(scale.name)),
        ("WEIGHTING_FUNCTION", "ILLUMINANT, D65"),
        ("WEIGHTING_FUNCTION", "OBSERVER, 2 degree"),
        ("KEYWORD", "TM_LEVEL"),
    )
    rows = zip(scale.levels, scale.lightness, scale.lightness_sd, strict=True)
    sets = tuple(
        (str(number), f"level {level:g}", repr(lightness), repr(sd), repr(level))
        for number, (level, lightness, sd) in enumerate(rows, start=1)
    )
    return cgats_text(CgatsTable(keywords, FIELDS, sets))


def scale_toml(scale: LevelScale) -> str:
    """The scale as the TOML that `--scale` takes, every digit. It came from a file and says so."""
    rows = zip(scale.levels, scale.lightness, scale.lightness_sd, strict=True)
    body = "\n".join(
        f'\n[[row]]\nlevel = {level!r}\nlightness = {lightness!r}\nlightness_sd = {sd!r}\nsource = "CGATS.17 table"'
        for level, lightness, sd in rows
    )
    return f"name = {json.dumps(scale.name, ensure_ascii=False)}\n{body}\n"


def is_scale_table(text: str) -> bool:
    """Whether the text is a scale written by `cgats_of_scale`."""
    return "TM_LEVEL" in text and "LAB_L" in text and "LAB_A" not in text


def scale_of_cgats(text: str) -> LevelScale:
    """The scale that `cgats_of_scale` wrote. Raises BadInputError, CardFileError."""
    table = parse_cgats(text)
    if not set(FIELDS) <= set(table.fields):
        raise BadInputError(f"The table is no level scale: it needs {', '.join(FIELDS)}.")
    place = {name: table.fields.index(name) for name in FIELDS}
    try:
        columns = [tuple(_finite(row[place[name]]) for row in table.sets) for name in ("TM_LEVEL", "LAB_L", "STDEV_L")]
        name = next((value for key, value in table.keywords if key == "FILE_DESCRIPTOR"), "scale")
        return LevelScale(name, *columns)
    except ValueError as problem:
        raise BadInputError(f"The level scale can't be used: {str(problem)[:120]}. Write it anew.") from problem


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"{text} is no number")
    return value
