"""What a station's profile gains over each photo's own card: python -m tests.studies.station_profile

Stations are drawn at random: a CIE lamp, a published camera, a development. At each, six photos of the card teach the
profile and six others use it; exposure, balance, stray light, a fall of light over the card and uneven patches differ
from photo to photo. Half of the photos that use the profile show the card well, half poorly: a third of it covered or
shining, uneven light. Measured hair and skin beside the card are the truth, and on no card. Then the same photos are
taken under another lamp, by another camera, or developed otherwise: the card must object where the profile would hurt.
"""

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from calibration.cards.layouts import grid_places
from calibration.cards.sighting import PatchColours
from calibration.colourspaces import delta_e_2000, xyz_to_lab
from calibration.correcting.choosing import choose_correction
from calibration.correcting.station_learning import StationPhoto, learn_station
from calibration.correcting.station_profile import StationProfile
from calibration.correcting.station_use import StationUse, station_correction
from calibration.errors import CorrectionError
from calibration.photo import Box, EncodedRgb, Photo
from calibration.profiles import srgb_encoding
from calibration.transfer import look_up
from calibration.ways.card24 import known_24
from tests.synthetic import card_scene
from tests.synthetic.card_scene import CardScene, Development, Light
from tests.synthetic.spectra import camera_names, card_reflectances, table, xyz_d65

STATIONS, TAUGHT, USED = 25, 6, 6


@dataclass(frozen=True)
class CardSeen:
    """How well a photo shows its card: unevenness of patches and light (logarithms), and patches that may serve."""

    uneven_sd: float
    slope_sd: float
    patches: int


WELL, POORLY = CardSeen(0.015, 0.015, 24), CardSeen(0.04, 0.03, 15)
NINE_IN_TEN = 1.6449
SURFACES = np.vstack([list(table("hair_reflectance").values()), list(table("skin_reflectance").values())[::4]])
TRUE_LAB = xyz_to_lab(xyz_d65(SURFACES))


def station_at_random(rng: np.random.Generator) -> CardScene:
    """A lamp, a camera and a development."""
    cameras, lamps = camera_names(), list(table("lamps_cie"))
    development = Development(
        camera=cameras[rng.integers(len(cameras))],
        exposure=rng.uniform(0.55, 0.8),
        contrast=float(rng.choice([0.3, 0.6, 0.9])),
        saturation=rng.uniform(1.0, 1.2),
    )
    return CardScene(Light(lamps[rng.integers(len(lamps))]), development)


def photo_at(station: CardScene, rng: np.random.Generator, seen: CardSeen = WELL) -> tuple[StationPhoto, np.ndarray]:
    """The card's patches in one photo, and the stored colours of hair and skin beside it, uint8, shape (n, 3)."""
    balance = tuple(np.exp(rng.normal(0, 0.06, 2)))
    exposure = station.development.exposure * np.exp(rng.normal(0, 0.12))
    scene = replace(station, development=replace(station.development, balance=balance, exposure=exposure))
    sensor = card_scene._balanced(scene, scene.light.lamp, np.vstack([card_reflectances(), SURFACES]))
    slope = rng.normal(0, seen.slope_sd, 2)
    sensor[:24] *= np.exp((grid_places() - [2.5, 1.5]) @ slope + rng.normal(0, seen.uneven_sd, 24))[:, None]
    sensor = sensor + abs(rng.normal(0, 0.0015))
    many = np.repeat(sensor[None], 40, axis=0)
    many = many + 0.004 * np.sqrt(np.maximum(many, 0.02)) * rng.normal(size=many.shape)
    codes = card_scene._developed(scene, many)
    light = look_up(EncodedRgb(codes[:, :24]), srgb_encoding(256).tables).astype(np.float64)
    over = (codes[:, :24] >= 254).mean(axis=0).max(axis=-1) > 0.5
    doubtful = ((codes[:, :24] >= 253).mean(axis=0).max(axis=-1) > 0.02) | (
        (codes[:, :24] <= 2).mean(axis=0).max(axis=-1) > 0.3
    )
    covered = np.isin(np.arange(24), rng.permutation(24)[seen.patches :])
    why_not = tuple(
        "clipped" if one else "covered" if hidden else "" for one, hidden in zip(over, covered, strict=True)
    )
    patches = PatchColours(
        light.mean(axis=0), light.std(axis=0), np.full(24, 40), ~(over | covered), np.where(doubtful, 0.3, 1.0), why_not
    )
    chosen = choose_correction(patches, srgb_encoding(256))
    shown = StationPhoto(patches, known_24(chosen), srgb_encoding(256), f"{rng.integers(2**62):064x}")
    return shown, np.asarray(codes[:, 24:])


def errors_of(correction: object, codes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """ΔE2000 of hair and skin under a correction, and which of L*, a*, b* lie in the interval."""
    photo = Photo(EncodedRgb(np.ascontiguousarray(codes)), srgb_encoding(256), "", "JPEG", 8)
    xyz = correction.xyz_d65(photo, Box(0, 0, *codes.shape[:2]), 1).mean(axis=0).astype(np.float64)
    lab = xyz_to_lab(xyz)
    inside = np.abs(lab - TRUE_LAB) <= NINE_IN_TEN * np.sqrt(np.diag(correction.lab_covariance()))
    return delta_e_2000(lab, TRUE_LAB), inside


def use(profile: StationProfile, shown: StationPhoto) -> tuple[StationUse, object]:
    """What the station makes of a photo, and the photo's own correction."""
    chosen = choose_correction(shown.patches, shown.encoding)
    return station_correction(profile, (shown.patches, shown.known, chosen), shown.encoding), chosen.correction


def another(station: CardScene, rng: np.random.Generator) -> dict[str, CardScene]:
    """The same scene under another lamp, by another camera, and developed with another tone curve."""
    lamps = ("A", "D65", "FL11", "LED-B3")
    lamp = str(rng.choice([name for name in lamps if name in table("lamps_cie") and name != station.light.lamp]))
    names = [name for name in camera_names() if name != station.development.camera]
    development = station.development
    return {
        "another lamp": replace(station, light=Light(lamp)),
        "another camera": replace(station, development=replace(development, camera=str(rng.choice(names)))),
        "another tone curve": replace(station, development=replace(development, contrast=0.0)),
    }


def try_new_photos(
    profile: StationProfile, scene: CardScene, how: tuple[int, CardSeen], rng: np.random.Generator
) -> list[tuple[str, np.ndarray, np.ndarray]]:
    """For each new photo what came of it; stated and true error of own card and of what serves; inside of both."""
    found = []
    for _ in range(how[0]):
        try:
            shown, codes = photo_at(scene, rng, how[1])
        except CorrectionError:
            continue
        used, own = use(profile, shown)
        missed_own, inside_own = errors_of(own, codes)
        missed, inside = errors_of(used.correction, codes)
        errors = (own.held_out_de2000, missed_own.mean(), used.correction.held_out_de2000, missed.mean())
        found.append((used.findings[0].code, np.array(errors), np.stack([inside_own, inside]).mean(axis=(1, 2))))
    return found


def main() -> None:
    """Print the gain of the profile, its coverage, and what the card objects to."""
    rng = np.random.default_rng(3)
    groups: dict[str, list[tuple[str, np.ndarray, np.ndarray]]] = {}
    for _ in range(STATIONS):
        station = station_at_random(rng)
        try:
            profile = learn_station(tuple(photo_at(station, rng)[0] for _ in range(TAUGHT)), "study", "2026-11-25")
        except CorrectionError:
            continue
        for name, seen in (("card seen well", WELL), ("card seen poorly", POORLY)):
            groups.setdefault(name, []).extend(try_new_photos(profile, station, (USED // 2, seen), rng))
        for name, scene in another(station, rng).items():
            groups.setdefault(name, []).extend(try_new_photos(profile, scene, (2, WELL), rng))
    print("each: stated error, true error, share inside the interval")
    for name, found in groups.items():
        errors = np.mean([one[1] for one in found], axis=0)
        inside = np.mean([one[2] for one in found], axis=0)
        codes = [one[0] for one in found]
        serves, refused = (100 * codes.count(code) / len(codes) for code in ("station_serves", "station_refused"))
        print(f"{name} ({len(found)} photos): own card {errors[0]:.2f}, {errors[1]:.2f}, {inside[0]:.2f}; "
              f"with the station {errors[2]:.2f}, {errors[3]:.2f}, {inside[1]:.2f}; "
              f"serves {serves:.0f} %, refused {refused:.0f} %")  # fmt: skip


if __name__ == "__main__":
    main()
