"""Files that a person names on the command line: read whole and bounded, written whole or not at all."""

from dataclasses import replace
from pathlib import Path

from calibration.cards.measured_card import MeasuredCard, kept_card
from calibration.correcting.grey_card import USUAL_REFLECTANCE, GreyCardPoint
from calibration.correcting.neutral_reference import NeutralPoint
from calibration.correcting.station_file import kept_station
from calibration.correcting.station_profile import StationProfile
from calibration.opening import MOST_BYTES
from estimator.errors import BadInputError, OutputError
from estimator.plain_files import check_plain_file
from estimator.scale.level import LevelScale
from estimator.scale.scale_file import kept_scale
from estimator.whole_files import write_whole
from estimator.zones.inputs import ZoneSpec, load_zone_spec
from estimator.zones.outline import StrandPattern

MOST_TEXT_BYTES = 5_000_000


def load_photo(path: Path) -> bytes:
    """The bytes of a photograph; its size is looked at before anything is read. Raises BadInputError."""
    return _load(path, MOST_BYTES, "photograph")


def load_text(path: Path) -> str:
    """The text of a table or a description. Raises BadInputError."""
    try:
        return _load(path, MOST_TEXT_BYTES, "file").decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise BadInputError(f"The file {path.name} is not text (UTF-8). Save it as text, then try again.") from problem


def load_bytes(path: Path, most_bytes: int = MOST_TEXT_BYTES, what: str = "file") -> bytes:
    """The bytes of a file, of any kind and no larger than that. Raises BadInputError."""
    return _load(path, most_bytes, what)


def _load(path: Path, most_bytes: int, what: str) -> bytes:
    try:
        check_plain_file(path, what)
        size = path.stat().st_size
        if size > most_bytes:
            raise BadInputError(
                f"The {what} {path.name} has {size / 1e6:.0f} MB; {most_bytes / 1e6:.0f} MB are allowed. "
                "Use a smaller one."
            )
        return path.read_bytes()
    except FileNotFoundError as problem:
        raise BadInputError(f"There is no {what} at {path}. Check the path.") from problem
    except OSError as problem:
        why = problem.strerror or "unknown reason"
        raise BadInputError(f"The {what} {path.name} can't be read ({why}). Check its permissions.") from problem


def load_zones(path: Path | None, strands: tuple[str, ...]) -> ZoneSpec | None:
    """The zones described at `path`, with strand patterns such as "crown=coily" put in. Raises BadInputError."""
    if path is None:
        if strands:
            raise BadInputError("Strand patterns belong to zones. Give the zones as well, with --zones.")
        return None
    spec = load_zone_spec(path)
    return replace(spec, strands={**spec.strands, **dict(_strand(text, spec) for text in strands)})


def one_each(paths: list[Path], count: int) -> list[Path | None]:
    """A description of zones for each of `count` photographs: the one given for all, or none. Raises BadInputError."""
    if len(paths) not in (0, 1, count):
        raise BadInputError(
            f"There are {count} photographs and {len(paths)} files of zones. Give one for all or one each."
        )
    if len(paths) == count:
        return list(paths)
    shared = paths[0] if paths else None
    return [shared] * count


def _strand(text: str, spec: ZoneSpec) -> tuple[str, StrandPattern]:
    zone, _, pattern = text.partition("=")
    if zone not in spec.names:
        raise BadInputError(f"There is no zone {zone!r}. The zones are: {', '.join(spec.names)}.")
    if pattern not in tuple(StrandPattern):
        raise BadInputError(f"The strand pattern of {zone} is {pattern!r}. Write one of: {', '.join(StrandPattern)}.")
    return zone, StrandPattern(pattern)


def load_scale(path: Path | None) -> LevelScale | None:
    """The level scale that `tressmeter scale fit` wrote; None without a path. Raises BadInputError."""
    return kept_scale(load_text(path)).scale if path is not None else None


def load_card(path: Path | None) -> MeasuredCard | None:
    """The printed card that `tressmeter card measure` wrote; None without a path. Raises CardFileError."""
    return kept_card(load_text(path)) if path is not None else None


def load_station(path: Path | None) -> StationProfile | None:
    """The station's profile that `tressmeter station learn` wrote; None without a path. Raises StationFileError."""
    return kept_station(load_text(path)) if path is not None else None


def grey_card_point(text: str | None) -> GreyCardPoint | None:
    """The grey card pointed at as "x,y,radius" or "x,y,radius,reflectance". Raises BadInputError."""
    if text is None:
        return None
    try:
        x_px, y_px, radius_px, *rest = (float(part) for part in text.split(","))
        reflectance = rest[0] if rest else USUAL_REFLECTANCE
        if len(rest) > 1:
            raise ValueError("too many numbers")
        return GreyCardPoint(NeutralPoint(x_px, y_px, radius_px), reflectance)
    except ValueError as problem:
        raise BadInputError(
            f"--grey-card is {text!r}. Write x,y,radius in pixels and, where it is not 0.18, the card's reflectance "
            "between 0.02 and 0.95, such as 900,140,25,0.18. The radius is 2 or more."
        ) from problem


def neutral_point(text: str | None) -> NeutralPoint | None:
    """The neutral thing pointed at as "x,y,radius" in pixels. Raises BadInputError."""
    if text is None:
        return None
    try:
        x_px, y_px, radius_px = (float(part) for part in text.split(","))
        return NeutralPoint(x_px, y_px, radius_px)
    except ValueError as problem:
        raise BadInputError(
            f"--neutral is {text!r}. Write x,y,radius in pixels, such as 900,140,25; the radius is 2 or more."
        ) from problem


def write_text(path: Path, text: str) -> None:
    """The file at `path`, replaced whole; on any fault the old one stands. Raises OutputError."""
    _write_whole(path, text.encode("utf-8"))


def write_new_bytes(path: Path, content: bytes) -> None:
    """A new file at `path`; one that is there already is left alone. Raises OutputError."""
    if path.exists():
        raise OutputError(f"{path} is there already and is not overwritten. Choose another name.")
    _write_whole(path, content)


def _write_whole(path: Path, content: bytes) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content)
    except OSError as problem:
        raise OutputError(
            f"{path} could not be written ({problem.strerror}). Free some space or choose another folder; "
            "nothing half-written was left."
        ) from problem
