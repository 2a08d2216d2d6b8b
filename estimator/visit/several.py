"""Reading the same hair from several photographs, turned under the lamp between them."""

from calibration.findings import Finding, Severity, Verdict
from estimator.errors import BadInputError
from estimator.reading.evenness import evenness
from estimator.reading.together import combine
from estimator.scale.level import LevelScale
from estimator.visit.reading import PhotoReading, ReadZone, in_trade_terms

_BEST_FIRST = (Verdict.USABLE, Verdict.CARE, Verdict.RETAKE)


def together(photos: tuple[PhotoReading, ...], scale: LevelScale | None = None) -> PhotoReading:
    """One reading of several photographs of the same hair: each zone from every photograph that shows it.

    The verdict, the picture and the outlines are those of the best photograph. A photograph that has to be taken again
    is left out, and a finding says so.

    Raises
    ------
    BadInputError : There is no photograph, or they show a zone of one name in different settings.
    """
    if not photos:
        raise BadInputError("There is no photograph. Take one with a card.")
    served = tuple(photo for photo in photos if not photo.refused)
    if not served:
        return photos[0]
    left_out = (_left_out(len(photos) - len(served)),) if len(served) < len(photos) else ()
    best = min(served, key=_rank)
    zones = tuple(_zone(name, served, scale) for name in _names(served))
    even = evenness(tuple(zone.reading for zone in zones)) if len(zones) > 1 else None
    unread = tuple(finding for finding in best.unread if finding.where not in {zone.name for zone in zones})
    return PhotoReading(best.corrected, zones, best.outlined, (*unread, *left_out), even)


def _rank(photo: PhotoReading) -> tuple[int, int, float, str]:
    """Mildest verdict, most zones, smallest error of the card; the picture's own hash decides what is left."""
    verdict = _BEST_FIRST.index(photo.corrected.verdict.verdict)
    held_out = photo.corrected.correction.held_out_de2000
    return verdict, -len(photo.zones), held_out, photo.corrected.photo.sha256


def _names(photos: tuple[PhotoReading, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(zone.name for photo in photos for zone in photo.zones))


def _zone(name: str, photos: tuple[PhotoReading, ...], scale: LevelScale | None) -> ReadZone:
    shown = tuple(zone for photo in sorted(photos, key=_rank) for zone in photo.zones if zone.name == name)
    reading = combine(tuple(zone.reading for zone in shown))
    return in_trade_terms(shown[0].zone, reading, scale)


def _left_out(count: int) -> Finding:
    many = "One photo was" if count == 1 else f"{count} photos were"
    return Finding(
        "photo_left_out",
        Severity.NOTE,
        f"{many} left out, since it has to be taken again." if count == 1 else f"{many} left out as not usable.",
        "Take it again for a tighter interval.",
    )
