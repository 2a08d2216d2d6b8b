"""A station learned from the bytes of several photographs."""

from collections.abc import Sequence
from dataclasses import dataclass

from calibration.cards.classic140 import find_classic140
from calibration.cards.finding import search_cards
from calibration.cards.patches import measure_patches
from calibration.cards.sighting import PatchColours
from calibration.correcting.choosing import ChosenCorrection, choose_correction
from calibration.correcting.known_card import KnownCard, cards_140
from calibration.correcting.station_learning import StationPhoto, learn_station
from calibration.correcting.station_profile import StationProfile
from calibration.errors import CorrectionError, PhotoRefusedError
from calibration.findings import Finding, Severity
from calibration.judging import CardReading, judge_card, judge_no_card
from calibration.opening import open_photo
from calibration.photo import Photo
from calibration.ways.card24 import card_shading, known_24
from calibration.ways.outcome import settled


@dataclass(frozen=True, eq=False)
class LearnedStation:
    """A station's profile, and what it stands against.

    left_out : For each photo None, or why it did not serve.
    own_de2000 : Median stated error of the photos' own corrections.
    """

    profile: StationProfile
    left_out: tuple[Finding | None, ...]
    own_de2000: float


def learn_from_photos(photos: Sequence[bytes], name: str, day: str) -> LearnedStation:
    """The station's profile from photographs of a card; those that can't serve are left out and say why.

    Raises
    ------
    CorrectionError : Too few photographs serve, or they don't belong together.
    """
    looked = [_looked_at(photo_bytes) for photo_bytes in photos]
    served = [one for one, _, why in looked if one is not None and why is None]
    profile = learn_station(tuple(served), name, day)
    errors = sorted(own for one, own, _ in looked if one is not None)
    return LearnedStation(profile, tuple(why for _, _, why in looked), errors[len(errors) // 2])


def _looked_at(photo_bytes: bytes) -> tuple[StationPhoto | None, float, Finding | None]:
    """The card of one photo with its own stated error, or why it does not serve."""
    try:
        photo = open_photo(photo_bytes)
    except PhotoRefusedError as refusal:
        return None, 0.0, refusal.finding
    search = search_cards(photo)
    if not search.sightings:
        return _with_140(photo) or (None, 0.0, judge_no_card(photo, search)[0])
    patches, chosen, refusals = settled(
        measure_patches(photo, search.sightings[0]), lambda patches: choose_correction(patches, photo.encoding)
    )
    if chosen is None:
        return None, 0.0, refusals[0]
    shading = card_shading(patches, chosen)
    judged = judge_card(photo, CardReading(search.sightings[0], patches, 1, chosen, shading))
    grave = next((finding for finding in judged if finding.severity is Severity.RETAKE), None)
    if grave is not None:
        return None, 0.0, grave
    return _served(photo, patches, known_24(chosen), chosen)


def _with_140(photo: Photo) -> tuple[StationPhoto, float, None] | None:
    sighting = find_classic140(photo)
    if sighting is None:
        return None
    patches = measure_patches(photo, sighting)
    try:
        chosen = choose_correction(patches, photo.encoding, cards_140())
    except CorrectionError:
        return None
    return _served(photo, patches, chosen.card, chosen)


def _served(
    photo: Photo, patches: PatchColours, known: KnownCard, chosen: ChosenCorrection
) -> tuple[StationPhoto, float, None]:
    return StationPhoto(patches, known, photo.encoding, photo.sha256), chosen.correction.held_out_de2000, None
