"""Many photographs on every core of this machine: the folder forms of read, compare and correct.

Scenes and photographs are handed to the workers as paths, never as pixels; what comes back are rows.
"""

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Any, TypeVar

from calibration.references import NONE_GIVEN, References
from estimator.errors import BadInputError, EstimatorError
from estimator.files import load_photo
from estimator.scene import SceneReading, read_scene
from estimator.scene_rows import Row, difference_rows, empty_row, reading_rows, zone_row
from estimator.visit import PhotoReading
from estimator.zones.inputs import load_zone_spec

ZONES_FILE, LABELS_FILE = "zones.json", "zones.png"
PHOTO_ENDINGS = {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif", ".dng"}

Task = TypeVar("Task")


def read_folder(folder: Path, references: References = NONE_GIVEN) -> list[Row]:
    """A row for each zone of each photograph of every scene below `folder`, and for all photographs together.

    references : What the colours of every photograph may lean on beside a card in it.

    Raises
    ------
    BadInputError : There is no scene below the folder.
    """
    return _all_rows(partial(_reading_rows_of, references), scene_folders(folder))


def compare_folder(folder: Path, references: References = NONE_GIVEN) -> list[Row]:
    """A row for each zone of each pair of a photograph and an after photograph, for every scene below `folder`."""
    return _all_rows(partial(_difference_rows_of, references), scene_folders(folder))


def correct_photos(photos: list[Path], references: References = NONE_GIVEN) -> list[dict[str, Any]]:
    """A row for each photograph: its card, its correction, and what is wrong with it."""
    return _all_rows(partial(_correction_rows_of, references), photos)


def rows_of_photo(photo: str, reading: PhotoReading) -> list[Row]:
    """The rows of one photograph that has been read, with the columns of the folder form and no scene."""
    place, verdict = ("", photo), reading.corrected.verdict
    rows = [zone_row(place, verdict, read.reading, read.level) for read in reading.zones]
    return rows or [empty_row(place, verdict)]


def scene_folders(folder: Path) -> list[Path]:
    """Every folder at or below `folder` that holds a description of zones and their label picture."""
    scenes = sorted(path.parent for path in folder.rglob(ZONES_FILE) if (path.parent / LABELS_FILE).exists())
    if not scenes:
        raise BadInputError(
            f"There is no scene below {folder}. A scene is a folder with {ZONES_FILE}, {LABELS_FILE} and photographs."
        )
    return scenes


def _all_rows(rows_of: Callable[[Task], list[Row]], tasks: list[Task]) -> list[Row]:
    """The rows of all tasks, in the order of the tasks; more than a few go to a pool with a worker for each core."""
    workers = min(os.cpu_count() or 1, len(tasks))
    if workers < 2 or len(tasks) < 4:
        return [row for task in tasks for row in rows_of(task)]
    # A fresh process for each worker: a fork would copy the threads' locks of the image libraries.
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=_one_thread_each) as pool:
        return list(_flat(pool.map(rows_of, tasks)))


def _flat(groups: Iterable[list[Row]]) -> Iterator[Row]:
    for group in groups:
        yield from group


def _one_thread_each() -> None:
    import cv2

    cv2.setNumThreads(1)


def _reading_rows_of(references: References, scene: Path) -> list[Row]:
    try:
        return reading_rows(scene.name, _read(scene, references))
    except EstimatorError as problem:
        raise BadInputError(f"Scene {scene.name}: {problem}") from problem


def _difference_rows_of(references: References, scene: Path) -> list[Row]:
    try:
        return difference_rows(scene.name, _read(scene, references))
    except EstimatorError as problem:
        raise BadInputError(f"Scene {scene.name}: {problem}") from problem


def _read(scene: Path, references: References) -> SceneReading:
    spec = load_zone_spec(scene / LABELS_FILE)
    names = (*spec.photos, *spec.after) or tuple(_photo_names(scene))
    shown = {name: load_photo(scene / Path(name).name) for name in names}
    return read_scene(spec, shown, references=references)


def _photo_names(scene: Path) -> Iterator[str]:
    for path in sorted(scene.iterdir()):
        if path.suffix.lower() in PHOTO_ENDINGS and path.name != LABELS_FILE:
            yield path.name


def _correction_rows_of(references: References, photo: Path) -> list[Row]:
    from calibration.correction_rows import correction_row

    try:
        photo_bytes = load_photo(photo)
    except BadInputError:
        photo_bytes = b""  # missing, locked or too large: its row says unreadable, and the batch goes on
    return [correction_row(str(photo), photo_bytes, references)]
