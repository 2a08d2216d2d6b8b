"""Zones as a person hands them over: a JSON description, with a label picture or with polygons."""

import json
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calibration.corrected import CorrectedPhoto
from estimator.errors import BadInputError
from estimator.plain_files import check_plain_file
from estimator.zones.label_picture import decode_label_picture
from estimator.zones.masks import labelled_zones, polygon_zone
from estimator.zones.outline import Setting, StrandPattern, Zone
from estimator.zones.specification import LabelledZones, PolygonZones, ZoneSpec

MOST_ZONES = 64
MOST_POINTS = 20_000
LONGEST_NAME = 80
LARGEST_DESCRIPTION_BYTES = 5_000_000
LARGEST_COORDINATE_PX = 100_000

__all__ = ["ZoneSpec", "load_zone_spec", "zone_spec_from_json", "zone_spec_from_label_picture", "zones_of"]


def load_zone_spec(path: Path) -> ZoneSpec:
    """The zones described at `path`: polygons (JSON), or a label picture and the JSON of the same name beside it.

    Beside `head_zones.png` lies `head_zones.json`; either of the two may be named.

    Raises
    ------
    BadInputError : A file is missing, can't be read, or says something that can't be; the first fault is told.
    """
    document = _read(path.with_suffix(".json"), "zone description")
    if path.suffix.lower() != ".json":
        return zone_spec_from_label_picture(document, _read(path, "label picture"))
    picture = path.with_suffix(".png")
    if _has_labels(_parse(document)) and picture.exists():
        return zone_spec_from_label_picture(document, _read(picture, "label picture"))
    return zone_spec_from_json(document)


def zone_spec_from_json(document: str | bytes) -> ZoneSpec:
    """Zones drawn as polygons. Raises BadInputError with one sentence on what is wrong and what to do."""
    content = _parse(document)
    if _has_labels(content):
        raise BadInputError(
            "The zone description numbers its zones, so it needs its label picture: a PNG of the same name beside it."
        )
    return _spec(content, PolygonZones({name: _polygons(name, value) for name, value in _zones(content).items()}))


def zone_spec_from_label_picture(document: str | bytes, picture: bytes) -> ZoneSpec:
    """Zones painted in a label picture (PNG), numbered by the description. Raises BadInputError."""
    content = _parse(document)
    labels = {name: _label(name, value) for name, value in _zones(content).items()}
    shared = {number for number in labels.values() if list(labels.values()).count(number) > 1}
    if shared:
        raise BadInputError(f"Two zones have the number {min(shared)}. Give each zone its own number.")
    return _spec(content, LabelledZones(labels, decode_label_picture(picture)))


def zones_of(spec: ZoneSpec, corrected: CorrectedPhoto) -> tuple[Zone, ...]:
    """The zones of `spec` in one photograph; zones without a single pixel there are left out.

    Raises
    ------
    BadInputError : The label picture has another size than the photo, or a polygon leaves it.
    """
    height_px, width_px = corrected.photo.height_px, corrected.photo.width_px
    if isinstance(spec.outlines, LabelledZones):
        return labelled_zones(spec, spec.outlines, height_px, width_px)
    drawn = (
        polygon_zone(spec, name, polygons, height_px, width_px) for name, polygons in spec.outlines.polygons_of.items()
    )
    return tuple(zone for zone in drawn if zone is not None)


def _read(path: Path, what: str) -> bytes:
    try:
        check_plain_file(path, what)
        return path.read_bytes()
    except OSError as problem:
        raise BadInputError(f"The {what} {path.name} can't be read. Check that the file is there.") from problem


def _parse(document: str | bytes) -> dict[str, Any]:
    if len(document) > LARGEST_DESCRIPTION_BYTES:
        raise BadInputError("The zone description is larger than 5 MB. Draw the zones with fewer points.")
    try:
        text = document.decode("utf-8-sig") if isinstance(document, bytes) else document
        content = json.loads(text, object_pairs_hook=_no_key_twice, parse_constant=_no_nan)
    except UnicodeDecodeError as problem:
        raise BadInputError("The zone description is not text (UTF-8). Give the JSON file of the zones.") from problem
    except RecursionError as problem:
        raise BadInputError("The zone description is nested too deeply. Give the JSON file of the zones.") from problem
    except json.JSONDecodeError as problem:
        raise BadInputError(
            f"The zone description is not valid JSON: line {problem.lineno}, {problem.msg}. Mend that line."
        ) from problem
    except ValueError as problem:  # of a number with more digits than any number here has
        raise BadInputError("The zone description holds a number that is too long. Mend it.") from problem
    if not isinstance(content, dict):
        raise BadInputError('The zone description must be a JSON object with "setting" and "zones".')
    return content


def _no_key_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    content: dict[str, Any] = {}
    for key, value in pairs:
        if key in content:
            raise BadInputError(f"{_shown(key)} stands twice in the zone description. Give every zone its own name.")
        content[key] = value
    return content


def _no_nan(word: str) -> float:
    raise BadInputError(f"The zone description holds {word}, which is no number. Write the figure itself.")


def _has_labels(content: Mapping[str, Any]) -> bool:
    zones = content.get("zones")
    return isinstance(zones, dict) and bool(zones) and all(isinstance(value, int) for value in zones.values())


def _zones(content: Mapping[str, Any]) -> dict[str, Any]:
    zones = content.get("zones")
    if not isinstance(zones, dict) or not zones:
        raise BadInputError('The zone description names no zones. Add "zones" with at least one.')
    if len(zones) > MOST_ZONES:
        raise BadInputError(f"There are {len(zones)} zones; {MOST_ZONES} are the most that one photo can hold.")
    seen: dict[str, str] = {}
    for name in zones:
        if not name.strip() or len(name) > LONGEST_NAME or re.search(r"[\x00-\x1f\x7f]", name):
            raise BadInputError(f"A zone has no usable name. Give each 1 to {LONGEST_NAME} letters, on one line.")
        same = " ".join(name.split()).casefold()
        if same in seen:
            raise BadInputError(f'The zones "{seen[same]}" and "{name}" have the same name. Rename one of them.')
        seen[same] = name
    return zones


def _spec(content: Mapping[str, Any], outlines: LabelledZones | PolygonZones) -> ZoneSpec:
    names = tuple(_zones(content))
    return ZoneSpec(
        setting=_setting(content),
        outlines=outlines,
        strands=_of_zones(content, "strands", names, _strand),
        known=_of_zones(content, "known", names, _known),
        roots=_of_zones(content, "roots", names, lambda zone, value: _numbers(f'"roots" of {zone}', value, 2)),
        neutral=_neutral(content.get("neutral")),
        wet=_wet(content.get("wet", False)),
        photos=_file_names(content, "photos"),
        after=_file_names(content, "after"),
    )


def _setting(content: Mapping[str, Any]) -> Setting:
    try:
        return Setting(content.get("setting", ""))
    except ValueError as problem:
        raise BadInputError(
            f'The setting is {_shown(content.get("setting"))}. Write "board" (locks beside the card) or "head".'
        ) from problem


def _of_zones(
    content: Mapping[str, Any], key: str, names: tuple[str, ...], read: Callable[[str, Any], Any]
) -> dict[str, Any]:
    """What `content[key]` says of single zones, each entry through `read`; null says nothing."""
    said = content.get(key)
    if said is None:
        return {}
    if not isinstance(said, dict):
        raise BadInputError(f'"{key}" must give a value for each zone by its name.')
    for zone in said:
        if zone not in names:
            raise BadInputError(f'"{key}" names the zone {_shown(zone)}, which is not among the zones. Mend the name.')
    return {zone: read(zone, value) for zone, value in said.items() if value is not None}


def _strand(zone: str, value: Any) -> StrandPattern:
    try:
        return StrandPattern(value)
    except ValueError as problem:
        allowed = ", ".join(StrandPattern)
        raise BadInputError(f"The strand pattern of {zone} is {_shown(value)}. Write one of: {allowed}.") from problem


def _known(zone: str, value: Any) -> tuple[float, ...]:
    lab = _numbers(f'"known" of {zone}', value, 3)
    if not (0 <= lab[0] <= 100 and max(abs(lab[1]), abs(lab[2])) <= 130):
        raise BadInputError(f"The known colour of {zone} is no CIELAB colour. Give L* (0 to 100), a* and b*.")
    return lab


def _neutral(value: Any) -> tuple[float, float, float] | None:
    if value is None:
        return None
    x_px, y_px, radius_px = _numbers('"neutral"', value, 3)
    if radius_px < 2:
        raise BadInputError(f"The neutral thing has a radius of {radius_px:g} pixels. Mark at least 2 pixels of it.")
    return x_px, y_px, radius_px


def _wet(value: Any) -> bool:
    if not isinstance(value, bool):
        raise BadInputError(f'"wet" is {_shown(value)}. Write true for wet hair, false for dry.')
    return value


def _file_names(content: Mapping[str, Any], key: str) -> tuple[str, ...]:
    value = content.get(key, [])
    if not isinstance(value, list) or not all(isinstance(name, str) and name for name in value):
        raise BadInputError(f'"{key}" must be a list of file names.')
    return tuple(value)


def _label(zone: str, value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 65535:
        raise BadInputError(f"The zone {zone} has the number {_shown(value)}. Give a whole number from 1 to 65535.")
    return value


def _polygons(zone: str, value: Any) -> tuple[NDArray[np.float64], ...]:
    """One polygon, or several for a zone in several pieces."""
    if not isinstance(value, list):
        raise BadInputError(f"The outline of {zone} must be a list of points [x, y].")
    pieces = value if value and isinstance(value[0], list) and value[0] and isinstance(value[0][0], list) else [value]
    return tuple(_polygon(zone, piece) for piece in pieces)


def _polygon(zone: str, points: Any) -> NDArray[np.float64]:
    if not isinstance(points, list) or len(points) < 3:
        count = len(points) if isinstance(points, list) else 0
        raise BadInputError(f"The outline of {zone} has {count} points. Draw at least 3.")
    if len(points) > MOST_POINTS:
        raise BadInputError(f"The outline of {zone} has {len(points)} points. Draw it with at most {MOST_POINTS}.")
    return np.array([_numbers(f"A point of {zone}", point, 2) for point in points], dtype=np.float64)


def _numbers(what: str, value: Any, count: int) -> tuple[float, ...]:
    usable = isinstance(value, list) and len(value) == count
    if not usable or not all(isinstance(number, int | float) and not isinstance(number, bool) for number in value):
        raise BadInputError(f"{what} is {_shown(value)}. Give {count} numbers in square brackets.")
    if not all(abs(number) <= LARGEST_COORDINATE_PX for number in value):
        raise BadInputError(f"{what} is {_shown(value)}, which is out of range. Give figures that can be.")
    return tuple(float(number) for number in value)


def _shown(value: Any) -> str:
    """What came, short enough for a sentence."""
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 40 else text[:37] + "..."
