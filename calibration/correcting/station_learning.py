"""Learning a station's profile from several photos of the card, and how well it will hold in a new one."""

from dataclasses import dataclass

import numpy as np

from calibration.cards.layouts import Edition
from calibration.cards.sighting import PatchColours
from calibration.colourspaces import delta_e_2000, xyz_to_lab
from calibration.correcting.candidates import Model
from calibration.correcting.choosing import Candidate, _choice, near_hair_covariance, nested_error
from calibration.correcting.fitting import CardData, start_values
from calibration.correcting.known_card import NEAR_HAIR_WEIGHT, KnownCard
from calibration.correcting.station_model import (
    StationCard,
    fit_gains,
    fit_station,
    fit_without_each,
    predicted,
    start_gains,
    station_models,
)
from calibration.correcting.station_profile import StationProfile
from calibration.errors import CorrectionError
from calibration.findings import Finding, Severity
from calibration.photo import Encoding, FloatArray

FEWEST_PHOTOS = 3
MOST_PHOTOS = 12


@dataclass(frozen=True, eq=False)
class StationPhoto:
    """One photo of the card at the station: its patches, what the card is, and how the file keeps colours."""

    patches: PatchColours
    known: KnownCard
    encoding: Encoding
    sha256: str


def learn_station(photos: tuple[StationPhoto, ...], name: str, day: str) -> StationProfile:
    """The profile of one camera under one lamp.

    Raises
    ------
    CorrectionError : Too few photos or too many, two are the same, or they keep their colours in different ways.
    """
    _check(photos)
    reference = max(_white(photo) for photo in photos)
    cards = tuple(station_card(photo.patches, photo.known, reference) for photo in photos)
    models = station_models(photos[0].encoding.linear)
    judged = [_judged(model, cards) for model in models]
    weights = np.concatenate([card.weights for card in cards])
    candidates = tuple(candidate for candidate, _ in judged)
    best = _choice(candidates, weights)
    candidate, checks = judged[best]
    trust = np.concatenate([np.where(photo.patches.usable, photo.patches.trust, 0.0) for photo in photos])
    shared = np.mean([photo.known.shared_covariance for photo in photos], axis=0)
    return StationProfile(
        name=name,
        day=day,
        encoding=photos[0].encoding.name,
        model=candidate.model,
        values=candidate.values,
        reference_light=reference,
        stated_de2000=nested_error(candidates, weights),
        covariance=near_hair_covariance(candidate, _all_editions(cards), trust) + shared,
        check_de2000=float(np.mean(checks)),
        check_sd=float(np.std(checks, ddof=1)),
        photos_sha256=tuple(photo.sha256 for photo in photos),
    )


def station_card(patches: PatchColours, known: KnownCard, reference: float) -> StationCard:
    """The card of one photo, its light over the station's reference light."""
    light = np.where(patches.usable[:, None], patches.linear_rgb, 0.2 * reference) / reference
    weights = np.where(patches.usable, patches.trust, 0.0)
    weights[list(known.near_hair)] *= NEAR_HAIR_WEIGHT
    return StationCard(light, known.edition, weights)


def check_of(model: Model, values: FloatArray, card: StationCard, start: FloatArray) -> float:
    """Mean ΔE2000 of a card's patches under a station's values, each from gains that it took no part in."""
    served = np.flatnonzero(card.weights > 0)
    gains = fit_gains(model, values, card, start)
    errors = [_missed(model, values, card, int(patch), gains)[1] for patch in served]
    return float(np.average(errors, weights=card.weights[served]))


def _judged(model: Model, cards: tuple[StationCard, ...]) -> tuple[Candidate, list[float]]:
    """The model fitted to all photos, how patches do that took no part in any photo, and what a new card shows."""
    values, _ = fit_station(model, cards, _start(model, cards[0]))
    labs, errors, checks = [], [], []
    for number, card in enumerate(cards):
        rest = cards[:number] + cards[number + 1 :]
        start = _start(model, rest[0])
        fit = fit_station(model, rest, start)
        gains = fit_gains(model, fit[0], card, start_gains(card, rest[0]))
        checks.append(check_of(model, fit[0], card, gains))
        unseen = fit_without_each(model, rest, fit, start)
        lab, error = _left_out(model, card, unseen, gains)
        labs.append(lab)
        errors.append(error)
    return Candidate(model, values, np.concatenate(labs), np.concatenate(errors)), checks


def _left_out(model: Model, card: StationCard, unseen: FloatArray, gains: FloatArray) -> tuple[FloatArray, FloatArray]:
    """CIELAB and ΔE2000 of each patch of a new photo, its colour left out of all photos. shapes (n, 3) and (n,)."""
    lab, errors = np.full((len(card.weights), 3), np.nan), np.full(len(card.weights), np.nan)
    for patch in np.flatnonzero(card.weights > 0):
        lab[patch], errors[patch] = _missed(model, unseen[patch], card, int(patch), gains)
    return lab, errors


def _without(card: StationCard, patch: int) -> StationCard:
    weights = card.weights.copy()
    weights[patch] = 0
    return StationCard(card.linear_rgb, card.edition, weights)


def _missed(
    model: Model, values: FloatArray, card: StationCard, patch: int, gains: FloatArray
) -> tuple[FloatArray, float]:
    """CIELAB and ΔE2000 of one patch, its photo's gains fitted without it."""
    own = fit_gains(model, values, _without(card, patch), gains)
    lab = xyz_to_lab(predicted(model, values, own, card.linear_rgb[patch : patch + 1])[0])
    return lab, float(delta_e_2000(lab[None], card.edition.lab_d65[patch][None])[0])


def _start(model: Model, card: StationCard) -> FloatArray:
    return start_values(model, CardData(card.linear_rgb, card.edition, card.weights))


def _all_editions(cards: tuple[StationCard, ...]) -> Edition:
    xyz = np.concatenate([card.edition.xyz_d65 for card in cards])
    return Edition("all photos", xyz, np.concatenate([card.edition.lab_d65 for card in cards]))


def _white(photo: StationPhoto) -> float:
    """Light that stands for white in one photo: of its lightest grey that serves, by its share of white."""
    serving = [patch for patch in photo.known.greys if photo.patches.usable[patch]]
    share = photo.known.edition.xyz_d65[:, 1]
    lightest = max(serving, key=lambda patch: share[patch])
    return float(photo.patches.linear_rgb[lightest].max() / max(share[lightest], 0.01))


def _check(photos: tuple[StationPhoto, ...]) -> None:
    if not FEWEST_PHOTOS <= len(photos) <= MOST_PHOTOS:
        raise _refused(
            f"A station is learned from {FEWEST_PHOTOS} to {MOST_PHOTOS} photos of the card; {len(photos)} can serve.",
            "Take the card at the station several times, moved a little each time.",
        )
    if len({photo.sha256 for photo in photos}) < len(photos):
        raise _refused("One photo was given twice.", "Give each photo once.")
    if len({len(photo.patches.usable) for photo in photos}) > 1:
        raise _refused("The photos show cards of different kinds.", "Take all of them with one card.")
    names = sorted({photo.encoding.name for photo in photos})
    if len(names) > 1:
        raise _refused(
            f"The photos keep their colours in different ways ({', '.join(names)}).",
            "Take all of them with one camera and the same settings.",
        )


def _refused(message: str, remedy: str) -> CorrectionError:
    return CorrectionError(Finding("station_refused", Severity.RETAKE, message, remedy))
