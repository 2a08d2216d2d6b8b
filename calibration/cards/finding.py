"""Where a reference card lies in a photograph: flat areas that stand in a grid and have the card's colours."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cards.flat_patches import FlatPatches, find_flat_patches
from calibration.cards.geometry import project, sighting_from
from calibration.cards.lattice import Lattice, find_lattices
from calibration.cards.layouts import CLASSIC24_COLUMNS, CLASSIC24_ROWS, grid_places
from calibration.cards.recognising import Recognition, moved, recognise
from calibration.cards.sighting import CardSighting
from calibration.photo import FloatArray, Photo

# Longer side of the copies that are searched, in this order, until a whole card is found. The small ones are fast and
# even out noise and blur; the large ones hold small cards.
SEARCH_SIDES_PX = (800, 1500, 400, 3200)
SMALL_PHOTO_PX = 700  # up to this size a photo is also searched enlarged
LATTICES_TRIED = 8
# Evidence (recognising.py): on photographs of whole cards at least 28, on other grids at most 21.
EVIDENCE_OF_CARD = 24.0
EVIDENCE_OF_PART = 8.0
EXPLAINED_OF_PART = 0.85
FEWEST_OUTLINED = 10
# Another card has at least about as many flat areas in one grid, in other colours.
AREAS_OF_OTHER = 18
BEYOND_OF_OTHER = 24
# Colour cards differ in hue by 0.09 and more (recognising.py), tiles, keys and textures by at most 0.05.
COLOURFUL = 0.06
# Where patches are this small in the copy, the place is looked at again, magnified.
COARSE_PITCH_PX, FINE_PITCH_PX = 14.0, 36.0
MOST_ENLARGED = 3.0
MARGIN_PITCHES = 1.5  # cut out round a card that is looked at again


@dataclass(frozen=True, eq=False)
class CardSearch:
    """What a search for cards came to.

    sightings : Whole cards, the best first; empty where none is.
    part : The best guess at a card of which too little is seen, or None.
    other : A grid like the card's in other colours, or None.
    """

    sightings: tuple[CardSighting, ...]
    part: CardSighting | None = None
    other: CardSighting | None = None


def find_cards(photo: Photo) -> tuple[CardSighting, ...]:
    """Every 24-patch card seen, the best first; empty where none is."""
    return search_cards(photo).sightings


def search_cards(photo: Photo) -> CardSearch:
    """Whole cards in the photograph; without one, what comes nearest."""
    full = eight_bit_bgr(photo)
    near: list[Recognition] = []
    for copy, scale in _copies(full):
        here = [_magnified(full, recognition, scale) for recognition in recognitions(copy)]
        whole = [recognition for recognition in here if is_card(recognition)]
        if whole:
            return CardSearch(tuple(sighting_of(recognition) for recognition in _apart(whole)))
        near += here
    whole = [recognition for recognition in _second_opinion(full) if is_card(recognition)]
    if whole:
        return CardSearch(tuple(sighting_of(recognition) for recognition in _apart(whole)))
    return _nearest(near)


def recognitions(bgr8: NDArray[np.uint8]) -> list[Recognition]:
    """Grids in an 8-bit picture that can be laid on the card, in pixels of the picture, likeliest first."""
    picture = evened(bgr8)
    patches = find_flat_patches(picture)
    tried = [recognise(picture, bgr8, patches, lattice) for lattice in find_lattices(patches)[:LATTICES_TRIED]]
    return sorted((seen for seen in tried if seen is not None), key=lambda seen: -seen.evidence)


def is_card(seen: Recognition) -> bool:
    """Whether this is the 24-patch card, with enough of it seen to be sure of its place and order."""
    enough = seen.evidence >= EVIDENCE_OF_CARD and seen.outlined.sum() >= FEWEST_OUTLINED
    return bool(enough and seen.beyond < BEYOND_OF_OTHER and seen.colourfulness > COLOURFUL)


def sighting_of(seen: Recognition) -> CardSighting:
    """The sighting of a recognised card. A patch is hidden where neither its outline nor its colour is seen."""
    hidden = ~seen.inside | ~(seen.seen | seen.outlined)
    return sighting_from(seen.homography, 1 - seen.explained, hidden)


def eight_bit_bgr(photo: Photo) -> NDArray[np.uint8]:
    """The photograph in 8 bits, blue, green, red; linear files are lifted as a picture would be."""
    codes: NDArray[np.uint8] | NDArray[np.uint16] = photo.encoded_rgb
    if codes.dtype != np.uint8:
        share = np.arange(65536, dtype=np.float64) / 65535
        table = np.rint(255 * (share ** (1 / 2.2) if photo.encoding.linear else share)).astype(np.uint8)
        codes = table[codes]
    return np.asarray(cv2.cvtColor(codes, cv2.COLOR_RGB2BGR), dtype=np.uint8)


def evened(bgr8: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The picture with its top brought to white and its dark parts lifted: dark photos show their steps too."""
    top = max(float(np.percentile(bgr8[::8, ::8].max(axis=-1), 99.5)), 20.0)
    table = np.clip(255 * (np.arange(256) / top) ** 0.7, 0, 255).astype(np.uint8)
    return np.asarray(cv2.LUT(bgr8, table), dtype=np.uint8)


def _copies(full: NDArray[np.uint8]) -> Iterator[tuple[NDArray[np.uint8], float]]:
    """Copies to search and their scale, each size once."""
    longest, done = max(full.shape[:2]), set()
    for side in SEARCH_SIDES_PX:
        scale = min(1.0, side / longest)
        if scale not in done:
            done.add(scale)
            yield shrunk(full, scale), scale
    if longest <= SMALL_PHOTO_PX:
        yield np.asarray(cv2.resize(full, None, fx=3, fy=3, interpolation=cv2.INTER_CUBIC), dtype=np.uint8), 3.0


def shrunk(bgr8: NDArray[np.uint8], scale: float) -> NDArray[np.uint8]:
    """A copy of `scale` times the size, areas averaged. A scale of 1 or more gives the picture itself."""
    if scale >= 1:
        return bgr8
    # Halving by whole blocks first is several times faster than one general reduction.
    blocks = int(0.5 / scale)
    if blocks > 1:
        rows, columns = bgr8.shape[0] // blocks * blocks, bgr8.shape[1] // blocks * blocks
        size = columns // blocks, rows // blocks
        bgr8 = np.asarray(cv2.resize(bgr8[:rows, :columns], size, interpolation=cv2.INTER_AREA))
        scale *= blocks
    return np.asarray(cv2.resize(bgr8, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _magnified(full: NDArray[np.uint8], seen: Recognition, scale: float) -> Recognition:
    """The recognition in pixels of the full picture, looked at again where its patches were small."""
    there = moved(seen, scale)
    if seen.pitch_px >= COARSE_PITCH_PX or seen.evidence < EVIDENCE_OF_PART:
        return there
    again = _looked_at_again(full, there)
    return there if again is None or again.evidence < seen.evidence else again


def _looked_at_again(full: NDArray[np.uint8], near: Recognition) -> Recognition | None:
    """What is recognised where a card may lie, at a size that shows its patches well; pixels of the full picture."""
    last = np.array([CLASSIC24_COLUMNS - 1, CLASSIC24_ROWS - 1]) + MARGIN_PITCHES
    first = np.array([-MARGIN_PITCHES, -MARGIN_PITCHES])
    outline = project(near.homography, np.array([first, [last[0], first[1]], last, [first[0], last[1]]]))
    left, top = np.maximum(np.floor(outline.min(axis=0)), 0).astype(int)
    right, bottom = np.minimum(np.ceil(outline.max(axis=0)) + 1, full.shape[1::-1]).astype(int)
    if right - left < 8 or bottom - top < 8:
        return None
    closer = min(MOST_ENLARGED, FINE_PITCH_PX / near.pitch_px)
    cut = full[top:bottom, left:right]
    if closer > 1:
        cut = np.asarray(cv2.resize(cut, None, fx=closer, fy=closer, interpolation=cv2.INTER_CUBIC), dtype=np.uint8)
    again = recognitions(shrunk(cut, closer))
    return _shifted(moved(again[0], closer), int(left), int(top)) if again else None


def _shifted(seen: Recognition, left_px: int, top_px: int) -> Recognition:
    """The recognition of a cut, in pixels of the picture that it was cut from."""
    shift = np.array([[1.0, 0, left_px], [0, 1, top_px], [0, 0, 1]])
    return replace(seen, homography=shift @ seen.homography)


def _apart(seen: list[Recognition]) -> list[Recognition]:
    """Each card once, the largest first among those well recognised."""
    kept: list[Recognition] = []
    for recognition in sorted(seen, key=lambda one: -one.evidence):
        middle = _middle(recognition)
        if all(np.hypot(*(middle - _middle(other))) > 2 * other.pitch_px for other in kept):
            kept.append(recognition)
    return sorted(kept, key=lambda one: -one.pitch_px * one.seen.sum())


def _middle(seen: Recognition) -> FloatArray:
    middle: FloatArray = project(seen.homography, grid_places()).mean(axis=0)
    return middle


def _second_opinion(full: NDArray[np.uint8]) -> Iterator[Recognition]:
    """What is recognised where OpenCV's chart finder sees a card, in pixels of the full picture."""
    scale = min(1.0, 1500 / max(full.shape[:2]))
    copy = shrunk(full, scale)
    detector = cv2.mcc.CCheckerDetector_create()  # type: ignore[attr-defined]  # missing from the stubs
    detector.setColorChartType(cv2.mcc.MCC24)
    detector.process(copy, 2)
    for card in detector.getListColorChecker():
        quads = np.asarray(card.getColorCharts(), dtype=np.float64).reshape(24, 4, 2)
        sides = np.sqrt([abs(cv2.contourArea(quad.astype(np.float32))) for quad in quads])
        cells: Lattice = {number: (number % CLASSIC24_COLUMNS, number // CLASSIC24_COLUMNS) for number in range(24)}
        # Its places are only a hint: it draws grids over anything, so the flat areas must be there.
        hint = recognise(evened(copy), copy, FlatPatches(quads.mean(axis=1), sides), cells)
        again = None if hint is None else _looked_at_again(full, moved(hint, scale))
        if again is not None:
            yield again


def _nearest(near: list[Recognition]) -> CardSearch:
    """What to say where no whole card was found."""
    others = [seen for seen in near if _is_other(seen)]
    if others:
        return CardSearch((), other=sighting_of(max(others, key=lambda seen: seen.pitch_px * seen.outlined.sum())))
    parts = [seen for seen in near if _is_part(seen)]
    if parts:
        return CardSearch((), part=sighting_of(max(parts, key=lambda seen: seen.evidence)))
    return CardSearch(())


def _is_part(seen: Recognition) -> bool:
    """Whether this looks like a piece of the 24-patch card."""
    alike = seen.evidence >= EVIDENCE_OF_PART and seen.explained >= EXPLAINED_OF_PART
    return alike and seen.colourfulness > COLOURFUL


def _is_other(seen: Recognition) -> bool:
    """Whether this looks like a colour card of another maker: a full grid that the colours do not fit."""
    areas = int(seen.outlined.sum()) + seen.beyond
    clipped_out = seen.clipped.sum() > 12
    return areas >= AREAS_OF_OTHER and seen.colourfulness > COLOURFUL and not clipped_out and not is_card(seen)
