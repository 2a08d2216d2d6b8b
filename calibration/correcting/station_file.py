"""The file that keeps a station's profile: TOML, with a version and a hash of all its values."""

import json
import math
import re
import tomllib
from typing import Any

import numpy as np

from calibration.correcting.candidates import MODELS, Model
from calibration.correcting.station_profile import PROFILE_VERSION, StationProfile
from calibration.errors import CalibrationError
from calibration.findings import Finding, Severity
from calibration.photo import FloatArray

LONGEST_NAME = 40
MOST_PHOTOS = 64
LARGEST_VALUE = 1e4
_SHA256 = re.compile(r"[0-9a-f]{64}")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


class StationFileError(CalibrationError):
    """A station's file can't be used, or its name can't be kept."""


def station_file_error(
    message: str, remedy: str = "Learn the station anew with `tressmeter station learn`."
) -> StationFileError:
    """The exception that says what is wrong with a station's file, and what to do."""
    return StationFileError(Finding("station_file", Severity.RETAKE, message, remedy))


def check_name(name: str) -> None:
    """Raise StationFileError for a name that can't be kept."""
    if not 0 < len(name.strip()) <= LONGEST_NAME or not name.isprintable():
        raise station_file_error(
            f"The station's name needs 1 to {LONGEST_NAME} printable characters.", "Give it one, such as chair-2."
        )


def station_text(profile: StationProfile) -> str:
    """The profile as TOML."""
    check_name(profile.name)
    lines = [
        "# What was learned of one camera under one lamp: linear light of the file to CIE XYZ D65.",
        f"version = {PROFILE_VERSION}",
        f"name = {_quoted(profile.name)}",
        f"day = {_quoted(profile.day)}",
        f"encoding = {_quoted(profile.encoding)}",
        f"model = {_quoted(profile.model.name)}",
        f"values = {_list(profile.values)}",
        f"reference_light = {profile.reference_light!r}",
        f"stated_de2000 = {profile.stated_de2000!r}",
        f"covariance = [{', '.join(_list(row) for row in profile.covariance)}]",
        f"check_de2000 = {profile.check_de2000!r}",
        f"check_sd = {profile.check_sd!r}",
        f"photos_sha256 = [{', '.join(_quoted(one) for one in profile.photos_sha256)}]",
        f"sha256 = {_quoted(profile.sha256)}",
    ]
    return "\n".join(lines) + "\n"


def kept_station(text: str) -> StationProfile:
    """The profile that `station_text` wrote. Raises StationFileError, saying what is wrong with it."""
    document = _document(text)
    if document.get("version") != PROFILE_VERSION:
        raise station_file_error(
            f"The station's file has version {document.get('version')!r}; this program reads {PROFILE_VERSION}."
        )
    model = _model(document.get("model"))
    photos = document.get("photos_sha256")
    if not isinstance(photos, list) or not 0 < len(photos) <= MOST_PHOTOS or not all(map(_is_hash, photos)):
        raise station_file_error("The station's file does not name the photos that it was learned from.")
    if not _DAY.fullmatch(_text(document, "day")):
        raise station_file_error("The station's file has no day, as 2026-11-25.")
    check_name(_text(document, "name"))
    profile = StationProfile(
        _text(document, "name"),
        _text(document, "day"),
        _text(document, "encoding"),
        model,
        _numbers(document.get("values"), model.values),
        _positive(document, "reference_light"),
        _positive(document, "stated_de2000"),
        _covariance(document.get("covariance")),
        _positive(document, "check_de2000"),
        _positive(document, "check_sd"),
        tuple(photos),
    )
    if document.get("sha256") != profile.sha256:
        raise station_file_error("The values in the station's file are not those that were learned: its hash differs.")
    return profile


def _document(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as problem:
        raise station_file_error(f"The station's file is not TOML ({problem}).") from problem


def _model(name: Any) -> Model:
    found = next((model for model in MODELS if model.name == name), None)
    if found is None:
        raise station_file_error(f"The station's file names a model that this program does not know: {name!r}.")
    return found


def _text(document: dict[str, Any], key: str) -> str:
    value = document.get(key)
    if not isinstance(value, str) or not value or len(value) > 100:
        raise station_file_error(f"The station's file does not say its {key}.")
    return value


def _positive(document: dict[str, Any], key: str) -> float:
    value = document.get(key)
    if not _is_number(value) or value is None or not value > 0:
        raise station_file_error(f"{key} in the station's file must be a number above 0.")
    return float(value)


def _numbers(values: Any, count: int) -> FloatArray:
    if not isinstance(values, list) or len(values) != count or not all(map(_is_number, values)):
        raise station_file_error(f"The station's file needs {count} numbers here.")
    return np.array(values, dtype=np.float64)


def _covariance(rows: Any) -> FloatArray:
    if not isinstance(rows, list) or len(rows) != 3:
        raise station_file_error("covariance in the station's file must be three rows of three numbers.")
    covariance = np.array([_numbers(row, 3) for row in rows])
    if not np.allclose(covariance, covariance.T) or np.linalg.eigvalsh(covariance).min() <= 0:
        raise station_file_error("covariance in the station's file is none: it must be symmetric and positive.")
    return covariance


def _is_number(value: Any) -> bool:
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    return plain and math.isfinite(value) and abs(value) <= LARGEST_VALUE


def _is_hash(value: Any) -> bool:
    return isinstance(value, str) and _SHA256.fullmatch(value) is not None


def _list(values: FloatArray) -> str:
    return f"[{', '.join(repr(float(value)) for value in values)}]"


def _quoted(text: str) -> str:
    """A TOML basic string; JSON escapes the same characters, but for delete."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
