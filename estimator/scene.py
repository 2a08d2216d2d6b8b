"""One scene: several photographs of the same hair, outlined once; after photographs among them."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from calibration.correcting.neutral_reference import NeutralPoint
from calibration.errors import PhotoRefusedError
from calibration.findings import CaptureVerdict, Severity, Verdict, verdict_from
from calibration.pipeline import correct_bytes
from calibration.references import NONE_GIVEN, References
from estimator.errors import TooLittleHairError
from estimator.reading.comparing import ZoneDifference, difference
from estimator.reading.together import combine
from estimator.reading.wet_hair import refused_as_wet
from estimator.reading.zone_colour import ReadingModel, read_zones
from estimator.reading.zone_reading import ZoneReading
from estimator.zones.inputs import zones_of
from estimator.zones.specification import ZoneSpec


@dataclass(frozen=True, eq=False)
class ScenePhoto:
    """One photograph of a scene, read. It holds no pixels, so a long batch stays small.

    after : The hair was photographed after toning.
    readings : Empty where the photo must be taken again.
    """

    name: str
    after: bool
    verdict: CaptureVerdict
    readings: tuple[ZoneReading, ...]
    unread: tuple[TooLittleHairError, ...]

    @property
    def refused(self) -> bool:
        return self.verdict.verdict is Verdict.RETAKE

    def reading(self, zone: str) -> ZoneReading | None:
        """The reading of that zone, or None where it was not read."""
        return next((reading for reading in self.readings if reading.zone == zone), None)


@dataclass(frozen=True, eq=False)
class PhotoDifference:
    """What changed in one zone between a photo before and one after.

    The hair is the same in all photos before, and in all after: every pair tells the change as all of them show it.
    """

    photo_before: str
    photo_after: str
    change: ZoneDifference


@dataclass(frozen=True, eq=False)
class SceneReading:
    """All photographs of one scene.

    together, together_after : Each zone read from all usable photos before, and after.
    differences : For each pair of a photo before and one after, each zone that both show.
    """

    photos: tuple[ScenePhoto, ...]
    together: tuple[ZoneReading, ...]
    together_after: tuple[ZoneReading, ...]
    differences: tuple[PhotoDifference, ...]


def read_scene(
    spec: ZoneSpec,
    photos: Mapping[str, bytes],
    model: ReadingModel | None = None,
    references: References = NONE_GIVEN,
) -> SceneReading:
    """Every zone of every photograph of one scene; a photo that can't be used is a ScenePhoto that says why.

    photos : File name and bytes. A photo counts as after toning if `spec.after` lists its name; names do nothing else.
    references : What the colours of every photo may lean on beside a card in it.

    Raises
    ------
    BadInputError : The outlines do not fit a photograph that opens.
    """
    if spec.neutral is not None:
        references = replace(references, neutral=NeutralPoint(*spec.neutral))
    read = tuple(_read_photo(spec, photo, model, references) for photo in photos.items())
    before = tuple(photo for photo in read if not photo.after)
    after = tuple(photo for photo in read if photo.after)
    together, together_after = _together(spec, before), _together(spec, after)
    differences = _differences(before, after, (together, together_after))
    return SceneReading(read, together, together_after, differences)


def _read_photo(
    spec: ZoneSpec, photo: tuple[str, bytes], model: ReadingModel | None, references: References
) -> ScenePhoto:
    name, photo_bytes = photo
    after = name in spec.after
    try:
        corrected = correct_bytes(photo_bytes, references)
    except PhotoRefusedError as refusal:
        return ScenePhoto(name, after, _unreadable(refusal), (), ())
    if spec.wet:
        corrected = refused_as_wet(corrected)
    if corrected.verdict.verdict is Verdict.RETAKE:
        return ScenePhoto(name, after, corrected.verdict, (), ())
    zones = read_zones(corrected, zones_of(spec, corrected), model)
    return ScenePhoto(name, after, corrected.verdict, zones.readings, zones.unread)


def _unreadable(refusal: PhotoRefusedError) -> CaptureVerdict:
    """The verdict on a file that does not open, whatever weight its finding was given."""
    if refusal.finding.severity is Severity.RETAKE:
        return verdict_from((refusal.finding,))
    return CaptureVerdict(Verdict.RETAKE, (refusal.finding,))


def _together(spec: ZoneSpec, photos: tuple[ScenePhoto, ...]) -> tuple[ZoneReading, ...]:
    readings = []
    for zone in spec.names:
        found = tuple(reading for photo in photos if (reading := photo.reading(zone)) is not None)
        if found:
            readings.append(combine(found))
    return tuple(readings)


def _differences(
    before: tuple[ScenePhoto, ...],
    after: tuple[ScenePhoto, ...],
    together: tuple[tuple[ZoneReading, ...], tuple[ZoneReading, ...]],
) -> tuple[PhotoDifference, ...]:
    """A change for each pair of photos that both show the zone, read from all photos of the zone."""
    changed = {reading.zone: reading for reading in together[1]}
    changes = {reading.zone: difference(reading, changed[reading.zone])
               for reading in together[0] if reading.zone in changed}  # fmt: skip
    return tuple(
        PhotoDifference(first.name, second.name, changes[reading.zone])
        for first in before
        for second in after
        for reading in first.readings
        if second.reading(reading.zone) is not None
    )
