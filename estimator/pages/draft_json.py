"""A draft as JSON and back: every value by its kind, photographs by their hash, masks packed. No widgets in here."""

import base64
import dataclasses
import inspect
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum
from functools import partial
from typing import Any

import numpy as np

from calibration.photo import Box
from estimator.care.answers import Answer
from estimator.errors import BadInputError
from estimator.pages import draft as entered
from estimator.pages.draft import Draft, Shot
from estimator.zones.outline import Setting, StrandPattern, Zone

_KIND, _OF = "is", "of"
_LEFT_OUT = {"earlier"}  # steps of undo; what they would bring back was never more than a line on a picture
_ENTERED = {
    name: kind
    for name, kind in inspect.getmembers(entered, dataclasses.is_dataclass)
    if kind.__module__ == entered.__name__
}
_KINDS: dict[str, Any] = {**_ENTERED, "Answer": Answer, "Zone": Zone, "Box": Box}
_WORDS: dict[str, type[Enum]] = {"Setting": Setting, "StrandPattern": StrandPattern}


@dataclass(frozen=True)
class DraftAsJson:
    """What was entered, and for each photograph's hash the way to its bytes."""

    content: dict[str, Any]
    photos: dict[str, Callable[[], bytes]]


def as_json(draft: Draft) -> DraftAsJson:
    """The draft, ready to be kept."""
    photos: dict[str, Callable[[], bytes]] = {}
    return DraftAsJson(_written(draft, photos), photos)


def _written(value: Any, photos: dict[str, Callable[[], bytes]]) -> Any:
    if value is None or (isinstance(value, bool | int | float | str) and not isinstance(value, Enum)):
        return value
    if isinstance(value, Enum):
        return {_KIND: type(value).__name__, _OF: value.value}
    if isinstance(value, datetime | date):
        return {_KIND: type(value).__name__, _OF: value.isoformat()}
    if isinstance(value, dict):
        return {_KIND: "dict", _OF: [[_written(key, photos), _written(entry, photos)] for key, entry in value.items()]}
    if isinstance(value, tuple | list | set | frozenset):
        return {_KIND: type(value).__name__, _OF: [_written(entry, photos) for entry in value]}
    if isinstance(value, np.ndarray) and value.dtype == np.bool_:
        packed = base64.b64encode(zlib.compress(np.packbits(value).tobytes())).decode("ascii")
        return {_KIND: "mask", "shape": list(value.shape), _OF: packed}
    return _written_object(value, photos)


def _written_object(value: Any, photos: dict[str, Callable[[], bytes]]) -> dict[str, Any]:
    name = type(value).__name__
    if _KINDS.get(name) is not type(value):
        raise TypeError(f"A draft holds a {name}, which has no form in JSON.")
    told: dict[str, Any] = {_KIND: name}
    for field in dataclasses.fields(value):
        held = getattr(value, field.name)
        if isinstance(held, bytes):  # a photograph: its owner knows its hash
            photos[value.sha256] = partial(_private, held)
        elif field.name not in _LEFT_OUT:
            told[field.name] = _written(held, photos)
    return told


def _private(photo_bytes: bytes) -> bytes:
    """The photograph without private tags; a RAW file of a rare kind as it is, since it can't be freed of them."""
    from calibration.errors import PhotoRefusedError
    from calibration.private_tags import clean_copy

    try:
        return clean_copy(photo_bytes)
    except PhotoRefusedError:
        return photo_bytes


def from_json(content: Any, photos: dict[str, bytes]) -> Draft:
    """The draft that `as_json` wrote. Raises BadInputError where it is damaged or of another kind."""
    try:
        found = _read(content, photos)
    except (KeyError, TypeError, ValueError, zlib.error) as problem:
        raise BadInputError("This unfinished visit can't be read any more. Begin a new one.") from problem
    shots = (found.before, found.turned, found.after) if isinstance(found, Draft) else (0,)
    if not isinstance(found, Draft) or not all(isinstance(shot, Shot | None) for shot in shots):
        raise BadInputError("This is no unfinished visit. Begin a new one.")
    return found


def _read(told: Any, photos: dict[str, bytes]) -> Any:
    if not isinstance(told, dict):
        return told
    kind = told[_KIND]
    if kind in _WORDS:
        return _WORDS[kind](told[_OF])
    if kind in _KINDS:
        return _read_object(_KINDS[kind], told, photos)
    return _READERS[kind](told, photos)


def _read_object(kind: Any, told: dict[str, Any], photos: dict[str, bytes]) -> Any:
    """An object with the fields that it has today; what an earlier program wrote beside them is left out."""
    fields = {field.name: field for field in dataclasses.fields(kind)}
    held = {name: _read(value, photos) for name, value in told.items() if name in fields}
    if "photo_bytes" in fields:
        held["photo_bytes"] = photos[held["sha256"]]
    return kind(**held)


def _entries(told: dict[str, Any], photos: dict[str, bytes]) -> list[Any]:
    return [_read(entry, photos) for entry in told[_OF]]


def _mask(told: dict[str, Any], _photos: dict[str, bytes]) -> Any:
    rows, columns = (int(size) for size in told["shape"])
    bits = np.unpackbits(np.frombuffer(zlib.decompress(base64.b64decode(told[_OF])), dtype=np.uint8))
    return bits[: rows * columns].astype(np.bool_).reshape(rows, columns)


_READERS: dict[str, Callable[[dict[str, Any], dict[str, bytes]], Any]] = {
    "dict": lambda told, photos: {_read(key, photos): _read(entry, photos) for key, entry in told[_OF]},
    "tuple": lambda told, photos: tuple(_entries(told, photos)),
    "list": _entries,
    "set": lambda told, photos: set(_entries(told, photos)),
    "frozenset": lambda told, photos: frozenset(_entries(told, photos)),
    "date": lambda told, _photos: date.fromisoformat(told[_OF]),
    "datetime": lambda told, _photos: datetime.fromisoformat(told[_OF]),
    "mask": _mask,
}
