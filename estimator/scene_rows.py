"""A scene as rows of a table: one for each zone and photo, one for each zone and change."""

from collections.abc import Iterator

from calibration.findings import CaptureVerdict
from estimator.reading.zone_reading import ZoneReading
from estimator.scale.appearance import Level
from estimator.scale.level import level_of, level_of_colour
from estimator.scale.warmth import warmth_of, warmth_of_colour
from estimator.scene import PhotoDifference, ScenePhoto, SceneReading

SHARE_COLUMNS = ("part_share", "part_share_low", "part_share_high")
SECOND_LAB_COLUMNS = ("second_lab_l", "second_lab_a", "second_lab_b")
READING_COLUMNS = (
    "scene", "photo", "zone", "verdict", "findings",
    "lab_l", "lab_a", "lab_b", "lab_l_low", "lab_l_high", "lab_a_low", "lab_a_high", "lab_b_low", "lab_b_high",
    "level", "level_low", "level_high", "stage",
    "part", *SHARE_COLUMNS, "second_part", *SECOND_LAB_COLUMNS, "second_level", "second_stage",
)  # fmt: skip
DIFFERENCE_COLUMNS = (
    "scene", "photo_before", "photo_after", "zone",
    "d_l", "d_a", "d_b", "d_l_low", "d_l_high", "d_a_low", "d_a_high", "d_b_low", "d_b_high",
)  # fmt: skip
ALL_BEFORE, ALL_AFTER = "all", "all-after"
Row = dict[str, str]


def reading_rows(scene: str, read: SceneReading) -> list[Row]:
    """Rows of READING_COLUMNS: each zone of each photo, then each zone from all photos together. Texts, "" for none."""
    rows = [row for photo in read.photos for row in _photo_rows(scene, photo)]
    for photo, readings in ((ALL_BEFORE, read.together), (ALL_AFTER, read.together_after)):
        rows += [zone_row((scene, photo), reading.verdict, reading, level_of(reading)) for reading in readings]
    return rows


def difference_rows(scene: str, read: SceneReading) -> list[Row]:
    """Rows of DIFFERENCE_COLUMNS: each zone of each pair of a photo before and one after."""
    return [_difference_row(scene, pair) for pair in read.differences]


def _photo_rows(scene: str, photo: ScenePhoto) -> Iterator[Row]:
    """A row for each zone; where the photo was refused, one row that says why."""
    for reading in photo.readings:
        yield zone_row((scene, photo.name), photo.verdict, reading, level_of(reading))
    for refusal in photo.unread:
        yield empty_row((scene, photo.name), photo.verdict) | {
            "zone": refusal.zone,
            "findings": " ".join(dict.fromkeys((*photo.verdict.codes, refusal.code))),
        }
    if not photo.readings and not photo.unread:
        yield empty_row((scene, photo.name), photo.verdict)


def empty_row(place: tuple[str, str], verdict: CaptureVerdict) -> Row:
    """A row of READING_COLUMNS without a reading. place : Scene and photo."""
    row = dict.fromkeys(READING_COLUMNS, "")
    return row | {
        "scene": place[0],
        "photo": place[1],
        "verdict": str(verdict.verdict),
        "findings": " ".join(verdict.codes),
    }


def zone_row(place: tuple[str, str], verdict: CaptureVerdict, reading: ZoneReading, level: Level) -> Row:
    """A row of READING_COLUMNS for one zone. place : Scene and photo."""
    codes = (*verdict.codes, *(finding.code for finding in reading.findings))
    row = empty_row(place, verdict) | {
        "zone": reading.zone,
        "findings": " ".join(dict.fromkeys(codes)),
        "level": f"{level.level:.3f}",
        "level_low": f"{level.level_low:.3f}",
        "level_high": f"{level.level_high:.3f}",
        "stage": warmth_of(reading).stage,
    }
    for axis, name in enumerate(("lab_l", "lab_a", "lab_b")):
        row[name] = f"{reading.lab_d65[axis]:.3f}"
        row[f"{name}_low"] = f"{reading.lab_low[axis]:.3f}"
        row[f"{name}_high"] = f"{reading.lab_high[axis]:.3f}"
    return row | (_two_colours(reading) if reading.parts else {})


def _two_colours(reading: ZoneReading) -> Row:
    """Where the part lies whose colour the row holds, its share, and the same of the second part with its colour."""
    first, second = reading.parts
    row = {"part": first.place, "second_part": second.place}
    shares = (first.share, first.share_low, first.share_high)
    row |= {name: f"{share:.3f}" for name, share in zip(SHARE_COLUMNS, shares, strict=True)}
    row |= {name: f"{value:.3f}" for name, value in zip(SECOND_LAB_COLUMNS, second.lab_d65, strict=True)}
    row["second_level"] = f"{level_of_colour(second.lab_d65, second.covariance).level:.3f}"
    row["second_stage"] = warmth_of_colour(second.lab_d65, second.covariance).stage
    return row


def _difference_row(scene: str, pair: PhotoDifference) -> Row:
    change = pair.change
    row = dict.fromkeys(DIFFERENCE_COLUMNS, "") | {
        "scene": scene,
        "photo_before": pair.photo_before,
        "photo_after": pair.photo_after,
        "zone": change.zone,
    }
    for axis, name in enumerate(("d_l", "d_a", "d_b")):
        row[name] = f"{change.d_lab[axis]:.3f}"
        row[f"{name}_low"] = f"{change.d_low[axis]:.3f}"
        row[f"{name}_high"] = f"{change.d_high[axis]:.3f}"
    return row
