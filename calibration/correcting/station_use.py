"""A station's profile in a new photo: exposure and balance are fitted again, and the card says whether it holds."""

from dataclasses import dataclass

import numpy as np

from calibration.cards.sighting import PatchColours
from calibration.corrected import Correction
from calibration.correcting.applying import TableCorrection
from calibration.correcting.candidates import channel_terms, straightened
from calibration.correcting.choosing import ChosenCorrection
from calibration.correcting.known_card import KnownCard
from calibration.correcting.station_learning import check_of, station_card
from calibration.correcting.station_model import StationCard, fit_gains, predicted, with_gains
from calibration.correcting.station_profile import StationProfile
from calibration.findings import Finding, Severity
from calibration.photo import Encoding, FloatArray, Step

# A card that does worse than the station's own photos by this many of their standard deviations, and by this much,
# stands in another light or before another camera. tests/studies/station_profile.py
AGREES_SD, AGREES_TIMES = 3.0, 1.35
POOR_CARD_TIMES = 0.9


@dataclass(frozen=True, eq=False)
class StationUse:
    """The correction that serves, what is to be said, and the step for the photo's history."""

    correction: Correction
    findings: tuple[Finding, ...]
    step: Step


def station_correction(
    profile: StationProfile, card: tuple[PatchColours, KnownCard, ChosenCorrection], encoding: Encoding
) -> StationUse:
    """The station's profile where this photo's card agrees and it is the surer one; the photo's own correction else."""
    patches, known, chosen = card
    own = chosen.correction
    if encoding.name != profile.encoding:
        return _own_serves(own, profile, _other_encoding(profile, encoding), float("nan"))
    shown = station_card(patches, known, profile.reference_light)
    start = _start(profile, shown)
    check = check_of(profile.model, profile.values, shown, start)
    # Patches of a card that is seen poorly miss under any correction: then it is the card and not the light.
    if check > agreement_limit(profile) and check > POOR_CARD_TIMES * own.held_out_de2000:
        return _own_serves(own, profile, _disagrees(profile, check), check)
    # What the card does worse than those of the station's photos is counted as an error of the hair too.
    worse = max(0.0, check**2 - profile.check_de2000**2)
    stated = float(np.sqrt(profile.stated_de2000**2 + worse))
    if stated >= own.held_out_de2000:
        return _own_serves(own, profile, _own_is_surer(profile, stated, own.held_out_de2000), check)
    gains = fit_gains(profile.model, profile.values, shown, start)
    covariance = profile.covariance * (stated / profile.stated_de2000) ** 2
    correction = _for_pixels(profile, gains, encoding, (stated, covariance))
    message = (
        f"The card agrees with the station {profile.name}: its profile serves, with an error of {stated:.1f} "
        f"instead of {own.held_out_de2000:.1f} ΔE2000."
    )
    said = Finding("station_serves", Severity.NOTE, message, "Nothing to do.", "card")
    return StationUse(correction, (said,), _step(profile, "serves", check))


def agreement_limit(profile: StationProfile) -> float:
    """The largest mean ΔE2000 of a card's patches at which it still agrees with the profile."""
    return profile.check_de2000 + max(AGREES_SD * profile.check_sd, (AGREES_TIMES - 1) * profile.check_de2000)


def _start(profile: StationProfile, card: StationCard) -> FloatArray:
    """Gains to begin with: those that bring the card's brightness to that of the profile. shape (3,)."""
    xyz = predicted(profile.model, profile.values, np.zeros(3), card.linear_rgb)
    served = card.weights > 0
    ratio = card.edition.xyz_d65[served, 1] / np.maximum(xyz[served, 1], 1e-4)
    return np.full(3, float(np.median(np.log(ratio))))


def _straight(profile: StationProfile, linear_rgb: FloatArray) -> FloatArray:
    return straightened(linear_rgb, channel_terms(profile.model, profile.values)[None])


def _for_pixels(
    profile: StationProfile, gains: FloatArray, encoding: Encoding, stated: tuple[float, FloatArray]
) -> TableCorrection:
    light = encoding.tables.astype(np.float64).T / profile.reference_light
    # A tone curve that turns back would give two colours one reading: it is held level instead.
    tables = np.maximum.accumulate(_straight(profile, light), axis=0).T.astype(np.float32)
    matrix = with_gains(profile.model, profile.values, gains)[: profile.model.matrix_values].reshape(3, -1)
    name = f"station {profile.name}: {profile.model.name}"
    return TableCorrection(name, stated[0], np.ascontiguousarray(tables), np.ascontiguousarray(matrix), stated[1])


def _own_serves(own: Correction, profile: StationProfile, finding: Finding, check: float) -> StationUse:
    return StationUse(own, (finding,), _step(profile, finding.code, check))


def _step(profile: StationProfile, came_to: str, check: float) -> Step:
    return Step("ask_station", 1, {"station": profile.sha256}, {"came_to": came_to, "check_de2000": round(check, 3)})


def _disagrees(profile: StationProfile, check: float) -> Finding:
    message = (
        f"The card does not agree with the station {profile.name}: its patches miss by {check:.1f} ΔE2000 under its "
        f"profile, {agreement_limit(profile):.1f} are allowed. The photo's own card serves alone."
    )
    remedy = "Take the photo with the station's camera and lamp, other lamps off; or learn the station anew."
    return Finding("station_refused", Severity.CARE, message, remedy, "card")


def _other_encoding(profile: StationProfile, encoding: Encoding) -> Finding:
    message = (
        f"The station {profile.name} was learned from photos kept as {profile.encoding}; this one is kept as "
        f"{encoding.name}. The photo's own card serves alone."
    )
    return Finding("station_refused", Severity.CARE, message, "Use the same camera and settings as at the station.")


def _own_is_surer(profile: StationProfile, stated: float, own: float) -> Finding:
    message = (
        f"The card agrees with the station {profile.name}, but the photo's own card does as well "
        f"({own:.1f} against {stated:.1f} ΔE2000), so it serves."
    )
    return Finding("station_not_needed", Severity.NOTE, message, "Nothing to do.", "card")
