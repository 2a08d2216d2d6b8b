"""What a file that keeps linear light gains over a JPEG of the same scene: python -m tests.studies.linear_light

The same scenes twice: lamp x camera through a development to 8 bits, and as the sensor counts, white balanced, 14 bits.
Measured hair and skin beside the card are the truth. Prints stated and true error of both, coverage, and the ratio of
the stated errors that `calibration/correcting/linear_file.py` keeps.
"""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from calibration.cards.sighting import PatchColours
from calibration.colourspaces import SRGB_TO_XYZ_D65, delta_e_2000, xyz_to_lab
from calibration.correcting import choosing
from calibration.correcting.candidates import predict
from calibration.errors import CorrectionError
from calibration.photo import EncodedRgb, Encoding
from calibration.profiles import camera_encoding, srgb_encoding
from calibration.transfer import look_up
from tests.synthetic import card_scene
from tests.synthetic.card_scene import CardScene, Development, Light
from tests.synthetic.spectra import camera_names, card_reflectances, table, xyz_d65

SCENES = 120
NINE_IN_TEN = 1.6449
SURFACES = np.vstack([list(table("hair_reflectance").values()), list(table("skin_reflectance").values())])
TRUE_LAB = xyz_to_lab(xyz_d65(SURFACES))


def scene_at_random(rng: np.random.Generator) -> CardScene:
    """A lamp, a camera and a development."""
    cameras, lamps = camera_names(), list(table("lamps_cie"))
    development = Development(
        camera=cameras[rng.integers(len(cameras))],
        exposure=rng.uniform(0.45, 0.9),
        contrast=float(rng.choice([0.3, 0.6, 0.9])),
        saturation=rng.uniform(1.0, 1.25),
        balance=(float(np.exp(rng.normal(0, 0.12))), float(np.exp(rng.normal(0, 0.15)))),
    )
    return CardScene(Light(lamps[rng.integers(len(lamps))], stray=float(rng.choice([0, 0.002]))), development)


def sensor_of(scene: CardScene, rng: np.random.Generator) -> np.ndarray:
    """Balanced camera light of card, hair and skin, 40 pixels each. shape (40, n, 3)."""
    clean = card_scene._balanced(scene, scene.light.lamp, np.vstack([card_reflectances(), SURFACES]))
    clean[:24] *= np.exp(rng.normal(0, 0.01, 24))[:, None]
    many = np.repeat((clean + scene.light.stray)[None], 40, axis=0)
    return many + 0.003 * np.sqrt(np.maximum(many, 0.02)) * rng.normal(size=many.shape)


def as_raw(scene: CardScene, sensor: np.ndarray) -> tuple[np.ndarray, Encoding]:
    """What a RAW file gives: 16-bit codes of linear light, and how the file describes its camera."""
    to_xyz = SRGB_TO_XYZ_D65 @ card_scene.camera_matrix(scene.development.camera)
    codes = np.rint(np.clip(sensor * 0.8 * scene.development.exposure, 0, 1) * 16383) * (65535 / 16383)
    return codes.astype(np.uint16), camera_encoding(tuple(map(tuple, to_xyz)))


def as_jpeg(scene: CardScene, sensor: np.ndarray) -> tuple[np.ndarray, Encoding]:
    """What the camera makes of it: 8-bit codes, sRGB."""
    return card_scene._developed(scene, sensor), srgb_encoding(256)


def patches_of(codes: np.ndarray, encoding: Encoding) -> PatchColours:
    """Light of all surfaces as patches."""
    top = np.iinfo(codes.dtype).max
    light = look_up(EncodedRgb(codes), encoding.tables).astype(np.float64)
    over = (codes >= 0.996 * top).mean(axis=0).max(axis=-1) > 0.5
    doubtful = ((codes >= 0.992 * top).mean(axis=0).max(axis=-1) > 0.02) | (
        (codes <= 0.008 * top).mean(axis=0).max(axis=-1) > 0.3 if codes.dtype == np.uint8 else False
    )
    why_not = tuple("clipped" if one else "" for one in over)
    count = np.full(len(over), len(codes))
    return PatchColours(light.mean(axis=0), light.std(axis=0), count, ~over, np.where(doubtful, 0.3, 1.0), why_not)


def only_card(seen: PatchColours) -> PatchColours:
    """The first 24 patches."""
    parts = (seen.linear_rgb, seen.spread_sd, seen.pixels, seen.usable, seen.trust)
    return PatchColours(*(part[:24] for part in parts), seen.why_not[:24])


def judged(codes: np.ndarray, encoding: Encoding) -> tuple[float, np.ndarray, np.ndarray, np.ndarray, str]:
    """Stated error; ΔE2000, coverage and standard deviation on hair and skin; the model that was chosen."""
    seen = patches_of(codes, encoding)
    chosen = choosing.choose_correction(only_card(seen), encoding)
    light = seen.linear_rgb[24:] / chosen.reference_light
    lab = xyz_to_lab(predict(chosen.candidate.model, chosen.candidate.values[None], light)[0][0])
    sd = np.sqrt(np.diag(chosen.correction.lab_covariance()))
    good = seen.usable[24:] & (seen.trust[24:] == 1)
    missed = np.where(good, delta_e_2000(lab, TRUE_LAB), np.nan)
    inside = np.where(good[:, None], np.abs(lab - TRUE_LAB) <= NINE_IN_TEN * sd, np.nan)
    return chosen.correction.held_out_de2000, missed, inside, sd, chosen.candidate.model.name


def main() -> None:
    """Print both ways side by side."""
    rng, found = np.random.default_rng(8), {"JPEG": [], "linear": []}
    models: dict[str, int] = {}
    for _ in range(SCENES):
        scene = scene_at_random(rng)
        sensor = sensor_of(scene, rng)
        balanced = replace(scene, development=replace(scene.development, balance=(1.0, 1.0)))
        try:
            both = judged(*as_jpeg(scene, sensor)), judged(*as_raw(balanced, sensor))
        except CorrectionError:
            continue
        for name, one in zip(found, both, strict=True):
            found[name].append(one)
        models[both[1][4]] = models.get(both[1][4], 0) + 1
    for name, rows in found.items():
        stated = np.array([row[0] for row in rows])
        missed, inside = np.array([row[1] for row in rows]), np.array([row[2] for row in rows])
        print(f"{name}: {len(rows)} scenes, stated {stated.mean():.2f}, true {np.nanmean(missed):.2f} (hair "
              f"{np.nanmean(missed[:, :4]):.2f}), inside {np.nanmean(inside, axis=(0, 1)).round(2)}")  # fmt: skip
    print("models of linear files:", models)
    ratio = np.array([[a[0], b[0]] for a, b in zip(found["JPEG"], found["linear"], strict=True)])
    print(f"stated error of the JPEG over that of the linear file: median {np.median(ratio[:, 0] / ratio[:, 1]):.2f}, "
          f"nine in ten {np.percentile(ratio[:, 0] / ratio[:, 1], [5, 95]).round(2)}")  # fmt: skip


if __name__ == "__main__":
    main()
