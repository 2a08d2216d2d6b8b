"""How wide an edge is in a photograph: between the patches of a card, or anywhere where there is no card."""

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cards.geometry import grid_to_photo
from calibration.cards.layouts import CLASSIC24_COLUMNS, CLASSIC24_ROWS
from calibration.cards.sighting import CardSighting
from calibration.photo import EncodedRgb, FloatArray, Photo
from calibration.transfer import linear_light, look_up

MOST_SAMPLES_PER_PITCH = 64
SEARCHED_SIDE_PX = 800
STEEPEST_PERCENTILE = 99.9
# Sharp photos reach 20 at this size, faulty ones start at 29. [our assumption; tests/studies/capture_margins.py]
BLURRED_PX = 24.0
SMALLEST_STEP = 0.02  # of the range: a fainter one is lost in noise


def card_edge_width_px(photo: Photo, sighting: CardSighting) -> float:
    """Width of the card's edges, across or along, whichever is wider. [px]

    The height of a step over its steepest slope: about 2 px in a sharp photo, the length of the smear in a shaken one.
    """
    centres = sighting.patch_centres_px.reshape(CLASSIC24_ROWS, CLASSIC24_COLUMNS, 2)
    pitches = [float(np.median(np.linalg.norm(np.diff(centres, axis=axis), axis=-1))) for axis in (1, 0)]
    samples = int(np.clip(max(pitches), 12, MOST_SAMPLES_PER_PITCH))
    flat = _flattened(photo, sighting, samples)
    return max(_edge_width(flat, samples) * pitches[0], _edge_width(flat.T, samples) * pitches[1])


def _flattened(photo: Photo, sighting: CardSighting, samples: int) -> FloatArray:
    """The card seen from straight above, mean of the channels in linear light."""
    middle = 0.5 / samples - 0.5
    to_grid = np.array([[1 / samples, 0, middle], [0, 1 / samples, middle], [0, 0, 1]])
    encoded = cv2.warpPerspective(
        photo.encoded_rgb,
        grid_to_photo(sighting.patch_centres_px) @ to_grid,
        (CLASSIC24_COLUMNS * samples, CLASSIC24_ROWS * samples),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    light = look_up(EncodedRgb(np.asarray(encoded)), photo.encoding.tables)
    return np.asarray(light.mean(axis=-1), dtype=np.float64)


def _edge_width(flat: FloatArray, samples: int) -> float:
    """Median width of the stronger half of the edges between neighbours in a row, in pitches."""
    widths, heights = [], []
    for row in range(flat.shape[0] // samples):
        band = flat[int((row + 0.25) * samples) : int((row + 0.75) * samples)].mean(axis=0)
        for column in range(flat.shape[1] // samples - 1):
            profile = band[int((column + 0.5) * samples) : int((column + 1.5) * samples)]
            ends = max(1, samples // 8)
            height = max(profile[:ends].mean(), profile[-ends:].mean()) - profile.min()
            heights.append(height)
            widths.append(height / max(np.abs(np.diff(profile)).max(), 1e-6) / samples)
    stronger = np.argsort(heights)[len(heights) // 2 :]
    return float(np.median(np.array(widths)[stronger]))


def photo_blurred(photo: Photo) -> bool:
    """Whether even the steepest steps anywhere are smeared, at least in one direction."""
    scale = min(1.0, SEARCHED_SIDE_PX / max(photo.width_px, photo.height_px))
    light = cv2.resize(linear_light(photo), None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA).mean(axis=-1)
    return _widest_steps_px(np.asarray(light, dtype=np.float32)) >= BLURRED_PX


def _widest_steps_px(light: NDArray[np.float32]) -> float:
    """Height of the largest steps over the steepest slope, in the direction where that is widest; 0 without steps.

    A shaken photo keeps its slopes across the movement and loses those along it.
    """
    smooth = cv2.GaussianBlur(light, (0, 0), 2.0)
    across, down = cv2.Sobel(smooth, -1, 1, 0, scale=0.125), cv2.Sobel(smooth, -1, 0, 1, scale=0.125)
    window = np.ones((31, 31), np.uint8)
    height = float(np.percentile(cv2.dilate(smooth, window) - cv2.erode(smooth, window), STEEPEST_PERCENTILE))
    if height < SMALLEST_STEP:
        return 0.0
    turns = np.linspace(0, np.pi, 8, endpoint=False)
    slopes = [np.percentile(np.abs(np.cos(turn) * across + np.sin(turn) * down), STEEPEST_PERCENTILE) for turn in turns]
    return height / max(float(min(slopes)), 1e-6)
