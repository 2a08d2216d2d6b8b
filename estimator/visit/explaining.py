"""Why a reading is as wide as it is, for every zone of a photograph that was read."""

from estimator.reading.explaining import Explanation
from estimator.visit.reading import PhotoReading


def explain(reading: PhotoReading) -> tuple[Explanation, ...]:
    """What each zone that was read rests on and what would make it tighter; zones read from several photographs not."""
    # Each zone is read several times over: only for whoever asks.
    from estimator.reading.explaining import explain as explain_zones

    if reading.refused:
        return ()
    read = {zone.name for zone in reading.zones if len(zone.reading.evidence) < 2}
    return tuple(told for told in explain_zones(reading.corrected, reading.outlined) if told.zone in read)
