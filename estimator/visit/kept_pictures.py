"""Pictures of a visit that is kept: from its photographs and the outlines that were kept with them.

Not among the verbs of `estimator.visit` itself, so that a reading never waits for what only records need.
"""

from typing import TYPE_CHECKING

import numpy as np

from calibration.corrected import CorrectedPhoto
from calibration.pipeline import correct_bytes
from estimator.errors import BadInputError
from estimator.records.consent_scopes import Scope
from estimator.records.visit_record import PhotoRecord
from estimator.records.whole_visit import kept_photos
from estimator.reports.portfolio import Hiding, portfolio_picture
from estimator.visit.reading import PhotoReading
from estimator.zones.inputs import zones_of
from estimator.zones.outline import Setting
from estimator.zones.specification import PolygonZones, ZoneSpec

if TYPE_CHECKING:
    from estimator.records.store import Store

_AS_THEN_DE2000 = 0.01  # what the correction says of its own error tells whether it leans on the same things as then


def kept_portfolio(store: "Store", visit_id: str, hiding: Hiding) -> bytes:
    """The hair of a kept visit before and, where there is one, after, all else hidden; PNG.

    Raises
    ------
    NotKeptError : There is no such visit.
    ConsentMissingError : The client has not agreed to this use, or has taken it back.
    BadInputError : A photograph was kept without outlines, or can't be corrected again as it was that day.
    RecordsError : A photograph is missing or damaged.
    """
    kept = kept_photos(store, visit_id, Scope.PORTFOLIO)
    before, after = (_outlined(kept.photos, side) for side in ("before", "after"))
    if before is None:
        raise BadInputError(
            "This visit was kept without outlines of its hair, so nothing could be hidden. Open the photograph as a "
            "visit once more, outline the hair, and make the picture there."
        )
    return portfolio_picture(hair_then(before), hair_then(after) if after else None, hiding, kept.demo)


def _outlined(photos: tuple[PhotoRecord, ...], side: str) -> PhotoRecord | None:
    """The photograph of this side that the hair was outlined in; of several, the one that was read."""
    return next((photo for photo in photos if photo.side == side and photo.outlines), None)


def hair_then(photo: PhotoRecord) -> PhotoReading:
    """A kept photograph, corrected again, with the hair that was outlined in it; nothing is read anew.

    Raises
    ------
    BadInputError : It is not there, or can't be corrected as it was that day.
    """
    if not photo.content:
        raise BadInputError(f"No copy of the photograph {photo.side} was kept, so there is no picture of it.")
    corrected = correct_bytes(photo.content)
    if not _as_then(corrected, photo):
        raise BadInputError(
            f"The photograph {photo.side} was corrected with more than its card that day, and that is not kept with "
            "it. Make the picture in the visit itself, with the same printed card, station or sheet."
        )
    drawn = {name: tuple(np.array(border) for border in borders) for name, borders in photo.outlines.items()}
    spec = ZoneSpec(Setting.HEAD, PolygonZones(drawn))  # how the hair lay plays no part in a picture
    return PhotoReading(corrected, (), zones_of(spec, corrected), (), None)


def _as_then(corrected: CorrectedPhoto, photo: PhotoRecord) -> bool:
    """Whether the correction is the one of that day; of a newer pipeline only the way must be the same."""
    if corrected.correction.method != photo.method or corrected.verified != photo.verified:
        return False
    if corrected.pipeline_version != photo.pipeline_version or photo.held_out_de2000 is None:
        return True
    return abs(corrected.correction.held_out_de2000 - photo.held_out_de2000) <= _AS_THEN_DE2000
